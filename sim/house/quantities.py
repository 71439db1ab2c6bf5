"""What a house takes: tube, plates and what holds them, insulation, rim pieces, holes; by room and in all.

Counts follow from the bays as placed and the circuits as split. What is assumed is said beside every item; assumptions
without a source are marked so. What it costs is in `sim.house.prices`; no maker's packing
is rounded to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from sim.case.quantities import format_value
from sim.house.circuits import Circuit
from sim.house.coils import WASTE
from sim.house.place import plates_in
from sim.house.placed import PlacedBay, crossings
from sim.house.rim import AT_THE_RIM, rim_ends
from sim.house.room_shape import storey_parts
from sim.results.people import UNITS, Units

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.house.layout import RoomResult, SolvedHouse, SourceLayout

FASTENED_EVERY = 0.1
"""Along both edges of a plate that is fastened, ends included [m]: common practice, no source."""

HANGERS = 2
"""For a hung plate, one near each end: common practice, no source."""

HELD_EVERY = 0.8
"""Tube that no plate holds has one clip every so many metres: 32 in, plumbing codes (from memory)."""

BLOCKING = 0.15
"""A stretch no longer than this [m] that tube passes is blocking, bored once for every run."""


@dataclass(frozen=True, slots=True)
class Amounts:
    """Amounts of everything, for a room or for all.

    Attributes
    ----------
    tube : float [m]
        Laid, leaders included.
    leaders : float [m]
        Part of `tube` between manifold and bays.
    plates : int
    fasteners : int
        For plates that lie against the sheathing.
    hangers : int
        For plates that hang.
    clips : int
        For tube that no plate holds, leaders included.
    insulation : float [m²]
        Between the joists, over the whole length of the bays; none where they are written without.
    rim_pieces : int
        Ends of bays at an outer side of the plan, to be insulated.
    rim_area : float [m²]
        Of those pieces.
    holes : int
        Bored in joists and blocking.
    ports : int
        Of manifolds: supply and return for every circuit.
    actuators : int
        One a circuit.
    thermostats : int
        One a room.
    """

    tube: float
    leaders: float
    plates: int
    fasteners: int
    hangers: int
    clips: int
    insulation: float
    rim_pieces: int
    rim_area: float
    holes: int
    ports: int
    actuators: int
    thermostats: int

    @property
    def tube_to_buy(self) -> float:
        """Tube with its waste [m]."""
        return self.tube * (1.0 + WASTE)

    def __add__(self, other: Amounts) -> Amounts:
        sums = {field.name: getattr(self, field.name) + getattr(other, field.name) for field in fields(self)}
        return Amounts(**sums)

    def as_dict(self) -> dict[str, float]:
        """By item, with units in the names."""
        return {item.key: item.of(self) for item in ITEMS}


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list: its key (unit as suffix, counts without), its name, its attribute, what is assumed.

    `assumed` has a place {} for a length [m] where it names one.
    """

    key: str
    name: str
    attribute: str
    assumed: str
    length: float = 0.0

    @property
    def basis(self) -> str:
        """What is assumed, in SI units."""
        return self.how("si")

    def how(self, units: Units) -> str:
        """What is assumed, in a reader's units."""
        return self.assumed.format(format_value(self.length, "length", units.upper()))

    def of(self, amounts: Amounts) -> float:
        """Its amount, in the unit of its key."""
        return float(getattr(amounts, self.attribute))


ITEMS = (
    Item("tube_m", "tube, laid", "tube", "circuits as split, bends, ways to the next bay and leaders included"),
    Item("leaders_m", "of this, leaders", "leaders", "from the manifold along the walls, riser included"),
    Item("tube_to_buy_m", "tube, with waste", "tube_to_buy", f"{WASTE:.0%} more; common practice, no source"),
    Item("plates", "plates", "plates", "as many as fit into the free lengths of each run"),
    Item("fasteners", "fasteners for plates", "fasteners",
         "every {} along both edges; common practice, no source", FASTENED_EVERY),
    Item("hangers", "hangers for plates", "hangers", f"{HANGERS} a plate; common practice, no source"),
    Item("clips", "clips for free tube", "clips", "one every {}; plumbing codes (from memory)", HELD_EVERY),
    Item("insulation_m2", "insulation between joists", "insulation",
         "whole bays of those written with it, joists left out, no waste"),
    Item("rim_pieces", "rim pieces", "rim_pieces",
         "bays that end within {} of their room's side, no floor of the file beyond", AT_THE_RIM),
    Item("rim_m2", "rim pieces, area", "rim_area", "clear width times joist depth"),
    Item("holes", "bored holes", "holes", "from bay to bay and through blocking; ways to the manifold come on top"),
    Item("ports", "manifold ports", "ports", "supply and return for every circuit"),
    Item("actuators", "valve actuators", "actuators", "one a circuit; common practice, no source"),
    Item("thermostats", "room thermostats", "thermostats", "one a room; common practice, no source"),
)
"""Everything that is counted, in the order of the list."""


@dataclass(frozen=True, slots=True)
class Quantities:
    """What a layout takes: amounts by room name, in the order of the rooms."""

    source: str
    rooms: tuple[tuple[str, Amounts], ...]

    @property
    def total(self) -> Amounts:
        """Everything together."""
        first, *others = (amounts for _, amounts in self.rooms)
        for amounts in others:
            first = first + amounts
        return first

    def __str__(self) -> str:
        total = self.total
        lines = [f"{item.name}: {item.of(total):.5g}" for item in ITEMS]
        return "\n".join([self.source, *(f"├─ {line}" for line in lines[:-1]), f"└─ {lines[-1]}"])


def take_off(plan: SolvedHouse, layout: SourceLayout) -> Quantities:
    """Count everything that a layout takes."""
    rows = tuple((room.need.name, _amounts(plan, layout, room)) for room in layout.rooms)
    return Quantities(layout.source.name, rows)


def quantity_rows(plan: SolvedHouse, units: Units = "si") -> list[dict[str, object]]:
    """One line a source, room and item, totals too, in the units asked for."""
    return [
        {"source": found.source, "room": room} | _row(item, amounts, units)
        for found in (take_off(plan, layout) for layout in plan.layouts)
        for room, amounts in (*found.rooms, ("total", found.total))
        for item in ITEMS
    ]


def _row(item: Item, amounts: Amounts, units: Units) -> dict[str, Any]:
    """Name, amount, unit and basis of an item."""
    unit = UNITS.get(item.key.rpartition("_")[2])
    amount = item.of(amounts)
    told = round(unit.convert(amount, units), 2) if unit else round(amount)
    return {"item": item.name, "amount": told, "unit": unit.name(units) if unit else "", "basis": item.how(units)}


def _amounts(plan: SolvedHouse, layout: SourceLayout, room: RoomResult) -> Amounts:
    """One room of a layout."""
    bays = [bay for bay in plan.bays if bay.room == room.need.name]
    circuits = [circuit.flow.circuit for circuit in layout.circuits if circuit.room == room.need.name]
    own = plan.house.room(room.need.name)
    floor = storey_parts(plan.house.rooms, plan.bays, own.storey)
    rim = rim_ends(own, float(room.case.bay.joist_spacing), floor)
    return amounts_of(room.case, bays, circuits, rim)


def amounts_of(case: Case, bays: Sequence[PlacedBay], circuits: Sequence[Circuit], rim_pieces: int) -> Amounts:
    """What a room of bays takes.

    Parameters
    ----------
    case : the room's bay.
    bays : as placed.
    circuits : that join them.
    rim_pieces : ends of its bays at a rim joist, as of `rim_ends`.
    """
    tube = sum(circuit.length for circuit in circuits)
    plates = sum(plates_in(bay, case) for bay in bays)
    length = float(case.plates.length) if case.plates else 0.0
    hung = case.plates is not None and case.plates.hung
    held_each = 2 * (math.ceil(length / FASTENED_EVERY - 1e-9) + 1)
    clear = _clear(case)
    return Amounts(
        tube=tube,
        leaders=sum(circuit.leaders for circuit in circuits),
        plates=plates,
        fasteners=0 if hung else held_each * plates,
        hangers=HANGERS * plates if hung else 0,
        clips=math.ceil(max(0.0, tube - plates * length) / HELD_EVERY - 1e-9),
        insulation=_insulated(case, bays),
        rim_pieces=rim_pieces,
        rim_area=rim_pieces * clear * float(case.bay.joist_depth),
        holes=_crossings(bays, circuits) + sum(_bored_blocking(bay) for bay in bays),
        ports=2 * len(circuits),
        actuators=len(circuits),
        thermostats=1,
    )


def _insulated(case: Case, bays: Sequence[PlacedBay]) -> float:
    """Area between the joists of bays that have insulation [m²]; none is ordered for those that are written without."""
    if case.cavity.insulation is None:
        return 0.0
    return sum(bay.length * bay.width for bay in bays) * _clear(case) / float(case.bay.joist_spacing)


def _crossings(bays: Sequence[PlacedBay], circuits: Sequence[Circuit]) -> int:
    """Holes bored for circuits that pass joists."""
    known = {bay.name: bay for bay in bays}
    return sum(crossings([known[link.name] for link in circuit.bays]) for circuit in circuits)


def _clear(case: Case) -> float:
    """Between two joists, between the webs of I-joists [m]."""
    bay = case.bay
    return float(bay.joist_spacing - (bay.web_thickness if bay.joist_kind == "i-joist" else bay.joist_width))


def _bored_blocking(bay: PlacedBay) -> int:
    """Holes through solid blocking, one for every run."""
    return sum(bay.runs for stretch in bay.blocked if stretch.passes and stretch.length <= BLOCKING + 1e-9)
