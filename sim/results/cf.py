"""What every field says of itself, by the climate and forecast conventions (CF-1.11): unit, name, meaning of numbers.

Temperatures are in kelvin and lengths in metres throughout. Units are written so that UDUNITS and pint read them.
Standard names are given where the conventions' table has one that is true of a joist bay; the others have long names.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray

CONVENTIONS = "CF-1.11"

UNITS_OF = "temperatures in K, lengths in m, heat in W, times in s"

SCALES_OF = "dimensionless: lengths in L, temperatures in the difference dT, velocities in alpha/L, times in L^2/alpha"

_UNITS = {"W/m2": "W/m^2", "J/m2": "J/m^2", "W/m2K": "W/(m^2 K)", "m2": "m^2"}
"""Units as our tables write them, and as the conventions' readers understand them."""

FIELDS: Mapping[str, tuple[str, str, str]] = {
    "temperature": ("K", "", "temperature of solids, and of still air"),
    "material": ("1", "", "material of the cell"),
    "floor": ("K", "surface_temperature", "floor surface temperature"),
    "floor_temperature": ("K", "surface_temperature", "floor surface temperature"),
    "floor_heat_flux": ("W/m^2", "surface_upward_heat_flux_in_air", "heat flux from the floor into the room"),
    "ceiling_temperature": ("K", "", "temperature of the surface below"),
    "ceiling_heat_flux": ("W/m^2", "", "heat flux down from the surface below"),
    "water_temperature": ("K", "", "mean water temperature of a segment of tube"),
    "water_position": ("m", "", "place along the run, in flow order"),
    "air_zone": ("1", "", "zone of cavity air"),
    "zone_temperature": ("K", "air_temperature", "mean air temperature of a zone"),
    "air_temperature": ("K", "air_temperature", "mean air temperature"),
    "air_temperature_now": ("K", "air_temperature", "air temperature at the end"),
    "air_velocity_x": ("m/s", "x_wind", "mean air velocity along x"),
    "air_velocity_y": ("m/s", "y_wind", "mean air velocity along y"),
    "air_velocity_z": ("m/s", "upward_air_velocity", "mean air velocity along z"),
    "air_velocity_x_now": ("m/s", "x_wind", "air velocity along x at the end"),
    "air_velocity_y_now": ("m/s", "y_wind", "air velocity along y at the end"),
    "air_velocity_z_now": ("m/s", "upward_air_velocity", "air velocity along z at the end"),
    "air_wall_side": ("1", "", "side of the air cell on which the wall lies"),
    "air_wall_part": ("1", "", "part that the wall belongs to"),
    "air_wall_area": ("m^2", "", "area of the wall face"),
    "air_wall_temperature": ("K", "surface_temperature", "temperature of the wall face"),
    "air_wall_heat_flux": ("W/m^2", "", "mean heat flux into the air"),
    "air_wall_film": ("W/(m^2 K)", "", "mean heat flux over wall less mean air temperature"),
    "time": ("s", "", "time since the start"),
    "snapshot": ("s", "", "time since the start"),
}
"""Unit, standard name and long name by the name of a variable."""

_WAYS = {"x": "across the joists", "y": "along the joists", "z": "upwards"}
_SIDES = ("x_low", "x_high", "y_low", "y_high", "z_low", "z_high")


def describe(fields: xarray.Dataset, *, dimensionless: bool = False) -> xarray.Dataset:
    """The dataset with units, names and meanings at every variable, and which conventions they follow."""
    described = fields.copy()
    for name in fields.variables:
        described[name].attrs = attributes(str(name), fields[name], dimensionless)
    scales = SCALES_OF if dimensionless else UNITS_OF
    return described.assign_attrs(Conventions=CONVENTIONS, comment=scales, source="joistbay")


def attributes(name: str, values: xarray.DataArray, dimensionless: bool = False) -> dict[str, object]:
    """What one variable says of itself; what it said before stays where nothing is known better."""
    own = dict(values.attrs)
    known = FIELDS.get(name.removeprefix("snapshot_")) or _place(name)
    if known is not None:
        unit, standard, words = known
        own |= {"units": unit, "long_name": words} | ({"standard_name": standard} if standard else {})
        own |= _axis(name)
    elif "units" in own:
        own["units"] = _UNITS.get(own["units"], own["units"])
    if name == "air_wall_side":
        own |= flags(_SIDES, 0)
    if "flag_values" in own:
        own["flag_values"] = np.asarray(own["flag_values"]).astype(values.dtype)
    if dimensionless:
        own.pop("standard_name", None)
        own["units"] = "1"
    return own


def flags(meanings: Sequence[str], first: int) -> dict[str, object]:
    """Attributes of a variable whose whole numbers stand for words, counted from `first`.

    >>> flags(["void", "aluminium 3003"], -1)["flag_meanings"]
    'void aluminium_3003'
    """
    # CF 1.11, section 3.5: words of letters, digits and "_ - . + @", parted by blanks
    words = ["_".join(re.findall(r"[\w.+@-]+", meaning)) or "unnamed" for meaning in meanings]
    return {"flag_values": np.arange(first, first + len(words), dtype=np.int16), "flag_meanings": " ".join(words)}


def _place(name: str) -> tuple[str, str, str] | None:
    """A coordinate of the grid, its edges, or the place of a wall face."""
    bare = name.removeprefix("air_wall_").removeprefix("air_").removesuffix("_edge")
    if bare not in _WAYS:
        return None
    what = "cell edge" if name.endswith("_edge") else "wall face" if "wall" in name else "cell centre"
    return "m", "", f"{what} {_WAYS[bare]}"


def _axis(name: str) -> dict[str, str]:
    """Which axis a coordinate of cells is."""
    bare = name.removeprefix("air_")
    if bare == "time":
        return {"axis": "T"}
    return {"axis": bare.upper()} | ({"positive": "up"} if bare == "z" else {}) if bare in _WAYS else {}
