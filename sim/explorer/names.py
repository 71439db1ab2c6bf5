"""What sets one bay apart from another, in a few words: names of pins, and of what has been changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sim.case.quantities import format_value
from sim.explorer.controls import Knob, controls_of

if TYPE_CHECKING:
    from sim.case.bay_case import Case

FORMS = {
    "plates.spacing": "plates every {}",
    "plates.drop": "hung {} down",
    "plates.width": "plates {} wide",
    "plates.length": "plates {} long",
    "water.supply": "water {}",
    "tube.runs": "{} runs",
    "tube.across_spacing": "tube every {}",
    "floor.covering[0].material": "{}",
    "floor.covering[0].thickness": "covering {}",
    "cavity.insulation.thickness": "insulation {}",
}
"""Words for the value of each control."""

SYSTEMS = {"si": "SI", "ip": "IP"}


def what_differs(first: Case, other: Case) -> dict[str, str]:
    """The values of `other` that are not those of `first`, in both systems; empty texts where nothing differs."""
    before = {control.key: control.value for control in controls_of(first)}
    changed = [control for control in controls_of(other) if before.get(control.key) != control.value]
    lost = ["no plates"] if first.plates is not None and other.plates is None else []
    return {
        name: ", ".join([*lost, *(FORMS[one.key].format(_text(one, system)) for one in changed)])
        for name, system in SYSTEMS.items()
    }


def told_apart(cases: Sequence[Case]) -> list[dict[str, str]]:
    """A name for each of several bays: its own values of whatever is not the same in all of them."""
    knobs = [{one.key: one for one in controls_of(case)} for case in cases]
    keys = [key for key in FORMS if len({own[key].value if key in own else None for own in knobs}) > 1]
    return [
        {name: ", ".join(_words(own, key, system) for key in keys if key in own or key == "plates.spacing")
         for name, system in SYSTEMS.items()}
        for own in knobs
    ]  # fmt: skip


def _words(own: Mapping[str, Knob], key: str, system: str) -> str:
    return FORMS[key].format(_text(own[key], system)) if key in own else "no plates"


def _text(control: Knob, system: str) -> str:
    if control.dimension:
        return format_value(float(control.value), control.dimension, system)
    return str(control.value)
