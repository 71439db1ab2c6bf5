"""Sizes of paper, scales that a rule of the trade has, and where metres of a plan lie on the paper."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sim.results.people import Units
from viz.drawings.board import Spot

INCH, FOOT = 0.0254, 0.3048

PAPERS: dict[Units, tuple[str, float, float]] = {"si": ("A3", 420.0, 297.0), "ip": ("11 x 17 in", 431.8, 279.4)}
"""Name, width and height [mm], landscape."""

SCALES: dict[Units, dict[int, str]] = {
    "si": {number: f"1 : {number}" for number in (2, 5, 10, 20, 25, 50, 75, 100, 150, 200, 250, 500)},
    "ip": {
        2: "half size", 4: "quarter size", 8: '1 1/2" = 1\'-0"', 12: '1" = 1\'-0"', 16: '3/4" = 1\'-0"',
        24: '1/2" = 1\'-0"', 32: '3/8" = 1\'-0"', 48: '1/4" = 1\'-0"', 64: '3/16" = 1\'-0"', 96: '1/8" = 1\'-0"',
        128: '3/32" = 1\'-0"', 192: '1/16" = 1\'-0"', 384: '1/32" = 1\'-0"',
    },
}  # fmt: skip
"""Denominators of the usual scales of building drawings, and how they are written."""


@dataclass(frozen=True, slots=True)
class PaperView:
    """Metres of a plan or section on the paper: a place of the paper [mm] for an origin [m], at 1 to `scale`."""

    origin: Spot
    place: Spot
    scale: int

    def at(self, x: float, y: float) -> Spot:
        """A place in metres on the paper [mm]."""
        per_metre = 1e3 / self.scale
        return self.place[0] + (x - self.origin[0]) * per_metre, self.place[1] + (y - self.origin[1]) * per_metre

    def long(self, metres: float) -> float:
        """A length on the paper [mm]."""
        return 1e3 * metres / self.scale


def fitting_scale(size: Spot, room: Spot, units: Units) -> int:
    """The largest usual scale at which something [m] fits into a space of the paper [mm], else the smallest."""
    fits = [number for number in SCALES[units] if all(1e3 * m / number <= mm for m, mm in zip(size, room, strict=True))]
    return min(fits, default=max(SCALES[units]))


def centred(low: Spot, high: Spot, corner: Spot, room: Spot, scale: int) -> PaperView:
    """A view of what lies between two places [m] in the middle of a space of the paper."""
    size = [1e3 * (end - start) / scale for start, end in zip(low, high, strict=True)]
    place = (corner[0] + (room[0] - size[0]) / 2.0, corner[1] + (room[1] - size[1]) / 2.0)
    return PaperView(low, place, scale)


def measure(metres: float, units: Units) -> str:
    """A length as a drawing writes it: whole millimetres, or feet and inches with the fractions of a rule.

    Sixteenths below 3 in, eighths below 4 ft, quarters above; thirty-seconds where boards come in them.

    Examples
    --------
    >>> measure(0.4064, "si"), measure(0.4064, "ip"), measure(4.2672, "ip"), measure(0.0349, "ip")
    ('406', '1\\'-4"', '14\\'-0"', '1 3/8"')
    >>> measure(23 / 32 * 0.0254, "ip"), measure(0.0004, "ip")
    ('23/32"', '0.016"')
    """
    if units == "si":
        return f"{1e3 * metres:.0f}" if metres >= 0.01 or not metres else f"{1e3 * metres:.1f}"
    inches = abs(metres) / INCH
    if 0.0 < inches < 1.0 / 32.0:
        return f'{inches:.3f}"'
    parts = 16 if inches < 3.0 else 8 if inches < 48.0 else 4
    if inches < 1.0 and abs(inches * 32.0 - round(inches * 32.0)) < 0.01:
        parts = 32
    feet, rest = divmod(Fraction(round(inches * parts), parts), 12)
    whole, part = divmod(rest, 1)
    words = f"{whole} {part}" if part and (whole or feet) else str(part or whole)
    return f"{feet}'-{words}\"" if feet else f'{words}"'
