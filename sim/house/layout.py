"""What a house comes to, as frozen values: needs of rooms, and the layout for each source of heat."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.circuit_flow import CircuitFlow
from sim.house.curve import Curve
from sim.house.loads import Load
from sim.house.manifold import Manifold
from sim.house.placed import PlacedBay, crossings
from sim.house.remedy import Remedy
from sim.house.season import SeasonResult
from sim.house.sources import Source
from sim.house.suitable import Finding
from sim.machine.brief import Brief
from sim.rules.limits import Verdict

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.house_case import House

ALIKE = 0.005
"""A shortfall below this share of the load is none."""


@dataclass(frozen=True, slots=True, repr=False)
class RoomNeed(Brief):
    """A room as the file has it: what it needs by itself.

    Attributes
    ----------
    name, title : str
    temperature : float [K]
    load : Load
    from_above : float [W]
        Downward heat of heated rooms above it that reaches it on the design day; counted here and nowhere else.
    area : float [m²]
        Heated floor: that of its bays.
    spacing : float or None [m]
        Of the plates along the tube; None without plates.
    mean_water : float [K]
        That gives the load; NaN where no water up to 95 °C does.
    supply : float [K]
        Mean water and half the drop (exponential along the circuit).
    curve : Curve
    note : str
        Why nothing gives the load, where nothing does.
    limit : str
        The limit of the floor that comes before the load; empty where none does.
    limit_supply, limit_output : float [K], [W]
        The supply at which that limit is met and what the floor gives with it; NaN where none is.
    """

    name: str
    title: str
    temperature: float
    load: Load
    from_above: float
    area: float
    spacing: float | None
    mean_water: float
    supply: float
    curve: Curve
    note: str = ""
    limit: str = ""
    limit_supply: float = math.nan
    limit_output: float = math.nan

    @property
    def wanted(self) -> float:
        """Load less what comes from above, at least 0 [W]."""
        return max(0.0, self.load.total - self.from_above)

    @property
    def flux(self) -> float:
        """Wanted upwards [W/m²]."""
        return self.wanted / self.area


@dataclass(frozen=True, slots=True, repr=False)
class RoomResult(Brief):
    """A room in the layout for one heat source.

    Attributes
    ----------
    need : RoomNeed
        With the plates of this layout.
    case : Case
        The bay as it was solved.
    mean_water : float [K]
        At the layout's supply.
    available : float [W]
        Upwards at that mean water, with the valve open, but no more than the limits of a floor that cannot give its
        load within them allow.
    has_say : bool
        Whether it helps to set the water.
    output : float [W]
        Upwards when the room is held at its temperature: no more than the load.
    down, edge : float [W]
        Given downwards and through the edges with it.
    down_to : str
        The room below that gets `down`; empty where it is lost.
    report : mapping
        Of the bay at the water that it then has in the mean: keys as in `sim.results.people`.
    verdicts : tuple of Verdict
        Limits held against that report.
    open_verdicts : tuple of Verdict
        The same with the valve left open at the layout's supply, where the room gets more than it needs.
    remedies : tuple of Remedy
        Tried where the room falls short; empty where it does not.
    spacings : tuple of (float or None, float, bool)
        Plate spacings that were tried [m], the supply that each needs [K], and whether it works with this source.
    """

    need: RoomNeed
    case: Case
    mean_water: float
    available: float
    output: float
    down: float
    edge: float
    down_to: str
    report: Mapping[str, float]
    verdicts: tuple[Verdict, ...]
    open_verdicts: tuple[Verdict, ...]
    remedies: tuple[Remedy, ...]
    spacings: tuple[tuple[float | None, float, bool], ...]
    has_say: bool = True

    @property
    def shortfall(self) -> float:
        """Load that the floor does not give [W], 0 where it gives all but what is rounding."""
        short = self.need.wanted - self.available
        return short if short > ALIKE * self.need.wanted else 0.0

    @property
    def heat(self) -> float:
        """Given by the water: up, down and edge [W]."""
        return self.output + self.down + self.edge


@dataclass(frozen=True, slots=True, repr=False)
class CircuitResult(Brief):
    """A circuit: its place, its water, the bays as placed in the order of the water, and the order of pulling."""

    room: str
    manifold: str
    flow: CircuitFlow
    bays: tuple[PlacedBay, ...]
    pulling: tuple[str, ...]

    @property
    def name(self) -> str:
        """Of the circuit."""
        return self.flow.circuit.name

    @property
    def crossings(self) -> int:
        """Bored holes from bay to bay, or through the joists that its strips pass."""
        return crossings(self.bays)


@dataclass(frozen=True, slots=True, repr=False)
class ManifoldResult(Brief):
    """A manifold with its circuits, at its place in the plan [m]."""

    name: str
    storey: str
    place: tuple[float, float]
    water: Manifold

    @property
    def supply(self) -> float:
        """Of all its circuits [K]."""
        return self.water.circuits[0].design.supply


@dataclass(frozen=True, slots=True, repr=False)
class OutdoorPoint(Brief):
    """The house at one outdoor temperature, the supply following the weather.

    Attributes
    ----------
    outdoor, supply, returning : float [K]
    load : float [W]
        Of all rooms, less what reaches them from above.
    output : float [W]
        Upwards at that supply, valves open.
    rooms : tuple of (str, float, float)
        Name, load less what comes from above, and output [W].
    heat : float [W]
        Taken from the source with every room held at its temperature.
    ratio : float [-]
        Efficiency or COP; NaN outside the source's table.
    findings : tuple of Finding
    """

    outdoor: float
    supply: float
    returning: float
    load: float
    output: float
    rooms: tuple[tuple[str, float, float], ...]
    heat: float
    ratio: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, repr=False)
class SourceLayout(Brief):
    """The house laid out for one heat source.

    Attributes
    ----------
    source : Source
    hottest : float [K]
        Hottest supply that was allowed to the floor.
    why_hottest : str
        What sets it.
    supply, drop : float [K]
        On the design day.
    set_by : str
        The room that sets the supply.
    rooms : tuple of RoomResult
    circuits : tuple of CircuitResult
    manifolds : tuple of ManifoldResult
    outdoor : tuple of OutdoorPoint
        From the design day to mild weather.
    findings : tuple of Finding
        The source's limits on the design day.
    plates : int
    tube : float [m]
        Leaders included.
    heat : float [W]
        Taken from the source with every room held at its temperature.
    heat_open : float [W]
        With all valves open.
    ratio : float [-]
        Efficiency or COP at the supply; NaN outside the source's table.
    season : SeasonResult or None
        Energy of a heating season; None where the source's table does not reach.
    spared : (str, float [K]) or None
        Where the room that sets the supply falls short all the same: who would set it without such rooms, and to what.
    """

    source: Source
    hottest: float
    why_hottest: str
    supply: float
    drop: float
    set_by: str
    rooms: tuple[RoomResult, ...]
    circuits: tuple[CircuitResult, ...]
    manifolds: tuple[ManifoldResult, ...]
    outdoor: tuple[OutdoorPoint, ...]
    findings: tuple[Finding, ...]
    plates: int
    tube: float
    heat: float
    heat_open: float
    ratio: float
    season: SeasonResult | None = None
    spared: tuple[str, float] | None = None

    @property
    def energy(self) -> float:
        """Fuel or electricity on the design day [W]."""
        return self.heat / self.ratio

    @property
    def returning(self) -> float:
        """Return on the design day [K]."""
        return self.supply - self.drop

    @property
    def shortfall(self) -> float:
        """Load that the floors do not give [W]."""
        return sum(room.shortfall for room in self.rooms)

    @property
    def down_lost(self) -> float:
        """Downward heat that reaches no heated room of the house [W]."""
        return sum(room.down for room in self.rooms if not room.down_to)

    @property
    def edge(self) -> float:
        """Heat that leaves through rims and other edges of the bays [W]."""
        return sum(room.edge for room in self.rooms)

    def room(self, name: str) -> RoomResult:
        """The room of a name."""
        return next(room for room in self.rooms if room.need.name == name)

    def __str__(self) -> str:
        head = (
            f"{self.source.name}: supply {self.supply - ZERO_CELSIUS:.1f} °C, set by {self.set_by}, "
            f"{self.heat / 1e3:.2f} kW, {self.plates} plates, {self.tube:.0f} m of tube"
        )
        *inner, last = (_gives(room) for room in self.rooms)
        return "\n".join([head, *(f"├─ {line}" for line in inner), f"└─ {last}"])


def _gives(room: RoomResult) -> str:
    """A room's load and what its floor can give, in words."""
    short = f", {room.shortfall:.0f} W short" if room.shortfall else ""
    return f"{room.need.name}: {room.need.wanted:.0f} W wanted, {room.available:.0f} W with the valve open{short}"


@dataclass(frozen=True, slots=True, repr=False)
class SolvedHouse:
    """Everything that is known of a house.

    Attributes
    ----------
    house : House
        The file as checked.
    variant : str
        Which of its variants this is; empty for the house itself.
    bays : tuple of PlacedBay
    needs : tuple of RoomNeed
        The rooms as written.
    layouts : tuple of SourceLayout
        One for each heat source, in the order of the file.
    solves : int
        Bay solves that were made, and `asked`, how many were asked for (the rest were alike).
    taken_up : int
        Bay solves that an earlier run had made.
    """

    house: House
    variant: str
    bays: tuple[PlacedBay, ...]
    needs: tuple[RoomNeed, ...]
    layouts: tuple[SourceLayout, ...]
    solves: int
    asked: int
    taken_up: int = 0

    @property
    def set_by(self) -> RoomNeed:
        """The room that needs the warmest water as written; one that no water satisfies comes first.

        Rooms whose floors cannot give their load within limits are asked only where all are such.
        """
        able = [need for need in self.needs if not need.limit]
        return max(able or self.needs, key=lambda need: need.supply if need.supply == need.supply else float("inf"))

    def layout(self, source: str) -> SourceLayout:
        """The layout for a heat source by its name."""
        return next(layout for layout in self.layouts if layout.source.name == source)
