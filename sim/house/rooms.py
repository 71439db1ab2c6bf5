"""Every room under every scheme: its plate spacing, the water that it needs, what it gives with less."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.bay_jobs import BayAnswer
from sim.house.bay_solver import BaySolver, flux_of
from sim.house.curve import EXCESSES, OutOfRangeError, fall_of, losses_of
from sim.house.drop import entering_excess, mean_excess
from sim.house.floor_limit import first_bound, floor_limits, within_limits
from sim.house.layout import RoomNeed
from sim.house.loads import Load
from sim.house.place import PlacedRoom
from sim.house.schemes import Option, Scheme, Trial, choose, levels, try_options

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.house_case import House


_TRIES, _LESS = 6, 0.997
"""How often a floor beyond its limit gets this share of its water."""


@dataclass(frozen=True, slots=True)
class RoomState:
    """A room under a scheme before the supply of the house is known.

    Attributes
    ----------
    need : RoomNeed
    option : Option
        The bay with the chosen spacing.
    trials : tuple of Trial
    excess : float [K]
        Mean water above the room when it is held at its temperature, or with the hottest water where that is not
        enough.
    report : mapping
        The bay's report there, solved.
    short : bool
        Whether the hottest water is not enough.
    limited : bool
        Whether a limit of its floor comes before its load; `excess` is then no more than that limit allows.
    most : float [K]
        Mean water above the room that its floor's limits allow; infinite unless `limited`.
    """

    need: RoomNeed
    option: Option
    trials: tuple[Trial, ...]
    excess: float
    report: Mapping[str, float]
    short: bool
    limited: bool = False
    most: float = math.inf

    @property
    def output(self) -> float:
        """Upward heat [W]."""
        return flux_of(self.report) * self.need.area if self.excess > 0.0 else 0.0

    @property
    def down(self) -> float:
        """Downward heat [W]."""
        return losses_of(self.report)[0] * self.need.area if self.excess > 0.0 else 0.0

    @property
    def edge(self) -> float:
        """Heat through the edges [W]."""
        return losses_of(self.report)[1] * self.need.area if self.excess > 0.0 else 0.0


@dataclass(slots=True)
class _Pending:
    """A room on its way to a state."""

    number: int
    scheme: Scheme
    need: RoomNeed
    trials: tuple[Trial, ...]
    option: Option
    excess: float = 0.0
    report: Mapping[str, float] = field(default_factory=dict)
    short: bool = False
    limited: bool = False
    most: float = math.inf


@dataclass(frozen=True, slots=True)
class Rooms:
    """The rooms of a house with their loads and the bays to choose from: `own` as written, `options` all spacings."""

    house: House
    placed: tuple[PlacedRoom, ...]
    loads: tuple[Load, ...]
    own: tuple[Option, ...]
    options: tuple[tuple[Option, ...], ...]

    def above(self, number: int) -> list[int]:
        """Rooms whose downward heat a room gets."""
        name = self.house.rooms[number].name
        return [other for other, room in enumerate(self.house.rooms) if room.below.room == name]


Caps = Mapping[int, float]
"""Supplies that are known already, by number of the room [K]."""


def solve_rooms(
    rooms: Rooms, wanted: Sequence[Scheme], solver: BaySolver, caps: Sequence[Caps] = ()
) -> list[dict[int, RoomState]]:
    """The state of every room under every scheme, from the top of the house down; the first scheme is as written.

    `caps` are the supplies of the schemes as far as they are known: a room whose floor's limit comes before its load
    is held at that water, or at its limit where that needs less.
    """
    states: list[dict[int, RoomState]] = [{} for _ in wanted]
    for level in levels(rooms.house):
        pending = [
            _begin(rooms, number, scheme, states[place], place == 0)
            for place, scheme in enumerate(wanted)
            for number in level
        ]
        _find_needs(pending, solver)
        for place, entry in enumerate(pending):
            known = caps[place // len(level)] if caps else {}
            _bind(entry, known.get(entry.number, math.inf))
        _fall_short([entry for entry in pending if entry.short], solver)
        _stay_within([entry for entry in pending if entry.limited and entry.excess > 0.0], solver)
        for index, entry in enumerate(pending):
            states[index // len(level)][entry.number] = _state(entry)
    return states


def _begin(
    rooms: Rooms, number: int, scheme: Scheme, upper: Mapping[int, RoomState], written: bool
) -> _Pending:
    """A room with its flux and its spacing."""
    room, placed = rooms.house.rooms[number], rooms.placed[number]
    from_above = sum(upper[other].down for other in rooms.above(number))
    flux = max(0.0, rooms.loads[number].total - from_above) / placed.area
    trials = try_options((rooms.own[number],) if written else rooms.options[number], flux, scheme)
    option = choose(trials).option
    need = RoomNeed(
        name=room.name,
        title=room.title or room.name,
        temperature=room.temperature,
        load=rooms.loads[number],
        from_above=from_above,
        area=placed.area,
        spacing=option.spacing,
        mean_water=room.temperature,
        supply=room.temperature,
        curve=option.curve,
    )
    return _Pending(number, scheme, need, trials, option)


def _find_needs(pending: Sequence[_Pending], solver: BaySolver) -> None:
    """The water that each room needs, by root finding from what its curve says."""
    heated = [entry for entry in pending if entry.need.flux > 0.0]
    wanted = [(entry.option.case, entry.need.flux, _guess(entry)) for entry in heated]
    for entry, answer in zip(heated, solver.needed(wanted), strict=True):
        _take_need(entry, answer)


def _guess(entry: _Pending) -> float:
    """The supply to begin with [K above the room]."""
    try:
        excess = entry.option.curve.excess_for(entry.need.flux)
    except OutOfRangeError:
        return EXCESSES[-1]
    return excess + fall_of(entry.option.curve.report(excess))


def _take_need(entry: _Pending, answer: BayAnswer) -> None:
    room, mean, supply = entry.need.temperature, math.nan, math.nan
    if answer.reports:
        entry.report = answer.reports[0]
        mean = entry.report["water_mean_C"] + ZERO_CELSIUS
        entry.excess = mean - room
        supply = room + entering_excess(entry.excess, entry.scheme.drop)
    entry.need = replace(entry.need, mean_water=mean, supply=supply, note=answer.note)
    entry.short = not supply <= entry.scheme.hottest


def _bind(entry: _Pending, supply: float) -> None:
    """Hold a room whose floor meets a limit before its load at a supply [K], were it cooler than that limit's.

    Hotter water would not give it its load within limits, so it is out of the vote also where its source is too cool.
    """
    if entry.report and within_limits(entry.option.case, entry.report) or not entry.need.flux > 0.0:
        return
    bound = first_bound(entry.option.curve, floor_limits(entry.option.case))
    if bound is None:
        return
    room, drop = entry.need.temperature, entry.scheme.drop
    asked = room + entering_excess(bound.excess, drop)
    flux = entry.option.curve.flux(bound.excess)
    entry.limited, entry.short, entry.most, entry.excess = True, False, bound.excess, bound.excess
    if not supply > room + drop:
        entry.excess, entry.report = 0.0, {}
    elif supply < asked:
        entry.excess = mean_excess(supply - room, drop)
    entry.need = replace(
        entry.need, limit=bound.limit.what, limit_supply=asked, limit_output=flux * entry.need.area
    )


def _stay_within(limited: Sequence[_Pending], solver: BaySolver) -> None:
    """What limited rooms give; a little less water where the solved bay is beyond what its curve said."""
    for _ in range(_TRIES):
        reports = solver.at([_at(entry) for entry in limited], "rooms at their floor's limit")
        for entry, report in zip(limited, reports, strict=True):
            entry.report = report
        limited = [entry for entry in limited if not within_limits(entry.option.case, entry.report)]
        for entry in limited:
            entry.excess *= _LESS
            entry.most = entry.excess
        if not limited:
            return


def _fall_short(short: Sequence[_Pending], solver: BaySolver) -> None:
    """What rooms give with the hottest water of their scheme."""
    for entry in short:
        entry.excess = mean_excess(entry.scheme.hottest - entry.need.temperature, entry.scheme.drop)
    reports = solver.at([_at(entry) for entry in short], "rooms with the hottest water")
    for entry, report in zip(short, reports, strict=True):
        entry.report = report


def _at(entry: _Pending) -> tuple[Case, float, float]:
    """A bay at the water of its room, and how far that falls in it by its curve [K]."""
    return entry.option.case, entry.excess, fall_of(entry.option.curve.report(entry.excess))


def _state(entry: _Pending) -> RoomState:
    return RoomState(
        need=entry.need,
        option=entry.option,
        trials=entry.trials,
        excess=entry.excess,
        report=entry.report,
        short=entry.short,
        limited=entry.limited,
        most=entry.most,
    )
