"""The keys of one joist bay, section by section."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from sim.case.bay_parts import Bay, CavityFill, Ceiling, Floor, HeatingTube, Plates, Rim
from sim.case.case_keys import CaseKeys
from sim.case.conditions import Air, Below, Compare, Mesh, Room, SupplyWater
from sim.case.control import Control
from sim.case.fields import NONE, key
from sim.case.timing import Time, Weather


def _absent() -> Any:
    return {}


class BayKeys(CaseKeys):
    """All sections of a bay case, each checked by itself; SI and kelvin throughout."""

    kind: Literal["bay"] = key("bay", "a joist bay")
    name: str = key("case", "short name, the stem of the file")
    path: str | None = key(None, "the file it came from")
    title: str = key("", "one line for people")
    span: Literal["pitch", "bay"] = key(
        "pitch", "one plate pitch along the joists, or the bay from rim to far end"
    )
    bay: Bay = Field(default_factory=Bay, description="joists")
    floor: Floor = Field(default_factory=Floor, description="covering, subfloor and rugs")
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

    @property
    def listed_spacings(self) -> tuple[float | None, ...]:
        """Plate spacings that its file lists to be compared [m], None for no plates."""
        return self.compare.spacing

    @property
    def named_files(self) -> dict[str, str | None]:
        """By dotted key the files and run folders beside it that it names, which its results rest on."""
        return {"weather.file": self.weather.file, "air.calibration": self.air.calibration}
