"""From the fields of a run and its case to a scene; nothing of it draws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sim.results.floor_camera import see_floor
from sim.results.last_state import LastState
from sim.results.people import Units
from viz.air_view import LEAST_SPAN, has_air, is_dimensionless, is_still
from viz.choice import Array, Box, Choice, FloorPlan, Outline, floor_plans, repeat_along
from viz.drawable import own_name
from viz.layout import headline_of
from viz.scales import WINDOW_ABOVE, WINDOW_BELOW
from viz.view.lines import FollowedAir, stream_lines
from viz.view.parts import OPENED_LENGTH, MovingAir, SeenFloor, Solid, StreamLine, Volume, WaterTube
from viz.view.scene import Scene

if TYPE_CHECKING:
    from sim.case.load import AnyCase

PEELED = {"sheathing": 0.44, "plate": 0.10, "insulation": 0.05, "rim": 0.5, "rim insulation": 0.5}
"""Where each kind of part begins in a scene cut open, as a share of `OPENED_LENGTH`; the others stand whole."""
COVERINGS = (0.66, 0.88)
"""The same of the lowest covering and of where the uppermost would end."""
ABOVE = ("covering", "rug")


def scene_of(state: LastState, units: Units = "si") -> Scene:
    """The scene of a state."""
    case = state.case
    choice = Choice(own_name(case, units), state.fields, state.report.as_dict(), case.title or case.name)
    return build_scene(choice, case, units=units, room=state.room, moment=state.moment, missing=state.missing)


def build_scene(
    choice: Choice,
    case: AnyCase | None,
    *,
    units: Units = "si",
    room: float | None = None,
    moment: str = "",
    missing: Sequence[str] = (),
) -> Scene:
    """The scene of a run.

    Parameters
    ----------
    choice : Choice
        Its fields, whole or, of a run in time without snapshots, the floor alone.
    case : the case that was solved
    room : temperature of the room at that moment [K]; that of the case when left out
    moment : which moment of a run in time this is, as a phrase
    missing : why layers are not there, a line each
    """
    plan, volume = _bodies(choice)
    solids = tuple(_solids(_uncovered(plan.outlines)))
    floor, air = _floor(choice, case, room), _air(choice, case)
    tubes = tuple(_tubes(choice, plan))
    return Scene(
        title=headline_of(choice),
        note=_note(choice, plan, moment),
        solids=solids,
        volume=volume,
        floor=floor,
        tubes=tubes,
        air=air,
        bounds=_bounds(solids, tubes, choice),
        units=units,
        scales=_scales(volume, solids, tubes, air),
        dimensionless=is_dimensionless(choice.fields),
        missing=tuple(missing),
    )


def _bodies(choice: Choice) -> tuple[FloorPlan, Volume | None]:
    """Outlines, with the cells behind them; a cut of one pitch is repeated by symmetry."""
    fields = choice.fields
    if "temperature" not in fields:
        return _outlines_alone(choice), None
    kelvin = np.asarray(fields["temperature"].values, dtype=float)
    plan = FloorPlan(choice.edges("x"), choice.edges("y"), kelvin, choice.outlines)
    if choice.is_pitch and plan.length < OPENED_LENGTH:
        plan = repeat_along(plan, OPENED_LENGTH)
    return plan, Volume(plan.x_edge, plan.y_edge, choice.edges("z"), plan.temperature)


def _outlines_alone(choice: Choice) -> FloorPlan:
    """The parts of a run that kept no cells: of air alone, or of a run in time without snapshots."""
    if "floor_temperature" in choice.fields:
        return floor_plans([choice])[0]
    return FloorPlan(choice.edges("air_x"), choice.edges("air_y"), np.empty(0), choice.outlines)


def _uncovered(outlines: Sequence[Outline]) -> list[Outline]:
    """Each part without what later ones paint over, where that leaves a box: two faces in one plane would flicker."""
    left = []
    for number, part in enumerate(outlines):
        for later in outlines[number + 1 :]:
            part = _without(part, later) if later.kind != "tube" else part
        if all(part.box[2 * k + 1] - part.box[2 * k] > 1e-9 for k in range(3)) or part.kind == "sheet":
            left.append(part)
    return left


def _without(part: Outline, later: Outline) -> Outline:
    """A part cut back along the one axis in which a later one, as large as it in the others, reaches over its end."""
    ends, over = np.reshape(part.box, (3, 2)), np.reshape(later.box, (3, 2))
    covers = (over[:, 0] <= ends[:, 0] + 1e-9) & (over[:, 1] >= ends[:, 1] - 1e-9)
    apart = (over[:, 0] >= ends[:, 1]) | (over[:, 1] <= ends[:, 0])
    if apart.any() or covers.sum() < 2:
        return part
    axis = 0 if covers.all() else int(np.argmin(covers))
    low, high = ends[axis]
    if over[axis, 0] <= low + 1e-9:
        ends[axis] = (min(over[axis, 1], high), high)
    elif over[axis, 1] >= high - 1e-9:
        ends[axis] = (low, over[axis, 0])
    x0, x1, y0, y1, z0, z1 = (float(v) for v in ends.ravel())
    return replace(part, box=(x0, x1, y0, y1, z0, z1))


def _solids(outlines: Sequence[Outline]) -> Iterator[Solid]:
    """Every part but tubes."""
    heights = sorted({o.box[4] for o in outlines if o.kind in ABOVE})
    steps = dict(zip(heights, np.linspace(*COVERINGS, len(heights) + 1).tolist(), strict=False))
    top = max((o.box[5] for o in outlines if o.kind == "covering"), default=None)
    for part in outlines:
        if part.kind == "tube":
            continue
        walked = part.kind == "rug" or (part.box[5] == top if top is not None else part.kind == "sheathing")
        peel = steps[part.box[4]] if part.kind in ABOVE else PEELED.get(part.kind, 0.0)
        yield Solid(part.label, part.kind, part.box, peel, walked and part.kind in ("sheathing", *ABOVE))


def _floor(choice: Choice, case: AnyCase | None, room: float | None) -> SeenFloor | None:
    """The floor of a bay through a thermal camera, on the fixed scale of its room."""
    bay = case.joist_bay if case is not None else None
    if "floor_temperature" not in choice.fields or bay is None:
        return None
    plan = floor_plans([choice])[0]
    seen = see_floor(bay, plan.x, plan.y, plan.temperature, room)
    coverings = tuple((one.material, one.emissivity, one.source) for one in seen.coverings)
    low, high = seen.room - WINDOW_BELOW, seen.room + WINDOW_ABOVE
    how = (seen.room, seen.reflected, seen.reflected_source, coverings, low, high)
    return SeenFloor(plan.x_edge, plan.y_edge, seen.surface, seen.apparent, *how)


def _tubes(choice: Choice, plan: FloorPlan) -> Iterator[WaterTube]:
    """Runs of tube in flow order; what a run kept of their water goes with them."""
    runs = [part for part in plan.outlines if part.kind == "tube"]
    names = sorted({part.name for part in runs})
    known = "water_temperature" in choice.fields
    for part in sorted(runs, key=lambda o: o.name):  # in a repeated cut a run has several pieces
        number = names.index(part.name)
        ends = np.reshape(part.box, (3, 2))
        axis = int(np.argmax(np.ptp(ends, axis=1)))
        start, end = ends.mean(axis=1), ends.mean(axis=1)
        start[axis], end[axis] = ends[axis]
        places, kelvin, onward = _water(choice, number, axis) if known else (ends[axis], np.full(2, np.nan), None)
        radius = float(np.ptp(ends[axis - 1])) / 2
        yield WaterTube(f"tube run {number + 1}", _point(start), _point(end), radius, places, kelvin, onward)


def _point(place: Array) -> tuple[float, float, float]:
    x, y, z = map(float, place)
    return x, y, z


def _water(choice: Choice, number: int, axis: int) -> tuple[Array, Array, bool | None]:
    """Places along a run, in rising order, its water there, and whether it flows that way.

    In a cut of one pitch the water is told by its mean: its fall over so short a piece says nothing of the circuit.
    """
    fields = choice.fields
    if number >= fields.sizes["run"]:
        return np.zeros(2), np.full(2, np.nan), None
    place, kelvin = (np.asarray(fields[name].values[number], float) for name in ("water_position", "water_temperature"))
    there = np.isfinite(kelvin)
    place, kelvin = place[there], kelvin[there]
    if choice.is_pitch:
        return np.array([0.0, OPENED_LENGTH]), np.full(2, kelvin.mean()), None
    onward = bool(place[-1] >= place[0])
    order = np.argsort(place)
    return place[order], kelvin[order], onward


def _air(choice: Choice, case: AnyCase | None) -> MovingAir:
    """Streamlines where there is computed air that moves, else why not."""
    if not has_air(choice.fields):
        model = case.air.model if case is not None else ""
        bay = case is not None and case.joist_bay
        asked = 'follow it with air.model = "resolved"' if bay else "this build-up has none"
        of = f' (air.model = "{model}")' if model else ""
        return MovingAir(why_none=f"The flow of the air was not computed in this run{of}; {asked}")
    ending = "_now" if "time" in choice.fields.attrs and "air_velocity_x_now" in choice.fields else ""
    flow = FollowedAir(choice, ending)
    which = "flow at the end" if ending else "mean flow"
    if is_still(choice, flow.fastest, float(np.ptp(choice.edges("air_z")))):
        return MovingAir(why_none="The computed air is at rest: it has no streamlines", which=which)
    lines = stream_lines(flow, choice.outlines)
    if choice.is_pitch:
        lines = tuple(_repeated(lines, float(np.ptp(choice.edges("y")))))
    return MovingAir(lines, flow.fastest, which)


def _repeated(lines: Sequence[StreamLine], pitch: float) -> Iterator[StreamLine]:
    """Lines of one pitch mirrored again and again, as its solids are."""
    for tile in range(max(1, int(np.ceil(OPENED_LENGTH / pitch - 1e-9)))):
        for line in lines:
            points = line.points.copy()
            points[:, 1] = tile * pitch + (pitch - points[:, 1] if tile % 2 else points[:, 1])
            if points[:, 1].max() <= OPENED_LENGTH + 1e-6:
                yield replace(line, points=points)


def _note(choice: Choice, plan: FloorPlan, moment: str) -> str:
    """One line on what is shown."""
    what = "a cut of one pitch, repeated by symmetry" if choice.is_pitch else ""
    return "; ".join(part for part in (moment, what) if part)


def _bounds(solids: Sequence[Solid], tubes: Sequence[WaterTube], choice: Choice) -> Box:
    """Of all solids and tubes, or of the air where there are none [m]."""
    ends = [np.reshape(solid.box, (3, 2)) for solid in solids]
    ends += [np.stack([tube.start, tube.end], axis=1) for tube in tubes]
    ends = ends or [np.array([choice.edges(f"air_{axis}")[[0, -1]] for axis in "xyz"])]
    low, high = np.min(ends, axis=(0, 2)), np.max(ends, axis=(0, 2))
    x0, x1, y0, y1, z0, z1 = (float(v) for pair in zip(low, high, strict=True) for v in pair)
    return x0, x1, y0, y1, z0, z1


def _scales(
    volume: Volume | None, solids: Sequence[Solid], tubes: Sequence[WaterTube], air: MovingAir
) -> dict[str, tuple[float, float]]:
    """Limits of each layer's colours [K]: plates and air share theirs, so that a plume is seen to leave its plate."""
    found: dict[str, list[Array]] = {"solids": [], "hot": [], "water": [tube.kelvin for tube in tubes]}
    if volume is not None:
        found["solids"] = [volume.kelvin]
        found["hot"] = [_within(volume, solid.box) for solid in solids if solid.kind in ("plate", "sheet")]
    found["hot"] += [line.kelvin for line in air.lines]
    return {layer: limits for layer, parts in found.items() if (limits := _limits(parts)) is not None}


def _limits(parts: Sequence[Array]) -> tuple[float, float] | None:
    """Lowest and highest value, at least `LEAST_SPAN` apart; None where there is none."""
    known = [part[np.isfinite(part)] for part in parts]
    known = [part for part in known if part.size]
    if not known:
        return None
    low, high = min(float(p.min()) for p in known), max(float(p.max()) for p in known)
    spare = max(0.0, LEAST_SPAN - (high - low)) / 2
    return low - spare, high + spare


def _within(volume: Volume, box: Box) -> Array:
    """Temperatures of the cells whose centres lie in a box."""
    parts = []
    for axis, edge in enumerate((volume.x_edge, volume.y_edge, volume.z_edge)):
        first, last = np.searchsorted((edge[1:] + edge[:-1]) / 2, box[2 * axis : 2 * axis + 2])
        parts.append(slice(int(first), int(last)))
    return volume.kelvin[tuple(parts)]
