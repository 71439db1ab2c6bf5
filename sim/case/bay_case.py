"""The case of one joist bay: all its sections, checked against each other."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from sim.case.bay_keys import BayKeys
from sim.case.bay_rules import bay_problems
from sim.case.bay_settle import settle_bay, usual_values
from sim.case.bay_tree import bay_branches, bay_rows
from sim.case.case_keys import KeyReader
from sim.case.errors import CaseError
from sim.case.unused import BAY
from sim.case.whole import WholeCase


class Case(BayKeys, WholeCase):
    """What a user asked for: one joist bay, its heating and its surroundings; SI and kelvin throughout.

    A `Case` that exists has passed every check. Build one with `sim.load_case`, or vary one with `with_`.
    """

    @model_validator(mode="after")
    def _settle(self) -> Self:
        settle_bay(self)
        if problems := bay_problems(self):
            raise CaseError(self.path or self.name, problems)
        return self

    def rows(self) -> list[tuple[str, str]]:
        """Its parts, a line each."""
        return bay_rows(self)

    def branches(self) -> list[tuple[str, list[str]]]:
        """Its parts with their details."""
        return bay_branches(self)

    @property
    def joist_bay(self) -> Self:
        """The joist bay that the case describes, with its floor, plates and water: itself."""
        return self

    @property
    def readers(self) -> tuple[KeyReader, ...]:
        """Who reads keys that not every case uses."""
        return BAY

    @property
    def usual_values(self) -> dict[str, float]:
        """By dotted key what stands for keys that are left out and follow from others, in SI."""
        return usual_values(self)
