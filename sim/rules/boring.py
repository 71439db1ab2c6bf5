"""Holes and notches in joists: what the residential code allows in sawn lumber, and where a case stands.

This is arithmetic with the code's numbers, never a structural approval: spans, loads, point loads, knots and older
holes decide too. Engineered joists follow their maker's own rules only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.bay_case import Case

HOLE_SHARE, HOLE_MARGIN = 1.0 / 3.0, 0.0508
"""Largest hole as a share of the depth, and its distance from top, bottom, notch and any other hole [m]."""

NOTCH_SHARE, END_NOTCH_SHARE, NOTCH_LENGTH_SHARE = 1.0 / 6.0, 1.0 / 4.0, 1.0 / 3.0
"""Deepest notch in the outer thirds of the span, at the very end, and longest notch, as shares of the depth."""

SOURCE = "International Residential Code 2021, R502.8.1"


@dataclass(frozen=True, slots=True)
class Boring:
    """Holes of one diameter in joists of one depth, with their centres in a band; all in [m].

    Attributes
    ----------
    depth : float
        Of the joist, as measured: 235 mm for a nominal 2x10.
    hole : float
        Diameter of the holes.
    """

    depth: float
    hole: float

    def __post_init__(self) -> None:
        if not (self.depth > 0.0 and self.hole > 0.0):
            raise ValueError(f"joist depth {self.depth:g} m and hole {self.hole:g} m must be greater than 0")

    @property
    def largest_hole(self) -> float:
        """A third of the depth, and never so large that less than 2 in are left above and below [m]."""
        return max(0.0, min(HOLE_SHARE * self.depth, self.depth - 2.0 * HOLE_MARGIN))

    @property
    def allowed(self) -> bool:
        """Whether holes of this diameter fit at all."""
        return self.hole <= self.largest_hole * (1.0 + 1e-9)

    @property
    def nearest_centre(self) -> float:
        """Least distance of a hole's centre from the top and from the bottom of the joist [m]."""
        return HOLE_MARGIN + self.hole / 2.0

    @property
    def centre_spacing(self) -> float:
        """Least distance between the centres of two holes [m]."""
        return HOLE_MARGIN + self.hole

    @property
    def deepest_notch(self) -> float:
        """In the outer thirds of the span; none in the middle third [m]."""
        return NOTCH_SHARE * self.depth

    @property
    def deepest_end_notch(self) -> float:
        """At the very end of the joist [m]."""
        return END_NOTCH_SHARE * self.depth

    @property
    def longest_notch(self) -> float:
        """Along the joist [m]."""
        return NOTCH_LENGTH_SHARE * self.depth


def boring_of(case: Case) -> Boring:
    """The joists of a case with its bored holes."""
    return Boring(float(case.bay.joist_depth), float(case.tube.hole_diameter))
