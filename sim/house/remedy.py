"""What was tried for a room that falls short, and what it brings."""

from __future__ import annotations

from dataclasses import dataclass

from sim.machine.brief import Brief


@dataclass(frozen=True, slots=True, repr=False)
class Remedy(Brief):
    """A change that was tried with the model for a room that falls short.

    Attributes
    ----------
    what : str
        In plain words, with numbers, in SI.
    what_ip : str
        The same in inch-pound units.
    key : str
        The key that was changed; empty where it could not be tried.
    output : float [W]
        Upwards with the change, at the same mean water; NaN where it could not be tried.
    gain : float [W]
        Over the room without it.
    enough : bool
        Whether the room has its load then.
    note : str
        Why it could not be tried, or what goes with it.
    """

    what: str
    what_ip: str
    key: str
    output: float
    gain: float
    enough: bool
    note: str = ""

    def told(self, system: str) -> str:
        """What it is in one system of units, "si" or "ip"."""
        return self.what_ip if system == "ip" else self.what
