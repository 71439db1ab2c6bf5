"""What of a house can be changed by hand: of the house itself, and of the room that is chosen."""

from __future__ import annotations

from sim.case.house_case import House
from sim.case.house_load import bay_case
from sim.case.materials import load_materials
from sim.case.quantities import convert, format_value

Control = dict[str, object]
"""For the page: key, label, and either text in both systems or choices as (value, words); the units of bare numbers."""

AS_FILE = "as its bay's file has it"


def house_controls(house: House) -> list[Control]:
    """Those of the whole house."""
    design = house.design
    spacings = [_both_ways(spacing, "length") for spacing in design.spacings]
    told = {system: ", ".join(spacing[system] for spacing in spacings) for system in ("si", "ip")}
    controls: list[Control] = [
        _typed("design.outdoor", "Outdoors on the design day", design.outdoor, "temperature"),
        _typed("design.drop", "Water cools on its way by", design.drop, "temperature difference"),
        _typed("design.water_limit", "Water at most", design.water_limit, "temperature"),
        {"key": "design.spacings", "label": "Plate spacings allowed", "kind": "text", **told,
         "unit": _units(0.3, "length"), "hint": 'with commas; "none" for no plates'},
    ]  # fmt: skip
    written = "sources" in house.model_fields_set
    for number, source in enumerate(house.sources if written else ()):
        label = f"{source.name}, at most"
        controls.append(_typed(f"source.{number}.supply", label, source.supply, "temperature", "left out: all it can"))
    return controls


def room_controls(house: House, number: int) -> list[Control]:
    """Those of one room."""
    room, where = house.rooms[number], f"room.{number}"
    coverings = bay_case(house, number).floor.coverings
    names = [row.name for row in load_materials().values() if row.family == "floor coverings"]
    top = coverings[0].material if coverings else ""
    names = names if top in names or not top else [top, *names]
    controls: list[Control] = [
        {"key": f"{where}.covering", "label": "Covering", "kind": "choice", "value": top,
         "choices": [["", AS_FILE], *([name, name] for name in names)]},
    ]  # fmt: skip
    if coverings:
        controls.append(_typed(f"{where}.thickness", "Its thickness", coverings[0].thickness, "length"))
    if room.losses is None:
        controls.append(_typed(f"{where}.load", "Heat it loses on the design day", room.load, "heat flow"))
    controls.append(_typed(f"{where}.temperature", "Room temperature", room.temperature, "temperature"))
    given = "" if "sets_water" not in room.model_fields_set or room.sets_water is None else room.sets_water
    value = {"": "", True: "yes", False: "no"}[given]
    choices = [["", "where its floor can serve it"], ["yes", "yes"], ["no", "no, it may fall short"]]
    controls.append({"key": f"{where}.sets_water", "label": "May it set the water of the house?", "kind": "choice",
                     "value": value, "choices": choices})  # fmt: skip
    return controls


def _typed(key: str, label: str, value: float | None, dimension: str, hint: str = "") -> Control:
    told = {"key": key, "label": label, "kind": "text", "hint": hint, **_both_ways(value, dimension, "")}
    return told | {"unit": _units(value or 0.0, dimension)}


def _units(value: float, dimension: str) -> dict[str, str]:
    """What a number without a unit is in, as on the page of a bay."""
    return {name.lower(): convert(value, dimension, name)[1] for name in ("SI", "IP")}


def _both_ways(value: float | None, dimension: str, nothing: str = "none") -> dict[str, str]:
    if value is None:
        return {"si": nothing, "ip": nothing}
    return {name.lower(): format_value(value, dimension, name) for name in ("SI", "IP")}
