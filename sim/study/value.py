"""One key of a case as people see it: its unit and its value."""

from __future__ import annotations

import re
from typing import Any

from sim.case.fields import Quantity
from sim.case.messages import keys_of
from sim.case.quantities import convert
from sim.case.writing import kind_of


def shown_key(case: Any, dotted: str) -> str:
    """A dotted key with the unit that people read: "plates.spacing [mm]", or the key alone for words.

    A part that the case does not have (plates that were taken away) leaves the key without its unit.
    """
    kind = _kind(case, dotted)
    unit = convert(0.0, kind.dimension, "SI")[1] if kind else ""
    return f"{dotted} [{unit}]" if unit else dotted


def shown_value(case: Any, dotted: str) -> Any:
    """The value of a dotted key in the unit of `shown_key`; empty when the case does not have that part."""
    section, name = _place(case, dotted)
    value = getattr(section, name, None)
    kind = _kind(case, dotted)
    if value is None:
        return ""
    return f"{convert(value, kind.dimension, 'SI')[0]:.7g}" if kind and isinstance(value, float) else value


def _kind(case: Any, dotted: str) -> Quantity | None:
    """The quantity that a key holds; None for words, lists and absent parts."""
    section, name = _place(case, dotted)
    if section is None or name not in type(section).model_fields:
        return None
    info = type(section).model_fields[name]
    kind = kind_of(info.annotation, info.metadata)
    return kind if isinstance(kind, Quantity) else None


def _place(case: Any, dotted: str) -> tuple[Any, str]:
    """The section that holds a key, and the attribute's name in it."""
    *sections, last = re.split(r"[.\[]", dotted.replace("]", ""))
    here = case
    for part in sections:
        if here is None:
            break
        here = here[int(part)] if part.isdigit() else getattr(here, _attribute(here, part), None)
    return here, _attribute(here, last)


def _attribute(section: Any, part: str) -> str:
    """File key to attribute name: "covering" is `coverings`."""
    return keys_of(type(section)).get(part, part) if hasattr(type(section), "model_fields") else part
