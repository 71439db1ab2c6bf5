"""What ± of computed air holds and leaves out, in one place for terminal and page; and what makes it smaller."""

from __future__ import annotations

from collections.abc import Mapping

from sim.resolved.pattern import pattern_words
from sim.results.people import BAND, MESH, SCATTER

AMONG_SOLIDS = (
    "± (about 95 %) holds the chance in the air's means, what the air's cells leave open and the scatter of traced "
    "rays. Left out: another pattern of flow that could last as well (where several did, their heat lay 4 to 8 % "
    "apart), the solids' cells (unless --uncertainty solved on three meshes), the laws at outer surfaces, the inputs, "
    "and the flow's own equations: properties at the air's mean temperature, eddies finer than a cell by a model or "
    "not at all."
)
"""Of a bay or blocks with computed air."""

ALONE = (
    "± on heat flows and Nusselt numbers (about 95 %) {holds}; speeds, temperatures and places have none. Left out: "
    "another pattern of flow that could last as well, the inputs and the flow's own equations, with properties that do "
    "not change with temperature."
)
"""Of air alone."""

STEADY = "is what the mesh leaves open (the flow is steady: no chance is in it)"
UNSTEADY = "holds the chance in the means over time and what the mesh leaves open"

NOTHING = 1e-9
"""Half widths below this are rounding."""

NOTEWORTHY = 0.01
"""Share of a number below which nobody asks for a smaller ± [-]."""

WORD, CELLS = "the next finer mesh.fineness", "air.cell and air.wall_cell 0.7 times as large"
LONGER = "half of it takes four times the time (half of air.error; a longer air.longest where that ended the run)"


def covered_among_solids(report: Mapping[str, float | None], stated_cells: bool = False) -> list[str]:
    """What ± holds, and what makes most of it smaller, a sentence or two each; nothing of a report without bands.

    Parameters
    ----------
    stated_cells : whether the case states its air's cells, which the words of the mesh then leave as they are.

    Examples
    --------
    >>> flux = {"heat_flux_up_W_m2": 50.0, "heat_flux_up_W_m2_uncertainty": 3.0}
    >>> flux |= {"heat_flux_up_W_m2_mesh_error": 2.9, "heat_flux_up_W_m2_standard_error": 0.2}
    >>> covered_among_solids(flux)[1]
    'Of heat flux up most of ± is the mesh: the next finer mesh.fineness about halves it, for some four times the time.'
    """
    banded = [key.removesuffix(BAND) for key in report if key.endswith(BAND)]
    return [AMONG_SOLIDS, *_pattern(report), *_smaller(report, banded, stated_cells)] if banded else []


def _pattern(report: Mapping[str, float | None]) -> list[str]:
    """That the flow rises in another number of plumes on the larger cells that were computed too, where it does."""
    counts = [report.get(key) for key in ("air_plumes_coarser", "air_plumes_middle", "air_plumes")]
    told = pattern_words([int(count) for count in counts if count is not None])
    return [f"{told}."] if told else []


def covered_alone(report: Mapping[str, float | None]) -> list[str]:
    """The same of air alone."""
    if not any(key.endswith(BAND) for key in report):
        return []
    chance = any(float(report.get(key) or 0.0) > NOTHING for key in report if key.endswith(SCATTER))
    return [ALONE.format(holds=UNSTEADY if chance else STEADY)]


def _smaller(report: Mapping[str, float | None], banded: list[str], stated_cells: bool) -> list[str]:
    """What most of ± is of the largest heat flow, and the way to less; nothing where it is small."""
    flows = [key for key in banded if key.startswith("heat_flux_up")] or [
        key for key in banded if key.startswith("heat_flow_")
    ]
    key = max(flows, key=lambda one: abs(float(report[one] or 0.0)), default="")
    if not key or float(report[key + BAND] or 0.0) < NOTEWORTHY * abs(float(report[key] or 0.0)):
        return []
    mesh, chance = float(report.get(key + MESH) or 0.0), 2.0 * float(report.get(key + SCATTER) or 0.0)
    finer = f"{CELLS if stated_cells else WORD} about halves it, for some four times the time"
    what, way = ("the mesh", finer) if mesh > chance else ("chance", LONGER)
    name = key.removesuffix("_W_m2").removesuffix("_W").replace("_", " ")
    return [f"Of {name} most of ± is {what}: {way}."]
