"""Write a case back as the plain data of a TOML file, every key with its value and unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from sim.case.fields import Quantity, QuantityGroup, quantity_kind
from sim.case.messages import models_in, unwritten

_FOLLOWS = {"coverage": "spacing"}
"""Keys that always follow from another one that is written."""
_TWINS = (("conductivity", "thermal_resistance"), ("film", "resistance"))
"""Pairs of which only one is written, since the other follows from it."""


def resolved(section: BaseModel) -> dict[str, object]:
    """Every key of a section; parts that are absent are "none", other keys without a value are left out."""
    data: dict[str, Any] = {}
    for name, info in type(section).model_fields.items():
        value = getattr(section, name)
        if name in unwritten(type(section)) or name in _FOLLOWS or name == _weaker_twin(section):
            continue
        if value is None:
            if _can_be_none(info.annotation):
                data[info.alias or name] = "none"
            continue
        data[info.alias or name] = _written(value, quantity_kind(info.annotation, info.metadata))
    return data


def _weaker_twin(section: BaseModel) -> str:
    """Of two keys that settle each other, the one that the user did not write."""
    for first, second in _TWINS:
        if {first, second} <= type(section).model_fields.keys():
            return first if second in section.model_fields_set else second
    return ""


def _can_be_none(annotation: Any) -> bool:
    """Whether the word "none" stands for the absence of this part."""
    return next(models_in(annotation), None) is not None


def _written(value: Any, kind: Quantity | QuantityGroup | None) -> Any:
    if isinstance(value, BaseModel):
        return resolved(value)
    if isinstance(kind, QuantityGroup):
        return kind.write(value)
    if isinstance(value, tuple):
        return [_written(entry, kind) for entry in value]
    if value is None:
        return "none"
    return kind.write(value) if kind else value


def case_text(case: BaseModel) -> str:
    """A case as TOML, every key with its value and unit."""
    return plain_toml(resolved(case))


def plain_toml(data: Mapping[str, object]) -> str:
    """Plain data as TOML."""
    import tomli_w

    return tomli_w.dumps(data)
