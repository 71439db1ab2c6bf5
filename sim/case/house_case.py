"""The file of a house: its sections, checked against each other.

What needs the bays' own cases is checked when the bays are placed, in `sim.house.place`.
"""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from sim.case.errors import CaseError
from sim.case.house_keys import HouseKeys
from sim.case.house_rules import house_problems, settle_house
from sim.case.house_tree import house_html, house_rows, house_tree
from sim.case.tree import headline
from sim.machine.brief import small_tree


class House(HouseKeys):
    """What a user asked for: a house of rooms that are heated from their joist bays.

    A `House` that exists has passed the checks that need no bay. Build one with `sim.case.house_load.load_house`.
    """

    @model_validator(mode="after")
    def _settle(self) -> Self:
        settle_house(self)
        if problems := house_problems(self):
            raise CaseError(self.path or self.name, problems)
        return self

    def __repr__(self) -> str:
        return small_tree(headline("House", self.name, self.title), house_rows(self))

    def _repr_html_(self) -> str:
        return house_html(self)

    def __str__(self) -> str:
        return house_tree(self)
