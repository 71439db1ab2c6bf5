"""The keys of a house file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import Field, PrivateAttr

from sim.case.fields import key, worked_out
from sim.case.house_parts import Design, HeatedRoom, HeatSource, ManifoldPlace, Prices, Season, Variant
from sim.case.section import Section


class HouseKeys(Section):
    """All sections of a house file, each checked by itself; SI and kelvin throughout."""

    kind: Literal["house"] = key("house", "a house")
    name: str = key("house", "short name, the stem of the file")
    path: str | None = key(None, "the file it came from")
    title: str = key("", "one line for people")
    rooms_file: str | None = key(
        None, "CSV or XLSX file beside this one with name, title, storey, temperature, load, active_area of its rooms"
    )
    design: Design = key(..., "the design day, the water and the circuits")
    prices: Prices | None = key(None, "prices of material, for its cost by heat source")
    season: Season = Field(default_factory=Season, description="the heating season for which energy is summed")
    manifolds: tuple[ManifoldPlace, ...] = key((), "manifolds", alias="manifold")
    rooms: tuple[HeatedRoom, ...] = key((), "rooms that are heated from their bays", alias="room")
    sources: tuple[HeatSource, ...] = worked_out("every profile", "heat sources to lay it out for", alias="source")
    variants: tuple[Variant, ...] = key((), "the house with other bays", alias="variant")
    _origins: Mapping[str, str] = PrivateAttr(default_factory=dict)
    _called: Mapping[str, str] = PrivateAttr(default_factory=dict)

    @property
    def origins(self) -> Mapping[str, str]:
        """Where keys that its file does not say come from: the place in a spreadsheet by key."""
        return self._origins

    @property
    def called(self) -> Mapping[str, str]:
        """What its sections are called in messages, by their place in the file's lists."""
        return self._called

    def room(self, name: str) -> HeatedRoom:
        """The room of a name."""
        return next(room for room in self.rooms if room.name == name)

    def manifold(self, name: str) -> ManifoldPlace:
        """The manifold of a name."""
        return next(manifold for manifold in self.manifolds if manifold.name == name)
