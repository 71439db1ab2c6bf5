"""Where a solution that did not settle is farthest from balance: the cell in mm and the part it belongs to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from sim.bay.cells import Cells
from sim.solver.newton import DivergedError
from sim.solver.steady import Solution
from sim.solver.system import System


def worst_place(solution: Solution, cells: Cells) -> str:
    """The largest heat left over and where it lies, in words.

    Returns
    -------
    Such as "0.021 W of 7.6 W are left over at 203, 114, 236 mm (across, along, up), in plate 1.1"; for the air of a
    zone or the radiation of a patch of walls, which have no single cell, the zone's name or the patch's first wall.
    """
    flows = solution.flows
    parts = {"cell": flows.cells, "zone": flows.zones, "patch": flows.patches}
    kind = max(parts, key=lambda name: float(np.abs(parts[name]).max(initial=0.0)))
    number = int(np.abs(parts[kind]).argmax())
    heat = abs(float(parts[kind][number]))
    where = _where(solution.system, cells, kind, number)
    return f"{heat:.2g} W of {flows.balance.heat_in:.3g} W are left over {where}"


@contextmanager
def placed(name: str, system: System, cells: Cells) -> Iterator[None]:
    """Round a solve of the case `name`: a DivergedError names its place in mm and its part."""
    try:
        yield
    except DivergedError as error:
        where = _where(system, cells, error.part, error.number)
        said = f"{name}: {error}, {where}; another mesh.fineness or a change of that part may settle it"
        raise DivergedError(said, error.part, error.number) from error


def _where(system: System, cells: Cells, part: str, number: int) -> str:
    """A cell, zone or patch by its number, in words that begin with "at" or "in"."""
    if part == "zone":
        return f"in the air zone {cells.zone_names[number]}"
    return _cell(cells, number) if part == "cell" else _patch(system, cells, number)


def _cell(cells: Cells, number: int) -> str:
    index = tuple(int(i) for i in np.unravel_index(number, cells.body.shape))
    edges = (cells.grid.x, cells.grid.y, cells.grid.z)
    middle = (500.0 * (edge[i] + edge[i + 1]) for edge, i in zip(edges, index, strict=True))
    place = ", ".join(f"{value:.0f}" for value in middle)
    body = int(cells.body[index])
    return f"at {place} mm (across, along, up), in {cells.bodies[body].name if body >= 0 else 'no part'}"


def _patch(system: System, cells: Cells, number: int) -> str:
    cavity = system.cavity
    assert cavity is not None
    face = int(np.flatnonzero(cavity.walls.patch == number)[0])
    place = ", ".join(f"{1e3 * value:.0f}" for value in cavity.centre[face])
    return f"in the radiation at {place} mm (across, along, up), on {cells.bodies[int(cavity.body[face])].name}"
