"""Bays where they lie in the plan of a house, and what is in their way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

SHORTEST = 0.06
"""A free stretch shorter than this [m] holds no plate and no turn of the tube: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a bay without plates, from `start` to `end` along the bay [m from its low end], and why.

    Unless `passes` is false, tube runs through it where it has floor to heat beyond, giving no heat there; what blocks
    the joist space ends the bay.
    """

    start: float
    end: float
    why: str
    passes: bool = True

    @property
    def length(self) -> float:
        """[m]"""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class PlacedBay:
    """One bay in the plan; with tube across the joists one strip, at right angles to them.

    Attributes
    ----------
    name, room : str
        The name is its own in the whole house.
    x, y : (float, float) [m]
        From and to, in the plan.
    along : str
        "x" or "y": the way its tube runs.
    entry : str
        "low" or "high": the end at which tube enters.
    runs : int
        Of tube, in series.
    joists : int
        How many joists its own tube passes through; 0 for tube along the joists.
    blocked : tuple of Stretch
    positions : tuple of float [m]
        Of the runs, from the low side of the bay; evenly where empty.
    """

    name: str
    room: str
    x: tuple[float, float]
    y: tuple[float, float]
    along: str
    entry: str
    runs: int
    joists: int
    blocked: tuple[Stretch, ...] = ()
    positions: tuple[float, ...] = ()

    @property
    def start(self) -> float:
        """The low end, in the plan [m]."""
        return (self.x if self.along == "x" else self.y)[0]

    @property
    def length(self) -> float:
        """Along the tube [m]."""
        return self.end("high") - self.start

    @property
    def width(self) -> float:
        """Across the tube [m]."""
        low, high = self._sides
        return high - low

    @property
    def middle(self) -> float:
        """Of the bay across the tube, in the plan [m]."""
        return sum(self._sides) / 2.0

    @property
    def lines(self) -> tuple[float, ...]:
        """Where its runs lie across the tube, in the plan, rising [m]."""
        even = tuple(self.width * (run + 0.5) / self.runs for run in range(self.runs))
        return tuple(self._sides[0] + position for position in self.positions or even)

    @property
    def spans(self) -> tuple[tuple[float, float], ...]:
        """Stretches with plates that tube reaches, from and to [m from the low end], in the order of the plan.

        From the entry on, up to what blocks the joist space behind the first of them.
        """
        pieces = list(self._free())
        reached: list[tuple[float, float]] = []
        for piece in pieces if self.entry == "low" else pieces[::-1]:
            if reached and self._parted(reached[-1], piece):
                break
            reached.append(piece)
        return tuple(sorted(reached))

    @property
    def heated(self) -> float:
        """Length with plates that tube reaches [m]."""
        return sum(end - start for start, end in self.spans)

    @property
    def cut_off(self) -> float:
        """Length without obstacle that tube does not reach [m]."""
        return sum(end - start for start, end in self._free()) - self.heated

    @property
    def area(self) -> float:
        """Heated floor [m²]."""
        return self.heated * self.width

    @property
    def tube_with_heat(self) -> float:
        """Tube under heated floor, all runs [m]."""
        return self.runs * self.heated

    def end(self, side: str) -> float:
        """The low or the high end, in the plan [m]."""
        ends = self.x if self.along == "x" else self.y
        return ends[0] if side == "low" else ends[1]

    def open_at(self, side: str) -> bool:
        """Whether tube can be laid from that end to the heated floor."""
        low, high = self.spans[0][0], self.spans[-1][1]
        walls = (stretch for stretch in self.blocked if not stretch.passes)
        if side == "low":
            return all(wall.start >= low - SHORTEST for wall in walls)
        return all(wall.end <= high + SHORTEST for wall in walls)

    @property
    def _sides(self) -> tuple[float, float]:
        return self.y if self.along == "x" else self.x

    def _free(self) -> Iterator[tuple[float, float]]:
        """What lies between obstacles, from and to."""
        ordered = sorted(self.blocked, key=lambda stretch: stretch.start)
        edges = [0.0, *(edge for stretch in ordered for edge in (stretch.start, stretch.end)), self.length]
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            if end - start > SHORTEST:
                yield start, end

    def _parted(self, first: tuple[float, float], second: tuple[float, float]) -> bool:
        """Whether something between two free stretches blocks the joist space."""
        low, high = sorted((first, second))
        return any(
            not stretch.passes and low[1] - SHORTEST <= stretch.start and stretch.end <= high[0] + SHORTEST
            for stretch in self.blocked
        )


def crossings(bays: Sequence[PlacedBay]) -> int:
    """Bored holes of a circuit: two in every joist between neighbouring bays (there and back), or one in every joist a
    strip passes."""
    return sum(bay.joists for bay in bays) or 2 * (len(bays) - 1)
