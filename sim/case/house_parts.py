"""The sections of a house file: rooms with their loads and bays, manifolds, heat sources, variants; SI and kelvin."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from sim.case.conditions import Glycol, Supply
from sim.case.errors import Problem
from sim.case.fields import (
    NONE,
    Distance,
    Outdoors,
    Quantity,
    Temperature,
    TemperatureDifference,
    fill,
    given,
    key,
    refuse,
    refuse_section,
    worked_out,
)
from sim.case.layers import Layer
from sim.case.quantities import ZERO_CELSIUS
from sim.case.section import Section

HeatFlow = Annotated[float, Quantity("heat flow", at_least=0.0, at_most=1e6)]
Area = Annotated[float, Quantity("area", above=0.0, at_most=1e4)]
Volume = Annotated[float, Quantity("volume", above=0.0, at_most=1e5)]
Pressure = Annotated[float, Quantity("pressure", at_least=0.0, at_most=1e6)]
Transmittance = Annotated[float, Quantity("film coefficient", at_least=0.0, at_most=20.0)]
Rate = Annotated[float, Quantity("fraction", at_least=0.0, at_most=20.0)]
Place = Annotated[float, Quantity("distance", at_least=-1000.0, at_most=1000.0)]
Reach = Annotated[float, Quantity("distance", at_least=0.0, at_most=200.0)]
Spacing = Annotated[Annotated[float, Quantity("distance", above=0.0, at_most=50.0)] | None, NONE]
Name = Annotated[str, Field(min_length=1, max_length=24)]

OUTDOOR_POINTS = 5
"""How many outdoor temperatures are looked at when the file names none."""


class Design(Section):
    """The design day, the water and the circuits."""

    outdoor: Outdoors = key(..., "outdoor temperature of the design day")
    outdoors: tuple[Temperature, ...] = worked_out(
        "five, from the design day four fifths of the way to 20 °C", "outdoor temperatures that are looked at"
    )
    shutdown: Temperature | None = key(None, "outdoor temperature from which the heating is off")
    drop: TemperatureDifference = key(5.6, "how much cooler the water comes back from a circuit on the design day")
    glycol: Glycol = key(0.0, "mass share of propylene glycol")
    water_limit: Supply = key(
        ZERO_CELSIUS + (160.0 - 32.0) / 1.8,
        "hottest water to the floor; 160 °F under wood is the guideline of a trade association",
    )
    circuit_limit: Distance = worked_out(
        "by the tube's nominal size: 90 m for 1/2", "longest circuit, leaders included"
    )
    upstream: Pressure = key(9000.0, "head lost between pump and manifold: mixing valve, heat exchanger, mains")
    valve_kvs: Annotated[float, Quantity("fraction", above=0.0, at_most=100.0)] | None = key(
        None, "flow coefficient of an open balancing valve, m3/h at 1 bar; its loss and its setting are then given"
    )
    spacings: tuple[Spacing, ...] = worked_out(
        "1.125, 1.5, 2.25 and 3 plate lengths, and none", "plate spacings that the layouts choose from"
    )
    coils: tuple[Distance, ...] = worked_out("100, 300, 500 and 1000 ft", "lengths of coils of tube that can be bought")
    static_height: Reach = key(5.0, "highest water above the expansion vessel")
    other_volume: Volume | None = key(None, "water in source, buffer and mains, beside that of the circuits")
    north: Annotated[float, Field(ge=-360.0, le=360.0)] | None = key(
        None, "where north is on the plan, in degrees clockwise from the way of rising y; left out: not drawn"
    )
    profiles: str | None = key(None, "file of heat sources in place of the shipped ones, beside this file")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if not given(self, "outdoors"):
            step = (ZERO_CELSIUS + 20.0 - self.outdoor) / OUTDOOR_POINTS
            fill(self, outdoors=tuple(round(self.outdoor + step * number, 6) for number in range(OUTDOOR_POINTS)))
        return self


class HeatSource(Section):
    """A heat source that the house is laid out for."""

    name: str = key(..., "name of its profile")
    supply: Supply | None = key(
        None, "hottest supply wanted from it on the design day; left out: all that its profile and limits allow"
    )
    drop: TemperatureDifference | None = key(None, "how much cooler the water comes back with this source")
    price: Annotated[float, Field(ge=0.0, allow_inf_nan=False)] | None = key(
        None, "price of a kilowatt-hour of its fuel or electricity, in any currency"
    )


class Season(Section):
    """The heating season for which energy is summed."""

    climate: Literal["average", "colder"] | None = worked_out(
        '"colder" below a design day of -14 °C, else "average"', "hours by outdoor temperature, as of EN 14825"
    )
    bins: str | None = key(None, "CSV file with the columns outdoor_C and hours in their place, beside this file")


def _a_unit(value: Any, info: ValidationInfo) -> Any:
    """A price as a number of the currency for a metre, a square metre or a piece; "0.45 per ft" is turned to that."""
    if not isinstance(value, str):
        return value
    number, _, unit = value.partition(" per ")
    units = PRICED_BY.get(str(info.field_name), {"piece": 1.0})
    try:
        return float(number) * units[unit.strip()]
    except (KeyError, ValueError):
        refuse("not a price", "write a number, or e.g. " + ", ".join(f'"1.50 per {one}"' for one in units))


PRICED_BY = {"tube": {"m": 1.0, "ft": 1.0 / 0.3048}, "insulation": {"m^2": 1.0, "ft^2": 1.0 / 0.3048**2}}
"""What a price for one of these is multiplied with to be one for a metre or a square metre; the rest are pieces."""

Price = Annotated[float, BeforeValidator(_a_unit), Field(ge=0.0, le=1e6)]


class Prices(Section):
    """Prices of material in any currency; what is left out is not counted."""

    tube: Price | None = key(None, "of a metre of tube, waste included in the count")
    plates: Price | None = key(None, "of a plate")
    fasteners: Price | None = key(None, "of a fastener for plates")
    hangers: Price | None = key(None, "of a hanger for plates")
    clips: Price | None = key(None, "of a clip for free tube")
    insulation: Price | None = key(None, "of a square metre of insulation between joists")
    rim_pieces: Price | None = key(None, "of a rim piece")
    ports: Price | None = key(None, "of a port of a manifold, supply or return")
    actuators: Price | None = key(None, "of a valve actuator")
    thermostats: Price | None = key(None, "of a room thermostat")


class ManifoldPlace(Section):
    """A manifold and where it hangs."""

    name: Name = key(..., "short name")
    storey: str = key("ground", "the storey that it feeds")
    x: Place = key(0.0, "place in the plan")
    y: Place = key(0.0, "place in the plan")
    riser: Reach = key(0.0, "length of tube from the manifold up or down to the joists, one way")
    mixes: bool = key(False, "whether a mixing valve of its own gives it no hotter water than its rooms ask for")


class EnvelopePart(Section):
    """A part of a room's envelope that loses heat."""

    name: str = key("", "what it is, for people")
    area: Area = key(..., "its area")
    u_value: Transmittance = key(..., "its thermal transmittance")
    temperature: Temperature | None = key(None, "what is behind it; left out: outdoors")


class Losses(Section):
    """The heat loss of a room as a steady sum in the manner of EN 12831."""

    surfaces: tuple[EnvelopePart, ...] = key((), "walls, windows, roof; not the heated floor", alias="surface")
    thermal_bridges: Transmittance = key(0.0, "added to every transmittance for thermal bridges")
    air_changes: Rate = key(0.0, "outdoor air, changes an hour")
    volume: Volume | None = key(None, "air in the room")
    extra: HeatFlow = key(0.0, "allowance for heating up after a setback")

    @model_validator(mode="after")
    def _belong_together(self) -> Self:
        problems = []
        if self.air_changes > 0.0 and self.volume is None:
            problems.append(Problem("volume", "", "missing; air_changes needs it", 'write e.g. "40 m^3"'))
        if self.air_changes == 0.0 and self.volume is not None:
            problems.append(Problem("volume", f"{self.volume:g} m3", "only air_changes uses it", "give air_changes"))
        if self.thermal_bridges > 0.0 and not self.surfaces:
            shown, way_out = f"{self.thermal_bridges:g} W/(m2 K)", "write at least one [[room.losses.surface]]"
            rule = "is added to the transmittance of surfaces; none is given"
            problems.append(Problem("thermal_bridges", shown, rule, way_out))
        refuse_section(problems)
        return self


class RoomBelow(Section):
    """What lies under a room's bays."""

    kind: Literal["heated room", "unheated space", "outdoors"] = key("heated room", "what lies below")
    room: str | None = key(None, "the room of this house that lies below and gets the downward heat")
    temperature: Temperature | None = key(None, "air temperature below; left out: that of the room below")


class BayGroup(Section):
    """Equal bays side by side."""

    name: str = key("", "begins the names of its bays, when a room has several groups")
    count: Annotated[int, Field(ge=1, le=200)] = key(..., "number of bays")
    x: Place = key(..., "lowest x of the group in the plan")
    y: Place = key(..., "lowest y of the group in the plan")
    along: Literal["x", "y"] = key(..., "way the joists run")
    length: Distance = key(..., "length of a bay along the joists")
    entry: Literal["low", "high"] | None = worked_out(
        "the end nearer to the manifold", "the end at which the tube enters, by its x or y"
    )


class Blocked(Section):
    """A stretch of bays without plates."""

    bays: tuple[str, ...] = key(..., "names of the bays")
    start: Reach = key(..., "beginning, along the bay from its low end", alias="from")
    end: Reach = key(..., "end", alias="to")
    why: str = key(..., "what is in the way: blocking, duct, cabinet, ...")
    passes: bool = key(True, "whether tube can pass; false: it blocks the joist space, and the bay ends there")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.end <= self.start:
            refuse_section([Problem("to", f"{self.end:g} m", f"must be greater than from, {self.start:g} m")])
        return self


class HeatedRoom(Section):
    """A room that is heated from its joist bays."""

    name: Name = key(..., "short name, such as R1")
    title: str = key("", "name for people")
    storey: str = key("ground", "rooms of one storey share a plan")
    temperature: Temperature = key(ZERO_CELSIUS + 20.0, "room temperature")
    load: HeatFlow | None = key(None, "heat loss on the design day, upward only; instead of losses")
    losses: Losses | None = key(None, "what the heat loss is computed from")
    active_area: Area | None = key(
        None, "floor that can be heated, without cabinets, tub, hearth; where given, the bays must heat so much"
    )
    manifold: str = worked_out("the one on its storey", "name of the manifold that feeds it")
    case: str | None = key(None, "file of the bay's case, beside this file; left out: a bay of defaults")
    sets_water: bool | None = worked_out(
        "unless its floor cannot give its load within limits", "whether the room may set the water of the house"
    )
    change: dict[str, Any] = key({}, 'other values for that case, such as "plates.spacing" = "300 mm"')
    coverings: tuple[Layer, ...] = key(
        (), "floor covering in place of the case's, the topmost layer first", alias="covering"
    )
    below: RoomBelow = Field(default_factory=RoomBelow, description="what lies under the bays")
    x: Place | None = worked_out("around its bays", "lowest x of the room in the plan")
    y: Place | None = worked_out("around its bays", "lowest y of the room in the plan")
    width: Distance | None = worked_out("around its bays", "size of the room along x")
    depth: Distance | None = worked_out("around its bays", "size of the room along y")
    bays: tuple[BayGroup, ...] = key((), "groups of bays")
    blocked: tuple[Blocked, ...] = key((), "stretches without plates")


class Variant(Section):
    """The whole house with other bays, to be put beside it."""

    name: Name = key(..., "short name")
    title: str = key("", "one line for people")
    change: dict[str, Any] = key(..., 'values for the bay of every room, such as "plates.position" = "hung"')
