"""A plate hung under a wood lid in three dimensions, in time, on several meshes: `python tests/tools/plate_in_time.py`.

A quarter of it between two planes of symmetry; means from half of the time on, in W of the quarter. A few minutes.
"""

from __future__ import annotations

import sys
from pathlib import Path

TEXT = """
kind = "blocks"
[[box]]
name = "lid"
x = ["150 mm", "300 mm"]
y = ["150 mm", "300 mm"]
z = ["0 mm", "20 mm"]
conductivity = "0.13 W/(m*K)"
density = "100 kg/m3"
specific_heat = "1600 J/(kg K)"
[[box]]
name = "air"
x = ["150 mm", "300 mm"]
y = ["150 mm", "300 mm"]
z = ["-150 mm", "0 mm"]
air = true
[[box]]
name = "plate"
x = ["150 mm", "210 mm"]
y = ["150 mm", "250 mm"]
z = ["-41.5 mm", "-40 mm"]
conductivity = "200 W/(m*K)"
density = "2700 kg/m3"
specific_heat = "900 J/(kg K)"
emissivity = 0.1
[[box]]
name = "rod"
x = ["150 mm", "158 mm"]
y = ["150 mm", "300 mm"]
z = ["-57.5 mm", "-41.5 mm"]
temperature = "45 degC"
[[face]]
name = "top"
on = "z+"
film = "9 W/(m^2*K)"
ambient = "20 degC"
[air]
model = "resolved"
companion = false
symmetry = ["x-", "y-"]
start_temperature = "35 degC"
average_from = "40 s"
{cells}
[time]
duration = "80 s"
start_temperature = "35 degC"
"""
CELLS = 'cell = "{} mm"\nwall_cell = "{} mm"'
MESHES = {
    "coarser": CELLS.format(10, 3.3),
    "default": "",
    "finer": CELLS.format(5.2, 1.7),
    "finest": CELLS.format(3.7, 1.2),
    "even": CELLS.format(4, 4),
}
NUMBERS = ("heat_flow_rod_W", "wall_plate_convective_W", "wall_lid_convective_W")


def main() -> None:
    """A line a mesh."""
    from sim.case.load import parse_case
    from sim.problems.blocks_in_time import follow_blocks

    for name, cells in MESHES.items():
        run = follow_blocks(parse_case(TEXT.format(cells=cells)))
        assert run.air is not None
        means = run.means()
        print(name, run.air.domain.shape, *(f"{means[f'mean_{key}']:.4f}" for key in NUMBERS), flush=True)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    main()
