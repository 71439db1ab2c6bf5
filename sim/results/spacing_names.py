"""What a plate spacing is called: "plates every 300 mm", "plates every 9 in", "no plates"."""

from __future__ import annotations

from sim.case.unit_sizes import INCH
from sim.results.people import Units
from sim.results.rule_inches import inches


def spacing_name(spacing: float | None, units: Units | None = None) -> str:
    """What to call a plate spacing [m], None being no plates; by default in the unit in which it is a round number.

    >>> spacing_name(0.3), spacing_name(0.2286), spacing_name(0.2286, "si"), spacing_name(0.3048, "ip")
    ('plates every 300 mm', 'plates every 9 in', 'plates every 228.6 mm', 'plates every 12 in')
    >>> spacing_name(None)
    'no plates'
    """
    if spacing is None:
        return "no plates"
    in_inches = f"{spacing / INCH:g} in" if units is None else inches(spacing)
    round_in_inches = speaks_in_inches(spacing) if units is None else units == "ip"
    return f"plates every {in_inches if round_in_inches else f'{spacing * 1e3:.4g} mm'}"


def speaks_in_inches(length: float) -> bool:
    """Whether a length [m] is a whole number of eighths of an inch, and not of millimetres.

    >>> speaks_in_inches(0.2286), speaks_in_inches(0.225), speaks_in_inches(0.254)
    (True, False, False)
    """
    millimetres, eighths = length * 1e3, length / INCH * 8.0
    return abs(millimetres - round(millimetres)) > 1e-6 and abs(eighths - round(eighths)) < 1e-6
