"""A case as a short file: what its writer stated, in the units that are read, and nothing that follows by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from sim.case.fields import Quantity, QuantityGroup, quantity_kind
from sim.case.messages import unwritten
from sim.case.quantities import DIMENSIONS, UnitError, convert, parse
from sim.case.writing import plain_toml

if TYPE_CHECKING:
    from sim.case.bay_case import Case

NAMES = {"°C": "degC", "°F": "degF"}
"""Units as a case file writes them."""

SHORT = 2.0
"""Distances below it are written in mm or inches [m]."""


def short_text(case: Case, system: str) -> str:
    """A case as TOML; read back it gives an equal case.

    Parameters
    ----------
    system : "SI" or "IP"
        Units of what can be written in them without loss.
    """
    return f"# {case.name}, as it stood in the explorer.\n{plain_toml(_stated(case, system))}"


def _stated(section: BaseModel, system: str) -> dict[str, Any]:
    """The keys of a section that its writer stated."""
    data: dict[str, Any] = {}
    for name, info in type(section).model_fields.items():
        if name in unwritten(type(section)) or name not in section.model_fields_set:
            continue
        value = getattr(section, name)
        if (written := _written(value, quantity_kind(info.annotation, info.metadata), system)) is not None:
            data[info.alias or name] = written
    return data


def _written(value: Any, kind: Quantity | QuantityGroup | None, system: str) -> Any:
    if isinstance(value, BaseModel):
        return _stated(value, system)
    if isinstance(value, tuple):
        each = kind.each if isinstance(kind, QuantityGroup) else kind
        return [_written(entry, each, system) for entry in value]
    if value is None:
        return "none"
    quantity = kind.each if isinstance(kind, QuantityGroup) else kind
    return in_units(value, quantity, system) if quantity else value


def in_units(value: float, kind: Quantity, system: str) -> str | float:
    """A quantity in the units that are read, where that text gives back the same number; else in SI.

    >>> in_units(0.2286, Quantity("length"), "IP"), in_units(0.225, Quantity("length"), "SI")
    ('9 in', '225 mm')
    """
    if kind.dimension == "fraction":
        return value
    short = kind.dimension == "distance" and abs(value) < SHORT
    for one in (system, "IP" if system == "SI" else "SI"):
        number, unit = convert(value, "length" if short else kind.dimension, one)
        text = f"R-{number:.10g}" if unit == "R" else f"{number:.10g} {NAMES.get(unit, unit)}"
        if _reads_back(text, kind.dimension, value):
            return text
    return kind.write(value)  # type: ignore[return-value]


def _reads_back(text: str, dimension: str, value: float) -> bool:
    try:
        return DIMENSIONS[dimension].unit != "" and parse(text, dimension) == value
    except UnitError:
        return False
