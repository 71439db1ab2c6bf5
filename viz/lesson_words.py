"""The words of a lesson's picture in the reader's units: its title, the names of its cases, the texts of its file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sim.results.people import UNITS, Units
from sim.results.spelling import told
from viz.choice import Choice

_PARTNERS = {unit.si: unit.ip for unit in UNITS.values()}


def told_choices(choices: Sequence[Choice], units: Units) -> list[Choice]:
    """The cases, each under its name in the reader's units."""
    return [replace(choice, name=told(choice.name, units)) for choice in choices]


def told_picture(asked: Mapping[str, Any], units: Units) -> dict[str, Any]:
    """The table [picture] of a lesson's file: its note, the names of its axes, the labels of its `keys`."""
    words: dict[str, Any] = {key: axis_name(asked[key], units) for key in ("unit", "label") if key in asked}
    if "note" in asked:
        words["note"] = told(asked["note"], units)
    if "keys" in asked:
        words["keys"] = [[told(part[0], units), *part[1:]] for part in asked["keys"]]
    return {**asked, **words}


def axis_name(text: str, units: Units) -> str:
    """The name of an axis, which ends in its unit or is nothing else.

    Examples
    --------
    >>> axis_name("heat up into the room, W/m²", "ip"), axis_name("W", "ip")
    ('heat up into the room, Btu/h·ft²', 'Btu/h')
    """
    if units == "si":
        return text
    words, comma, unit = text.rpartition(", ")
    return told(words, units) + comma + _PARTNERS.get(unit, told(unit, units))
