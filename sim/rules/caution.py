"""One caution: what to mind, the number that calls for it, and who says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sim.results.people import UNITS, Unit
from sim.results.rule_inches import WHOLE, Toward, rule_inches

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Units = Literal["si", "ip", "both"]

NO_SOURCE = "common practice, no source"

ASK = "Check the local code and ask a licensed professional."
"""Belongs under every list of cautions."""

ROUGH = {
    "bar": Unit("bar", "psi", 14.503774, 0.0, ".1f", ".0f"),
    "K": Unit("K", "°F", 1.8, 0.0, ".0f", ".0f"),
    "C": Unit("°C", "°F", 1.8, 32.0, ".0f", ".0f"),
    "m": Unit("m", "ft", 1.0 / 0.3048, 0.0, ".1f", ".1f"),
    "m2K_W": Unit("m²K/W", "h·ft²·°F/Btu", 5.678263, 0.0, ".2f", ".2f"),
}
"""Units with the digits that a sentence wants; pound per square inch and R-value from NIST SP 811."""


@dataclass(frozen=True, slots=True)
class Caution:
    """What to mind.

    Attributes
    ----------
    subject : str
        In two or three words.
    text : str
        Sentences with the numbers in them, in the units that were asked for.
    source : str
        Standard or code with its edition, or "common practice, no source".
    key : str
        Names the number that called for it, with its unit as suffix (as in `sim.results.people`).
    value, limit : float
        That number, and the one that it passed.
    broken : bool
        Whether a rule is broken, not only worth minding.
    weight : float
        How bad it is beside the same caution of other bays; left out, how far the value lies from the limit.
    """

    subject: str
    text: str
    source: str
    key: str
    value: float
    limit: float
    broken: bool = False
    weight: float | None = None

    @property
    def badness(self) -> float:
        """What the same caution of several bays is ordered by."""
        return abs(self.value - self.limit) if self.weight is None else self.weight

    def as_dict(self) -> dict[str, object]:
        """Plain values."""
        return {
            "subject": self.subject,
            "text": self.text,
            "source": self.source,
            "key": self.key,
            "value": self.value,
            "limit": self.limit,
            "broken": self.broken,
        }

    def __str__(self) -> str:
        return f"{'✗' if self.broken else '!'} {self.subject}: {self.text} ({self.source})"


@dataclass(frozen=True, slots=True)
class Situation:
    """What cautions are drawn from: the case of a bay, its report, and the units to speak in."""

    case: Case
    report: Mapping[str, float]
    units: Units = "si"

    def say(self, unit: str, value: float) -> str:
        """A value in a unit of `ROUGH` or of `sim.results.people.UNITS`, as people read it."""
        written = ROUGH.get(unit) or UNITS[unit]
        return self._in_each(written.write(value, "si"), written.write(value, "ip"))

    def length(self, metres: float, toward: Toward = "nearest") -> str:
        """A length on site in whole millimetres, or in inches and sixteenths; `toward` as in `rule_inches`."""
        return self._in_each(f"{WHOLE[toward](1e3 * metres)} mm", rule_inches(metres, toward))

    def _in_each(self, si: str, ip: str) -> str:
        return {"si": si, "ip": ip}.get(self.units, f"{si} ({ip})")
