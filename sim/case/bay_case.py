"""The case of one joist bay: all its sections, checked against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from sim.case.conditions import Air, Below, Compare, Mesh, Room, SupplyWater
from sim.case.control import Control
from sim.case.errors import CaseError
from sim.case.fields import NONE, key
from sim.case.parts import Bay, CavityFill, Ceiling, Floor, HeatingTube, Plates, Rim
from sim.case.timing import Time, Weather
from sim.case.whole import WholeCase

if TYPE_CHECKING:
    from sim.case.unused import KeyReader


def _absent() -> Any:
    return {}


class Case(WholeCase):
    """What a user asked for: one joist bay, its heating and its surroundings; SI and kelvin throughout.

    A `Case` that exists has passed every check. Build one with `sim.load_case`, or vary one with `with_`.
    """

    kind: Literal["bay"] = key("bay", "a joist bay")
    name: str = key("case", "short name, the stem of the file")
    path: str | None = key(None, "the file it came from")
    title: str = key("", "one line for people")
    span: Literal["pitch", "bay"] = key(
        "pitch", "one plate pitch along the joists, or the bay from rim to far end"
    )
    bay: Bay = Field(default_factory=Bay, description="joists")
    floor: Floor = Field(default_factory=Floor, description="covering and sheathing")
    plates: Annotated[Plates | None, NONE] = key(None, 'heat-transfer plates, or "none"')
    tube: HeatingTube = Field(default_factory=HeatingTube, description="tube")
    cavity: CavityFill = Field(default_factory=CavityFill, description="insulation in the bay")
    ceiling: Annotated[Ceiling | None, NONE] = Field(
        default_factory=Ceiling, description='board under the joists, or "none"'
    )
    rim: Rim = Field(default_factory=Rim, description="joist at the outside wall")
    water: SupplyWater = Field(default_factory=_absent, validate_default=True, description="water entering the bay")
    room: Room = Field(default_factory=_absent, validate_default=True, description="room above")
    below: Below = Field(default_factory=Below, description="space below")
    air: Air = Field(default_factory=Air, description="air in the bay")
    mesh: Mesh = Field(default_factory=Mesh, description="cells")
    time: Time = Field(default_factory=Time, description="warm-up: how long and from where")
    control: Control = Field(default_factory=Control, description="warm-up: what drives the water")
    weather: Weather = Field(default_factory=Weather, description="warm-up: outdoor temperature")
    compare: Compare = Field(default_factory=Compare, description="choices to compare")

    @model_validator(mode="after")
    def _settle(self) -> Self:
        from sim.case.rules import bay_problems
        from sim.case.settle import settle_bay

        settle_bay(self)
        if problems := bay_problems(self):
            raise CaseError(self.path or self.name, problems)
        return self

    def rows(self) -> list[tuple[str, str]]:
        """Its parts, a line each."""
        from sim.case.tree import bay_rows

        return bay_rows(self)

    def branches(self) -> list[tuple[str, list[str]]]:
        """Its parts with their details."""
        from sim.case.tree import bay_branches

        return bay_branches(self)

    @property
    def readers(self) -> tuple[KeyReader, ...]:
        """Who reads keys that not every case uses."""
        from sim.case.unused import BAY

        return BAY

    @property
    def usual_values(self) -> dict[str, float]:
        """By dotted key what stands for keys that are left out and follow from others."""
        from sim.case.settle import usual_values

        return usual_values(self)
