"""What one tab has done with its bay: a frozen value, of which every change makes another."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.case.bay_case import Case
from sim.explorer.controls import changes_of
from sim.explorer.steps import Steps

MOST_PINS = 6
"""Choices that are held side by side; a seventh takes the place of the oldest."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A choice that is kept in sight."""

    number: int
    case: Case


@dataclass(frozen=True, slots=True)
class Session(Steps[Case]):
    """A bay with what it was before and after.

    Attributes
    ----------
    moving : str
        Key of the control that is being dragged: its next value takes the place of this one.
    pins : tuple of Pin
    wish : float or None
        Upward heat flux that is wished for [W/m²].
    """

    moving: str = ""
    pins: tuple[Pin, ...] = ()
    pinned: int = 0
    wish: float | None = None

    @property
    def case(self) -> Case:
        """As it stands."""
        return self.now

    def set(self, key: str, text: str, moving: bool = False) -> Session:
        """With another value, as typed; while a control is `moving` all its values are one step to undo.

        Raises
        ------
        CaseError : it does not fit; the session stays as it is.
        """
        case = self.case.with_(changes_of(self.case, key, text))
        same_drag = bool(self.moving) and self.moving == key
        if case == self.case:
            return self if moving and same_drag else replace(self, moving="")
        return replace(self.to(case, grow=not same_drag), moving=key if moving else "")

    def undo(self) -> Session:
        """One step back, if there is one; no drag goes on."""
        return replace(Steps.undo(self), moving="")

    def redo(self) -> Session:
        """One step on again, if there is one; no drag goes on."""
        return replace(Steps.redo(self), moving="")

    def goes_to(self, case: Case) -> Session:
        """Another whole case, as a step that can be undone."""
        return self if case == self.case else replace(self.to(case), moving="")

    def pin(self) -> Session:
        """The case as it stands is kept in sight; one that is there already stays where it is."""
        if any(pin.case == self.case for pin in self.pins):
            return self
        number = self.pinned + 1
        return replace(self, pins=(*self.pins, Pin(number, self.case))[-MOST_PINS:], pinned=number)

    def unpin(self, number: int) -> Session:
        """Without a pin."""
        return replace(self, pins=tuple(pin for pin in self.pins if pin.number != number))

    def wishes(self, flux: float | None) -> Session:
        """With another flux that is wished for [W/m²]."""
        return replace(self, wish=flux)


def opened(case: Case) -> Session:
    """A session that begins with a case, and with the flux that its comparison wishes for."""
    return Session(case, case, wish=case.compare.flux)
