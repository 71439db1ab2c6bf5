"""Answers that are kept by what they follow from, so that undo, pins and other tabs have them at once."""

from __future__ import annotations

from collections import OrderedDict
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from sim.case.writing import case_text

if TYPE_CHECKING:
    from sim.case.bay_case import Case

MOST = 150
"""Answers kept: some 200 kB each."""

FINEST_FIRST = ("own", "quick")
"""Meshes, the better first."""


class Kept:
    """Answers by the content of their case and their mesh."""

    def __init__(self) -> None:
        self._answers: OrderedDict[tuple[str, str], dict[str, Any]] = OrderedDict()

    def put(self, case: Case, mesh: str, answer: dict[str, Any]) -> None:
        """Keep an answer; the one that was not asked for longest goes."""
        self._answers[content(case), mesh] = answer
        while len(self._answers) > MOST:
            self._answers.popitem(last=False)

    def find(self, case: Case, mesh: str) -> dict[str, Any] | None:
        """The answer of a case on a mesh, if it is kept."""
        key = content(case), mesh
        if key in self._answers:
            self._answers.move_to_end(key)
        return self._answers.get(key)

    def best(self, case: Case) -> tuple[str, dict[str, Any]] | None:
        """The best answer that is kept of a case, and its mesh."""
        for mesh in FINEST_FIRST:
            if (found := self.find(case, mesh)) is not None:
                return mesh, found
        return None


def content(case: Case) -> str:
    """What a case's answer follows from, in short."""
    return sha256(case_text(case).encode()).hexdigest()
