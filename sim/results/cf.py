"""Attributes by the climate and forecast conventions (CF 1.11), so that other programs know what a field is.

Temperatures are kelvin on the scale, in every file and array of this program; `units_metadata` says so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import xarray

CONVENTIONS = "CF-1.11"
SOURCE = "joistbay: three-dimensional model of a heated wood-floor joist bay"

_AXES = {"x": ("X", "across the joists"), "y": ("Y", "along the joists"), "z": ("Z", "upwards")}

_WORDS: Mapping[str, str] = {
    "material": "material of the cell",
    "floor_temperature": "temperature of the floor surface",
    "floor_heat_flux": "heat flux from the floor into the room",
    "ceiling_temperature": "temperature of the underside",
    "ceiling_heat_flux": "heat flux from the underside to the space below",
    "water_temperature": "mean temperature of the water in each segment of each run",
    "air_zone": "zone of the cavity's air",
    "zone_temperature": "mean air temperature of each zone",
    "air_wall_area": "area of the wall face",
    "air_wall_temperature": "temperature of the wall face",
    "air_wall_part": "part that the wall face belongs to",
}
"""Long names of fields that have none of their own."""

_STANDARD = {"air_temperature": "air_temperature", "air_temperature_now": "air_temperature"}


def with_conventions(dataset: xarray.Dataset) -> xarray.Dataset:
    """The dataset with conventions, source, and for each variable what it is, its unit and its scale."""
    found = dataset.copy()
    for name in found.variables:
        found[name].attrs = _attributes(str(name), dict(found[name].attrs))
    return found.assign_attrs(Conventions=CONVENTIONS, source=SOURCE)


def floor_attributes(words: str) -> dict[str, str]:
    """Attributes of a temperature of the floor surface [K]."""
    return {"units": "K", "units_metadata": "temperature: on_scale", "long_name": words}


def _attributes(name: str, known: dict[str, Any]) -> dict[str, Any]:
    """What is known of a variable, with what the conventions add."""
    own = known | _of_axis(name, known)
    if "long_name" not in own and name in _WORDS:
        own["long_name"] = _WORDS[name]
    if own.get("units") == "K":
        own["units_metadata"] = "temperature: on_scale"
    if name in _STANDARD:
        own["standard_name"] = _STANDARD[name]
    return own | _flags(own.get("names"))


def _of_axis(name: str, known: Mapping[str, Any]) -> dict[str, str]:
    """Axis and meaning of a coordinate in space."""
    stem = name.removesuffix("_edge").removeprefix("air_")
    if stem not in _AXES or known.get("units") not in ("m", "1"):
        return {}
    axis, words = _AXES[stem]
    ends = ", cell edges" if name.endswith("_edge") else ", cell centres"
    upwards = {"positive": "up"} if axis == "Z" else {}
    whole = {} if name.endswith("_edge") else {"axis": axis}
    return whole | upwards | {"long_name": words + ends}


def _flags(names: Any) -> dict[str, Any]:
    """Numbers with names as flags: meanings are single words, in the order of the numbers."""
    if not isinstance(names, str):
        return {}
    words = [str(word) for word in json.loads(names)]
    meanings = " ".join("_".join(word.replace(",", "").split()) for word in words)
    return {"flag_values": list(range(len(words))), "flag_meanings": meanings}
