"""Answers that are kept by what they follow from, so that undo, pins and other tabs have them at once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from hashlib import sha256
from typing import TYPE_CHECKING

from sim.case.writing import case_text

if TYPE_CHECKING:
    from sim.case.bay_case import Case

MOST = 150
"""Answers of bays kept: some 200 kB each."""

FINEST_FIRST = ("own", "quick", "coarse")
"""Meshes, the better first."""


class Kept:
    """Answers by the content of their case, or of the text of their house, and their mesh.

    Parameters
    ----------
    most : how many; the one that was not asked for longest goes.
    """

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._answers: OrderedDict[tuple[str, str], dict[str, object]] = OrderedDict()

    def put(self, what: Case | str, mesh: str, answer: dict[str, object]) -> None:
        """Keep an answer."""
        self._answers[content(what), mesh] = answer
        while len(self._answers) > self._most:
            self._answers.popitem(last=False)

    def best(
        self, what: Case | str, meshes: Sequence[str] = FINEST_FIRST
    ) -> tuple[str, dict[str, object]] | None:
        """The first answer that is kept on these meshes, and its mesh."""
        for key in ((content(what), mesh) for mesh in meshes):
            if key in self._answers:
                self._answers.move_to_end(key)
                return key[1], self._answers[key]
        return None


def content(what: Case | str) -> str:
    """What an answer follows from, in short."""
    return sha256((what if isinstance(what, str) else case_text(what)).encode()).hexdigest()
