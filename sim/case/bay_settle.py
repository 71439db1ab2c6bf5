"""Fill in the keys of a bay case that follow from other sections, such as run positions and tube depth."""

from __future__ import annotations

from sim.case.bay_keys import BayKeys
from sim.case.bay_parts import Floor, HeatingTube, Plates, Rug
from sim.case.bay_time_rules import settle_time, usual_control
from sim.case.conditions import FILMS_BELOW, Below
from sim.case.fields import fill, given

HOLE_COVER = 0.0508
"""Least timber above a bored hole [m]: 2 in, IRC R502.8.1."""


def settle_bay(case: BayKeys) -> None:
    """Complete the sections of a case in place while it is being checked."""
    plates = _plates(case)
    fill(case, plates=plates, floor=_floor(case), below=_below(case))
    fill(case, tube=_tube(case))
    settle_time(case)


def usual_values(case: BayKeys) -> dict[str, float]:
    """Keys that follow from others when left out and may be without use, with the values that they then get."""
    room, control = case.room.temperature, usual_control(case, case.time.start_temperature)
    usual = {"time.start_temperature": room, "tube.depth": _depth(case), "below.temperature": room}
    usual["below.film"] = FILMS_BELOW[case.below.kind]
    return usual | {f"control.{name}": value for name, value in control.items()}


def _plates(case: BayKeys) -> Plates | None:
    """Across the joists every bay holds one plate for each run, so their spacing is that of the joists."""
    plates = case.plates
    if (
        plates is None
        or case.tube.direction == "along"
        or given(plates, "spacing")
        or given(plates, "coverage")
    ):
        return plates
    plates = plates.model_copy()
    spacing = case.bay.joist_spacing
    fill(plates, spacing=spacing, coverage=min(plates.length / spacing, 1.0))
    return plates


def _floor(case: BayKeys) -> Floor:
    if not case.floor.rugs:
        return case.floor
    floor = case.floor.model_copy()
    fill(floor, rugs=tuple(_rug(case, rug) for rug in floor.rugs))
    return floor


def _rug(case: BayKeys, rug: Rug) -> Rug:
    rug = rug.model_copy()
    whole = {"x": (0.0, case.bay.joist_spacing), "y": (0.0, case.bay.length)}
    fill(rug, **{axis: ends for axis, ends in whole.items() if not given(rug, axis)})
    return rug


def _below(case: BayKeys) -> Below:
    below = case.below
    if given(below, "temperature") or below.kind not in ("heated room", "adiabatic"):
        return below
    below = below.model_copy()
    fill(below, temperature=case.room.temperature)
    return below


def _tube(case: BayKeys) -> HeatingTube:
    tube = case.tube.model_copy()
    if not given(tube, "positions"):
        fill(tube, positions=even_positions(case) if tube.direction == "along" else ())
    if not given(tube, "depth"):
        fill(tube, depth=_depth(case))
    return tube


def even_positions(case: BayKeys) -> tuple[float, ...]:
    """Runs in the middle of equal shares of the clear width [m], to the nanometre so that they read well."""
    share = case.bay.clear_width / case.tube.runs
    return tuple(round(case.bay.timber_width / 2 + share * (run + 0.5), 9) for run in range(case.tube.runs))


def _depth(case: BayKeys) -> float:
    """Depth of the tube's top [m] when the user gives none."""
    plates, tube = case.plates, case.tube
    if plates is not None and plates.hung:
        return max(tube_top(plates, tube), 0.0)
    if tube.direction == "across":
        return HOLE_COVER + max(tube.hole_diameter - tube.outer_diameter, 0.0) / 2
    return 0.0


def tube_top(plates: Plates, tube: HeatingTube) -> float:
    """Depth of the top of a tube that a plate carries [m]; negative when it does not fit."""
    below, inside = plates.drop + plates.height, plates.drop + (plates.height - tube.outer_diameter) / 2
    return {"below": below, "in": inside, "above": plates.drop - tube.outer_diameter}[tube.placement]
