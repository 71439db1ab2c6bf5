"""Bays where they lie in the plan of a house, and what is in their way."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a bay without plates, from `start` to `end` along the bay [m from its low end], and why.

    Where `passes`, tube is laid through it all the same (blocking that was bored) but counts as giving no heat.
    """

    start: float
    end: float
    why: str
    passes: bool = False

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
        "low" or "high": the end at which tube enters and leaves.
    runs : int
        Of tube, in series.
    joists : int
        How many joists its own tube passes through; 0 for tube along the joists.
    leader : float [m]
        Tube from the manifold to its entry, one way.
    blocked : tuple of Stretch
    """

    name: str
    room: str
    x: tuple[float, float]
    y: tuple[float, float]
    along: str
    entry: str
    runs: int
    joists: int
    leader: float
    blocked: tuple[Stretch, ...] = ()

    @property
    def length(self) -> float:
        """Along the tube [m]."""
        low, high = self.x if self.along == "x" else self.y
        return high - low

    @property
    def width(self) -> float:
        """Across the tube [m]."""
        low, high = self.y if self.along == "x" else self.x
        return high - low

    @property
    def heated(self) -> float:
        """Length with plates [m]."""
        return max(0.0, self.length - sum(stretch.length for stretch in self.blocked))

    @property
    def area(self) -> float:
        """Heated floor [m²]."""
        return self.heated * self.width
