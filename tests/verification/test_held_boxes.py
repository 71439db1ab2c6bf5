"""Boxes of one temperature, and boxes that let no heat through, among conducting and radiating solids."""

import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from numpy.testing import assert_allclose

import sim
from sim.case.load import parse_case
from sim.resolved.march import _supplied

FOLDER = Path(__file__).parents[2] / "cases" / "verification" / "radiating-cavity-1e5"

HELD = """
kind = "blocks"
[[box]]
name = "core"
x = ["0 m", "0.1 m"]
y = ["0 m", "1 m"]
z = ["0 m", "0.1 m"]
temperature = "40 degC"
[[box]]
name = "wall"
x = ["0.1 m", "0.3 m"]
y = ["0 m", "1 m"]
z = ["0 m", "0.1 m"]
conductivity = "0.5 W/(m*K)"
[[box]]
name = "lid"
x = ["0.3 m", "0.35 m"]
y = ["0 m", "1 m"]
z = ["0.05 m", "0.1 m"]
insulating = true
[[face]]
name = "open"
on = "x+"
at = "0.3 m"
z = ["0 m", "0.05 m"]
film = "10 W/(m^2*K)"
ambient = "20 degC"
[mesh]
fineness = "fine"
"""


def test_a_held_box_gives_what_leaves_and_nothing_passes_an_insulating_one():
    report = sim.solve(parse_case(HELD)).report
    given, left = report["heat_flow_core_W"], report["heat_flow_open_W"]
    assert_allclose(given, left, rtol=1e-6)
    # less than through a wall as wide as it is with the film on half of it, more than through half a wall
    wide, narrow = (20.0 / (0.2 / (0.5 * width) + 1.0 / (10.0 * 0.05)) for width in (0.1, 0.05))
    assert narrow < left < wide


SLAB = """
[[box]]
name = "{}"
x = ["{} m", "{} m"]
y = ["0 m", "1 m"]
z = ["{} m", "{} m"]
{}
emissivity = 0.8
"""
SIDE, THICK = 0.0459395, 0.0009188
SLABS = (
    ("hot side", -THICK, 0.0, 0.0, SIDE, 'temperature = "298.5 K"'),
    ("cold side", SIDE, SIDE + THICK, 0.0, SIDE, 'temperature = "288.5 K"'),
    ("floor", 0.0, SIDE, -THICK, 0.0, "insulating = true"),
    ("lid", 0.0, SIDE, SIDE, SIDE + THICK, "insulating = true"),
)


def by_boxes(text):
    """Slabs that are held, or closed to heat, in place of the folder's faces on the air itself."""
    return re.sub(r"\[\[face\]\].*?emissivity = 0.8\n", "", text, flags=re.DOTALL) + "".join(
        SLAB.format(*slab) for slab in SLABS
    )


def by_faces(text):
    """As the folder has it."""
    return text


@pytest.mark.parametrize(("walls", "sign"), [(by_boxes, 1.0), (by_faces, -1.0)])
@pytest.mark.parametrize(
    ("cell", "wall_cell", "error", "convective", "total"),
    [
        pytest.param("2.19 mm", "0.656 mm", 0.003, 0.015, 0.012, marks=pytest.mark.slow, id="fine"),
        pytest.param("4 mm", "1.5 mm", 0.01, 0.05, 0.03, id="coarse"),
    ],
)
def test_isothermal_and_adiabatic_walls_that_radiate_need_no_slabs_that_conduct(
    walls, sign, cell, wall_cell, error, convective, total
):
    """The radiating square of its folder, its walls faces or slabs that nothing is computed in; spectral solution.

    Cells of twice the size are off by some four times as much where air flows. Heat is told into a box, out of a face.
    """
    text = walls((FOLDER / "case.toml").read_text("utf-8"))
    text = text.replace('"0.656 mm"', f'"{wall_cell}"').replace('"2.19 mm"', f'"{cell}"')
    case = parse_case(text.replace("error = 0.001", f"error = {error}"))
    assert not case.air_alone
    result = sim.solve(case)
    report = result.report
    given = ("from hot side", "from cold side") if sign > 0.0 else ("hot side", "cold side", "floor", "lid")
    assert set(result.air.evidence.error) == set(given)
    assert abs(report["air_imbalance_percent"]) < 1.0
    assert_allclose(report["wall_hot_side_convective_W"], 1.08366, rtol=convective)
    assert_allclose(report["wall_hot_side_radiant_W"], 1.32592, rtol=0.01)
    assert_allclose(sign * report["heat_flow_hot_side_W"], 1.08366 + 1.32592, rtol=total)
    assert sign > 0.0 or report["heat_flow_floor_W"] == report["heat_flow_lid_W"] == 0.0
    assert_allclose(report["wall_lid_convective_W"], -report["wall_lid_radiant_W"], rtol=1e-3)


def test_heat_put_in_by_hand():
    """What bodies give and what comes in by paths, which are told outwards; what others take does not count."""
    flows = {"up": -3.0, "down": 2.0, "from plate": 4.0, "from sink": -3.0}
    assert _supplied(SimpleNamespace(flows=flows)) == 3.0 + 4.0
    assert _supplied(SimpleNamespace(flows={"up": 8.0, "down": 1.0, "water": 9.0})) == 9.0
