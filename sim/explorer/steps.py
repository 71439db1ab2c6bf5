"""A value with what it was before and after: steps that can be undone and done again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, Self, TypeVar

T = TypeVar("T")

MOST_STEPS = 200
"""Changes that can be undone."""


@dataclass(frozen=True, slots=True)
class Steps(Generic[T]):
    """What a tab has done with a value; every step makes another of these.

    Attributes
    ----------
    now, first : the value as it stands, and as it was opened.
    change : int
        Number of the change that led here; never used twice, so an answer says which values it belongs to.
    past, future : tuple
        For undo and redo.
    """

    now: T
    first: T
    change: int = 1
    past: tuple[T, ...] = ()
    future: tuple[T, ...] = ()

    def undo(self) -> Self:
        """One step back, if there is one."""
        if not self.past:
            return self
        return self._moved(self.past[-1], self.past[:-1], (self.now, *self.future))

    def redo(self) -> Self:
        """One step on again, if there is one."""
        if not self.future:
            return self
        return self._moved(self.future[0], (*self.past, self.now), self.future[1:])

    def to(self, value: T, grow: bool = True) -> Self:
        """Another value; a step of its own, unless it is not to `grow`, and then it takes the place of this one."""
        past = (*self.past, self.now)[-MOST_STEPS:] if grow else self.past
        return self._moved(value, past, ())

    def _moved(self, now: T, past: tuple[T, ...], future: tuple[T, ...]) -> Self:
        return replace(self, now=now, past=past, future=future, change=self.change + 1)
