"""One key of a case as people see it: its unit and its value."""

from __future__ import annotations

import re
from typing import Any

from sim.case.case_keys import CaseKeys
from sim.case.fields import Quantity, QuantityGroup, quantity_kind
from sim.case.messages import keys_of
from sim.case.quantities import convert


def shown_key(case: CaseKeys, dotted: str) -> str:
    """A dotted key with the unit that people read: "plates.spacing [mm]", or the key alone for words.

    A part that the case does not have (plates that were taken away) leaves the key without its unit.
    """
    kind = quantity_of(case, dotted)
    unit = convert(0.0, kind.dimension, "SI")[1] if kind else ""
    return f"{dotted} [{unit}]" if unit else dotted


def shown_value(case: CaseKeys, dotted: str) -> object:
    """The value of a dotted key in the unit of `shown_key`; empty when the case does not have that part."""
    value, kind = value_of(case, dotted), quantity_of(case, dotted)
    if value is None:
        return ""
    return f"{convert(value, kind.dimension, 'SI')[0]:.7g}" if kind and isinstance(value, float) else value


def value_of(case: CaseKeys, dotted: str) -> object:
    """The value of a dotted key as the case holds it, in SI; None when the case does not have that part."""
    section, name = _place(case, dotted)
    return _inside(section, name)


def number_of(case: CaseKeys, dotted: str) -> float:
    """The value of a key that holds a number, in SI.

    Raises
    ------
    TypeError
        The key holds a word, a list or nothing.
    """
    value = value_of(case, dotted)
    if not isinstance(value, int | float):
        raise TypeError(f"{dotted} is {value!r}, which is no number")
    return float(value)


def quantity_of(case: CaseKeys, dotted: str) -> Quantity | None:
    """The quantity that a key holds as one number; None for words, counts, lists and absent parts."""
    section, name = _place(case, dotted)
    if isinstance(section, tuple) and name.isdigit():
        section, name = _place(case, re.split(r"[.\[]\d+\]?$", dotted)[0])
    if section is None or name not in getattr(type(section), "model_fields", ()):
        return None
    info = type(section).model_fields[name]
    kind = quantity_kind(info.annotation, info.metadata)
    if isinstance(kind, QuantityGroup) and (kind.scalar or dotted.rstrip("]")[-1].isdigit()):
        return kind.each
    return kind if isinstance(kind, Quantity) else None


def _place(case: CaseKeys, dotted: str) -> tuple[Any, str]:
    """The section that holds a key, and the attribute's name in it."""
    *sections, last = re.split(r"[.\[]", dotted.replace("]", ""))
    here = case
    for part in sections:
        here = _inside(here, part)
    return here, _attribute(here, last)


def _inside(here: Any, part: str) -> Any:
    """A part of a section by its name, or of a list by its number or its own name; None when there is none."""
    if isinstance(here, tuple):
        named = next((number for number, entry in enumerate(here) if getattr(entry, "name", None) == part), len(here))
        place = int(part) if part.isdigit() else named
        return here[place] if place < len(here) else None
    return getattr(here, _attribute(here, part), None)


def _attribute(section: Any, part: str) -> str:
    """File key to attribute name: "covering" is `coverings`."""
    return keys_of(type(section)).get(part, part) if hasattr(type(section), "model_fields") else part
