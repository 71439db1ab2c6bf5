"""Joist bays joined to circuits: each no longer than a limit, about as long as the others, in the order of the bays.

A circuit is one unbroken length of tube: from the manifold to its first bay, through its bays in turn, and back from
the last one. What flows in it is the business of `sim.house.circuit_flow`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sim.case.quantities import format_value
from sim.house.way import Way

LONGEST = 90.0
"""Longest circuit of half-inch tube, leaders included [m]: 300 ft, common practice, no source."""

ALIKE = 0.10
"""Circuits of one manifold whose lengths differ by no more than this share of the longest count as balanced:
common practice, no source."""

_ROUNDING = 1e-9


class CircuitError(ValueError):
    """Bays that cannot be made into circuits, or circuits that cannot work; the message names the bay and a way out."""


@dataclass(frozen=True, slots=True)
class CircuitBay:
    """One joist bay as a part of a circuit.

    Attributes
    ----------
    name : str
    tube : float [m]
        All runs of the bay with their bends, as if nothing were in the way.
    heat_per_metre : float [W/m]
        Given by a metre of its tube, up and down together, 0 or greater.
    blocked : float [m]
        Tube that is not laid because of blocking, ducts or cabinets.
    idle : float [m]
        Tube that is laid but gives no heat: through bored blocking, in bends and on the way to the next bay.
    leader : float [m]
        Tube from the manifold to this bay, one way; counts for the first and the last bay of a circuit whose way is
        not known corner by corner.
    heated : float or None [m]
        Tube that gives heat, where that is not what is laid without what is idle.
    across : (float, float) or None [m]
        The bay's stretch of the room's width; where given, bays may touch but not overlap.
    """

    name: str
    tube: float
    heat_per_metre: float
    blocked: float = 0.0
    idle: float = 0.0
    leader: float = 0.0
    across: tuple[float, float] | None = None
    heated: float | None = None

    def __post_init__(self) -> None:
        for what in ("tube", "heat_per_metre", "blocked", "idle", "leader"):
            if not getattr(self, what) >= 0.0:
                raise CircuitError(f"bay {self.name}: {what} is {getattr(self, what):g}; must be 0 or greater")
        if not self.laid > 0.0:
            raise CircuitError(
                f"bay {self.name}: {self.blocked:g} m of its {self.tube:g} m of tube are blocked, nothing is left; "
                "leave the bay out"
            )
        if self.idle > self.laid + _ROUNDING:
            raise CircuitError(f"bay {self.name}: {self.idle:g} m of idle tube are more than the {self.laid:g} m laid")
        if self.across is not None and not self.across[0] < self.across[1]:
            raise CircuitError(f"bay {self.name}: across {self.across[0]:g} to {self.across[1]:g} m has no width")

    @property
    def laid(self) -> float:
        """Tube really in the bay [m]."""
        return self.tube - self.blocked

    @property
    def heat(self) -> float:
        """Heat given by the bay, up and down together [W]."""
        own = self.laid - self.idle if self.heated is None else self.heated
        return self.heat_per_metre * max(0.0, own)

    @property
    def lost(self) -> float:
        """Heat that the blocked length would have given [W]."""
        return self.heat_per_metre * self.blocked


@dataclass(frozen=True, slots=True)
class Circuit:
    """One unbroken length of tube through several bays, in the order in which the water passes them.

    Where its way is known, every bay's tube is the way's part in it.
    """

    name: str
    bays: tuple[CircuitBay, ...]
    way: Way | None = None

    @property
    def leaders(self) -> float:
        """Tube between the manifold and the bays, there and back [m]."""
        return sum(self.way.leaders) if self.way else self.bays[0].leader + self.bays[-1].leader

    @property
    def out(self) -> float:
        """Tube from the manifold to the first bay [m]."""
        return self.way.leaders[0] if self.way else self.bays[0].leader

    @property
    def length(self) -> float:
        """All of its tube, leaders included [m]."""
        return self.leaders + sum(bay.laid for bay in self.bays)

    @property
    def heat(self) -> float:
        """Heat given by its bays, up and down together [W]."""
        return sum(bay.heat for bay in self.bays)

    def __str__(self) -> str:
        return (
            f"{self.name}: {self.length:.1f} m with {self.leaders:.1f} m of leaders, {self.heat:.0f} W, bays "
            + " ".join(bay.name for bay in self.bays)
        )


@dataclass(frozen=True, slots=True)
class Split:
    """The circuits of one room or one manifold, and the longest length that was allowed [m]."""

    circuits: tuple[Circuit, ...]
    longest: float

    @property
    def spread(self) -> float:
        """Longest less shortest, as a share of the longest [-]."""
        lengths = [circuit.length for circuit in self.circuits]
        return 1.0 - min(lengths) / max(lengths)

    @property
    def balanced(self) -> bool:
        """Whether the lengths are alike enough to do without throttling."""
        return self.spread <= ALIKE + _ROUNDING

    @property
    def length(self) -> float:
        """All tube, leaders included [m]."""
        return sum(circuit.length for circuit in self.circuits)

    def __str__(self) -> str:
        state = "balanced" if self.balanced else "to be balanced by valves"
        head = f"{len(self.circuits)} circuits, {self.length:.1f} m, lengths within {100 * self.spread:.0f} %, {state}"
        *inner, last = (str(circuit) for circuit in self.circuits)
        return "\n".join([head, *(f"├─ {line}" for line in inner), f"└─ {last}"])


Join = Callable[[int, int], Circuit]
"""Makes a circuit from neighbouring bays: the number of its first bay, and of the one after its last."""


def split_bays(
    bays: Sequence[CircuitBay], longest: float = LONGEST, *, spare: int = 1, name: str = "C", join: Join | None = None
) -> Split:
    """Join bays to circuits, keeping their order.

    As few circuits as the limit allows, cut where their lengths are most alike. If these are not balanced, up to
    `spare` circuits more are tried, and taken only where that balances them.

    Parameters
    ----------
    bays : in the order in which they lie, at least one.
    longest : longest circuit, leaders included [m].
    spare : how many circuits more than needed are worth an even length.
    name : circuits are called by it and a number from 1.
    join : makes a circuit of the bays; when left out it is as long as its bays and their leaders.

    Raises
    ------
    CircuitError : no bays, two of one name, bays that overlap, a bay that is alone longer than a circuit may be.

    Examples
    --------
    >>> bays = [CircuitBay(f"{number}", tube=10.0, heat_per_metre=10.0, leader=5.0) for number in range(1, 13)]
    >>> print(split_bays(bays))
    2 circuits, 140.0 m, lengths within 0 %, balanced
    ├─ C1: 70.0 m with 10.0 m of leaders, 600 W, bays 1 2 3 4 5 6
    └─ C2: 70.0 m with 10.0 m of leaders, 600 W, bays 7 8 9 10 11 12
    """
    join = join or _plain(bays)
    check_bays(bays, longest, join)
    pieces = _Pieces(len(bays), longest, join)
    fewest = pieces.fewest()
    found = [_named(pieces.most_alike(count), longest, name) for count in range(fewest, fewest + spare + 1)
             if count <= len(bays)]
    return next((split for split in found if split.balanced), found[0])


def _plain(bays: Sequence[CircuitBay]) -> Join:
    """Joins bays as they are."""
    return lambda first, end: Circuit("", tuple(bays[first:end]))


def check_bays(bays: Sequence[CircuitBay], longest: float, join: Join) -> None:
    """Raise `CircuitError` unless bays can be made into circuits of at most `longest` [m]; see `split_bays`."""
    if not bays:
        raise CircuitError("no bays: a room needs at least one bay with tube")
    names = [bay.name for bay in bays]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise CircuitError(f"bay {', '.join(twice)}: given twice; every bay needs its own name")
    _check_overlap(bays)
    for number, bay in enumerate(bays):
        alone = join(number, number + 1)
        if alone.length > longest + _ROUNDING:
            tube, leaders, most = (format_value(metres, "length") for metres in (bay.laid, alone.leaders, longest))
            raise CircuitError(
                f"bay {bay.name}: {tube} of tube and {leaders} of leaders are longer than a circuit may be, {most}; "
                "feed the bay in two parts, or move the manifold"
            )


def pulling_order(circuit: Circuit) -> tuple[str, ...]:
    """Names of the bays in the order in which the tube is pulled into them.

    The coil stands at the middle of the circuit: first one half of the bays is drawn, from the middle outwards, then
    with the other end of the tube the other half. So no length is pulled through every hole. Common practice, no
    source.

    Examples
    --------
    >>> pulling_order(Circuit("C1", tuple(CircuitBay(name, 10.0, 10.0) for name in "abcde")))
    ('c', 'b', 'a', 'd', 'e')
    """
    first, then = pulling_halves(circuit)
    return (*first, *then)


def pulling_halves(circuit: Circuit) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The bays that are pulled with the first end of the tube, and those with the other, each from the middle on."""
    names = tuple(bay.name for bay in circuit.bays)
    middle = (len(names) + 1) // 2
    return names[:middle][::-1], names[middle:]


def _check_overlap(bays: Sequence[CircuitBay]) -> None:
    """Raise if two bays take up the same stretch of the room."""
    placed = sorted((bay.across, bay.name) for bay in bays if bay.across is not None)
    for (first, left), (second, right) in zip(placed, placed[1:], strict=False):
        if second[0] < first[1] - _ROUNDING:
            raise CircuitError(
                f"bays {left} and {right} overlap: {left} ends at {first[1]:g} m, {right} begins at {second[0]:g} m"
            )


def _named(circuits: Sequence[Circuit], longest: float, name: str) -> Split:
    """Circuits with names."""
    return Split(
        tuple(replace(circuit, name=f"{name}{number}") for number, circuit in enumerate(circuits, start=1)), longest
    )


class _Pieces:
    """Runs of neighbouring bays that are short enough for one circuit: (first, end) → circuit and length."""

    def __init__(self, count: int, longest: float, join: Join) -> None:
        self.count = count
        self.circuits: dict[tuple[int, int], Circuit] = {}
        for first in range(count):
            for end in range(first + 1, count + 1):
                circuit = join(first, end)
                if circuit.length <= longest + _ROUNDING:
                    self.circuits[first, end] = circuit
                elif circuit.length - circuit.leaders > longest:
                    break
        self.lengths = {piece: circuit.length for piece, circuit in self.circuits.items()}
        self.ending: list[list[int]] = [[] for _ in range(count + 1)]
        for first, end in self.lengths:
            self.ending[end].append(first)

    def fewest(self) -> int:
        """How many circuits are needed at least: the fewest pieces that end at each bay, from the first bay on."""
        least = [0]
        for end in range(1, self.count + 1):
            least.append(1 + min(least[first] for first in self.ending[end]))
        return least[-1]

    def most_alike(self, count: int) -> tuple[Circuit, ...]:
        """The cut into `count` pieces whose shortest is the largest share of its longest.

        For every length that the longest piece might have, the largest shortest one is found by going along the bays.
        No piece can be shorter than their mean, so lengths far above it need no trial once a good cut is known.
        """
        mean = self._longest_mean(count)
        best = -1.0
        cuts: tuple[int, ...] = (0, self.count)
        for top in sorted(set(self.lengths.values())):
            if mean / top <= best:
                break
            shortest, found = self._largest_shortest(count, top)
            if shortest / top > best:
                best, cuts = shortest / top, found
        return tuple(self.circuits[piece] for piece in pairwise(cuts))

    def _longest_mean(self, count: int) -> float:
        """No cut into `count` pieces has a longer mean [m]: every bay with the most tube that it has in any piece."""
        most = [0.0] * self.count
        for (first, _), circuit in self.circuits.items():
            for number, bay in enumerate(circuit.bays, start=first):
                most[number] = max(most[number], bay.laid)
        return sum(most) / count + max(circuit.leaders for circuit in self.circuits.values())

    def _largest_shortest(self, count: int, top: float) -> tuple[float, tuple[int, ...]]:
        """The shortest piece, as long as can be, of `count` pieces none longer than `top`, and where they are cut."""
        reached: dict[int, tuple[float, tuple[int, ...]]] = {0: (float("inf"), (0,))}
        for _ in range(count):
            reached = dict(self._one_more(reached, top))
        return reached.get(self.count, (-float("inf"), ()))

    def _one_more(
        self, reached: dict[int, tuple[float, tuple[int, ...]]], top: float
    ) -> Iterator[tuple[int, tuple[float, tuple[int, ...]]]]:
        """Every bay at which one piece more can end, with the best way there."""
        for end, firsts in enumerate(self.ending):
            ways = [
                (min(reached[first][0], self.lengths[first, end]), (*reached[first][1], end))
                for first in firsts
                if first in reached and self.lengths[first, end] <= top + _ROUNDING
            ]
            if ways:
                yield end, max(ways)
