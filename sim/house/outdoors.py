"""A layout through the winter: the supply follows the weather, and each room has more or less than it loses."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.house.drop import mean_excess
from sim.house.layout import OutdoorPoint
from sim.house.rooms import Rooms, RoomState
from sim.house.schemes import Scheme, levels
from sim.house.season import BinState, Climate, SeasonResult, season_of, stations
from sim.house.sources import Source, load_share, reset_supply
from sim.house.suitable import suits
from sim.house.supply import Supplies

if TYPE_CHECKING:
    from collections.abc import Mapping

_LEAST_DROP = 1e-3


@dataclass(frozen=True, slots=True)
class Winter:
    """A layout as far as the weather needs it: rooms, scheme, source, states of the rooms, supplies of the design day.
    """

    rooms: Rooms
    scheme: Scheme
    source: Source
    states: Mapping[int, RoomState]
    supplies: Supplies

    def supply(self, outdoor: float, number: int | None = None) -> float:
        """Supply of the house, or of a room by its number, at an outdoor temperature [K]."""
        rooms = self.rooms.house.rooms
        setting = rooms[self.supplies.setting_room].temperature
        found = reset_supply(
            outdoor,
            room=setting,
            design_supply=self.supplies.house if number is None else self.supplies.of(rooms[number]),
            design_outdoor=self.rooms.house.design.outdoor,
            limits=(setting, max(self.scheme.hottest, setting)),
        )
        assert found is not None
        return found


@dataclass(frozen=True, slots=True)
class _RoomNow:
    """A room at one outdoor temperature: wanted, output, heat taken and down [W]; return [K], and capacity [W/K] of
    what it takes of the source's water. Where water so cool goes down whole, the floor gives nothing: output 0."""

    wanted: float
    output: float
    heat: float
    down: float
    returning: float
    capacity: float


def outdoor_points(winter: Winter) -> tuple[OutdoorPoint, ...]:
    """The layout at every outdoor temperature of the file, coldest first; none from the shutdown on."""
    design = winter.rooms.house.design
    cold = (outdoor for outdoor in sorted(design.outdoors) if design.shutdown is None or outdoor < design.shutdown)
    return tuple(_point(winter, outdoor) for outdoor in cold)


def season(winter: Winter, climate: Climate) -> SeasonResult:
    """The layout through a heating season."""
    house, source = winter.rooms.house, winter.source
    points = [_point(winter, outdoor) for outdoor in stations(climate)]
    price = next((entry.price for entry in house.sources if entry.name == source.name), None)
    return season_of(source, climate, between_points(points, house.design.shutdown), price)


def _point(winter: Winter, outdoor: float) -> OutdoorPoint:
    house = winter.rooms.house
    supply = winter.supply(outdoor)
    now: dict[int, _RoomNow] = {}
    for level in levels(house):
        for number in level:
            now[number] = _room(winter, number, outdoor, now)
    heat = sum(room.heat for room in now.values())
    returning = _mixed(list(now.values()), supply)
    return OutdoorPoint(
        outdoor=outdoor,
        supply=supply,
        returning=returning,
        load=sum(room.wanted for room in now.values()),
        output=sum(room.output for room in now.values()),
        rooms=tuple((house.rooms[number].name, room.wanted, room.output) for number, room in sorted(now.items())),
        heat=heat,
        ratio=ratio_or_nan(winter.source, supply, outdoor, heat),
        findings=suits(winter.source, supply, returning, heat, outdoor) if heat > 0.0 and returning < supply else (),
    )


def _room(winter: Winter, number: int, outdoor: float, upper: Mapping[int, _RoomNow]) -> _RoomNow:
    """A room at one outdoor temperature: its flow stays, so its water falls by the same share as on the design day."""
    room, state = winter.rooms.house.rooms[number], winter.states[number]
    share = load_share(outdoor, room=room.temperature, design_outdoor=winter.rooms.house.design.outdoor)
    from_above = sum(upper[other].down for other in winter.rooms.above(number))
    wanted = max(0.0, state.need.load.total * share - from_above)
    supply, design = winter.supply(outdoor, number), winter.supplies.of(room) - room.temperature
    fall, middle = _shares(design, winter.scheme.drop)
    entering = max(0.0, supply - room.temperature)
    curve, area, mean = state.option.curve, state.need.area, middle * entering
    held = min(state.most, mean, curve.excess_for(min(wanted / area, curve.flux(curve.excess[-1]))))
    down, edge = curve.losses(held) if held > 0.0 else (0.0, 0.0)
    open_flux = curve.flux(mean) + (sum(curve.losses(mean)) if mean > 0.0 else 0.0)
    returning = supply - fall * entering
    return _RoomNow(
        wanted=wanted,
        output=max(0.0, curve.flux(min(mean, state.most))) * area,
        heat=(curve.flux(held) + down + edge) * area if held > 0.0 else 0.0,
        down=down * area,
        returning=returning,
        capacity=open_flux * area / max(winter.supply(outdoor) - returning, _LEAST_DROP),
    )


def _shares(design: float, drop: float) -> tuple[float, float]:
    """Fall and mean water above the room, as shares of the water's excess at the supply; 0 where it is too cool."""
    return (drop / design, mean_excess(design, drop) / design) if design > drop else (0.0, 0.0)


def _mixed(rooms: Sequence[_RoomNow], supply: float) -> float:
    """Temperature of the water of all rooms together [K], valves open."""
    flows = sum(room.capacity for room in rooms)
    return sum(room.capacity * room.returning for room in rooms) / flows if flows > 0.0 else supply


def ratio_or_nan(source: Source, supply: float, outdoor: float, load: float) -> float:
    """Efficiency or COP at a supply and outdoors [K] and a load [W]; NaN outside the source's table."""
    try:
        return source.ratio(supply, outdoor, load)
    except ValueError:
        return math.nan


def between_points(points: Iterable[OutdoorPoint], shutdown: float | None) -> Callable[[float], BinState | None]:
    """The house at any outdoor temperature [K], linear between points where it was looked at."""
    rows = sorted(
        (
            point.outdoor,
            point.supply,
            point.heat,
            sum(max(0.0, load - output) for _, load, output in point.rooms),
        )
        for point in points
    )
    at, supply, heat, unmet = (np.array(column) for column in zip(*rows, strict=True))

    def state(outdoor: float) -> BinState | None:
        if shutdown is not None and outdoor >= shutdown:
            return None
        return BinState(*(float(np.interp(outdoor, at, values)) for values in (supply, heat, unmet)))

    return state
