"""A layout through the winter: the supply follows the weather, and each room has more or less than it loses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.house.drop import mean_excess
from sim.house.plan import OutdoorPoint
from sim.house.rooms import Rooms, RoomState
from sim.house.schemes import Scheme, levels
from sim.house.sources import Source, load_share, reset_supply, suits

if TYPE_CHECKING:
    from collections.abc import Mapping

_LEAST_DROP = 1e-3


@dataclass(frozen=True, slots=True)
class Winter:
    """A layout as far as the weather needs it: rooms, scheme, source, supply of the design day [K], setting room."""

    rooms: Rooms
    scheme: Scheme
    source: Source
    states: Mapping[int, RoomState]
    supply: float
    bully: int


@dataclass(frozen=True, slots=True)
class _RoomNow:
    """A room at one outdoor temperature: wanted, output, heat taken and down [W]; return [K], capacity [W/K]."""

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


def _point(winter: Winter, outdoor: float) -> OutdoorPoint:
    house = winter.rooms.house
    setting = house.rooms[winter.bully].temperature
    supply = reset_supply(
        outdoor,
        room=setting,
        design_supply=winter.supply,
        design_outdoor=house.design.outdoor,
        limits=(setting, max(winter.scheme.hottest, setting)),
    )
    assert supply is not None
    now: dict[int, _RoomNow] = {}
    for level in levels(house):
        for number in level:
            now[number] = _room(winter, number, outdoor, supply, now)
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
        ratio=ratio_or_nan(winter.source, supply),
        findings=suits(winter.source, supply, returning, heat) if heat > 0.0 and returning < supply else (),
    )


def _room(winter: Winter, number: int, outdoor: float, supply: float, upper: Mapping[int, _RoomNow]) -> _RoomNow:
    """A room at one outdoor temperature: its flow stays, so its water falls by the same share as on the design day."""
    room, state = winter.rooms.house.rooms[number], winter.states[number]
    share = load_share(outdoor, room=room.temperature, design_outdoor=winter.rooms.house.design.outdoor)
    from_above = sum(upper[other].down for other in winter.rooms.above(number))
    wanted = max(0.0, state.need.load.total * share - from_above)
    design = winter.supply - room.temperature
    fall, middle = winter.scheme.drop / design, mean_excess(design, winter.scheme.drop) / design
    entering = max(0.0, supply - room.temperature)
    curve, area = state.option.curve, state.need.area
    output = curve.flux(middle * entering) * area
    held = min(middle * entering, curve.excess_for(min(wanted / area, curve.flux(curve.excess[-1]))))
    down, edge = curve.losses(held) if held > 0.0 else (0.0, 0.0)
    open_heat = output + (sum(curve.losses(middle * entering)) * area if entering > 0.0 else 0.0)
    return _RoomNow(
        wanted=wanted,
        output=output,
        heat=(curve.flux(held) + down + edge) * area if held > 0.0 else 0.0,
        down=down * area,
        returning=supply - fall * entering,
        capacity=open_heat / max(fall * entering, _LEAST_DROP),
    )


def _mixed(rooms: Sequence[_RoomNow], supply: float) -> float:
    """Temperature of the water of all rooms together [K], valves open."""
    flows = sum(room.capacity for room in rooms)
    return sum(room.capacity * room.returning for room in rooms) / flows if flows > 0.0 else supply


def ratio_or_nan(source: Source, supply: float) -> float:
    """Efficiency or COP at a supply [K]; NaN outside the source's table."""
    try:
        return source.ratio(supply)
    except ValueError:
        return math.nan
