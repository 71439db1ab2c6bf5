"""What of a bay can be changed by hand: each control with its value, its handy range and what the door asks of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from sim.case.bay_case import Case
from sim.case.fields import Quantity, quantity_kind
from sim.case.materials import load_materials
from sim.case.messages import keys_of, section_at
from sim.case.quantities import convert, format_value

Changes = dict[str, object]
"""New values by dotted key, as `Case.with_` takes them."""

STEPS = {("length", "SI"): 5.0, ("length", "IP"): 0.25, ("temperature", "SI"): 1.0, ("temperature", "IP"): 1.0}
"""What one step of a slider is, in the unit that is shown."""

FINE_STEPS = {"SI": 1.0, "IP": 1.0 / 16.0}
"""The same for layers and drops, in mm and inches."""


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing to change.

    Attributes
    ----------
    key : str
        Dotted key of the case.
    label : str
    value : float or str
        In SI, or one of the choices.
    dimension : str
        A key of `DIMENSIONS`; "" for a whole number or a choice.
    low, high : float
        A handy range in SI; what is typed may lie outside, the case's own rules decide.
    fine : bool
        Whether a small step is wanted.
    choices : tuple of str
        For a choice among names.
    hint : str
        A few words under the control.
    """

    key: str
    label: str
    value: float | str
    dimension: str = ""
    low: float = 0.0
    high: float = 0.0
    fine: bool = False
    choices: tuple[str, ...] = ()
    hint: str = ""

    def as_dict(self) -> dict[str, object]:
        """For the page: texts and slider ends in both unit systems."""
        told: dict[str, object] = {"key": self.key, "label": self.label, "hint": self.hint, "rule": rule_of(self.key)}
        if self.choices:
            return told | {"kind": "choice", "choices": list(self.choices), "value": self.value}
        if not self.dimension:
            return told | {"kind": "whole", "low": self.low, "high": self.high, "value": self.value}
        return told | {"kind": "quantity", "si": self._scale("SI"), "ip": self._scale("IP")}

    def _scale(self, system: str) -> dict[str, object]:
        value = float(self.value)
        low, high, shown = (convert(number, self.dimension, system)[0] for number in (self.low, self.high, value))
        fine = self.fine and self.dimension == "length"
        step = FINE_STEPS[system] if fine else STEPS[self.dimension, system]
        return {
            "unit": convert(value, self.dimension, system)[1],
            "low": round(low / step) * step,
            "high": round(high / step) * step,
            "step": step,
            "value": float(f"{shown:.10g}"),
            "text": format_value(value, self.dimension, system),
        }


def controls_of(case: Case) -> list[Knob]:
    """The controls that a case has, in the order in which they are shown."""
    return [*_plates(case), *_tube(case), *_covering(case), *_insulation(case)]


def _plates(case: Case) -> Iterator[Knob]:
    plates = case.plates
    if plates is None:
        return
    ends = plates.length, max(0.6, plates.spacing, 3.0 * plates.length)
    hint = 'or "none"' if case.tube.direction == "along" else ""
    yield Knob("plates.spacing", "Plates every", plates.spacing, "length", *ends, hint=hint)
    if plates.hung:
        most = min(0.11, _room_below(case) - case.tube.outer_diameter)
        yield Knob("plates.drop", "Plates hang below the subfloor by", plates.drop, "length",
                      *_around(plates.drop, 0.012, most), fine=True)  # fmt: skip
    most = case.bay.clear_width / case.tube.runs if case.tube.direction == "along" else 0.3
    yield Knob("plates.width", "Plate width", plates.width, "length", *_around(plates.width, 0.06, min(most, 0.3)))
    yield Knob("plates.length", "Plate length", plates.length, "length",
                  *_around(plates.length, 0.1, max(plates.spacing, 0.12)))  # fmt: skip


def _tube(case: Case) -> Iterator[Knob]:
    yield Knob("water.supply", "Water entering", float(case.water.supply), "temperature",
                  *_around(float(case.water.supply), 303.15, 353.15))  # fmt: skip
    if case.tube.direction == "along":
        yield Knob("tube.runs", "Runs of tube in the bay", case.tube.runs, low=1, high=3)
    else:
        spacing = case.tube.across_spacing
        yield Knob("tube.across_spacing", "Tube every", spacing, "length", *_around(spacing, 0.1, 0.6))


def _covering(case: Case) -> Iterator[Knob]:
    if not case.floor.coverings:
        return
    top = case.floor.coverings[0]
    names = [row.name for row in load_materials().values() if row.family == "floor coverings"]
    choices = tuple(names if top.material in names else [top.material, *names])
    yield Knob("floor.covering[0].material", "Covering", top.material, choices=choices)
    yield Knob("floor.covering[0].thickness", "Its thickness", top.thickness, "length",
                  *_around(top.thickness, 0.002, 0.03), fine=True)  # fmt: skip


def _insulation(case: Case) -> Iterator[Knob]:
    batt = case.cavity.insulation
    if batt is None:
        return
    worth = " or ".join(format_value(batt.thermal_resistance, "thermal resistance", one) for one in ("SI", "IP"))
    yield Knob("cavity.insulation.thickness", f"Insulation, {batt.material}", batt.thickness, "length",
                  *_around(batt.thickness, 0.03, _deepest(case)), hint=worth)  # fmt: skip


def _room_below(case: Case) -> float:
    """From the sheathing down to the insulation, or to the joists' underside [m]."""
    batt, gap = case.cavity.insulation, case.cavity.air_gap
    if batt is not None and gap is not None:
        return gap
    return case.bay.joist_depth - (batt.thickness if batt else 0.0)


def _deepest(case: Case) -> float:
    """The thickest insulation that plates and tube leave room for [m]."""
    hung = case.plates.drop if case.plates else case.tube.depth
    above = case.cavity.air_gap
    return case.bay.joist_depth - (hung + case.tube.outer_diameter if above is None else above)


def _around(value: float, low: float, high: float) -> tuple[float, float]:
    """A range that holds the value."""
    return min(low, value), max(high, value)


def rule_of(key: str) -> str:
    """What the schema allows for a key, in words; empty where it is no quantity."""
    parts = key.replace("[0]", "").split(".")
    section = section_at(Case, parts[:-1])
    if section is None:
        return ""
    info = section.model_fields[keys_of(section).get(parts[-1], parts[-1])]
    kind = quantity_kind(info.annotation, info.metadata)
    return kind.allowed() if isinstance(kind, Quantity) else ""


def changes_of(case: Case, key: str, text: str) -> Changes:
    """What the text typed at a control changes: a layer that gets thicker stays of the same stuff."""
    follow: Mapping[str, Callable[[], object]] = {
        "floor.covering[0].thickness": lambda: case.floor.coverings[0].conductivity,
        "cavity.insulation.thickness": lambda: case.cavity.insulation and case.cavity.insulation.conductivity,
    }
    kept = {key.rsplit(".", 1)[0] + ".conductivity": follow[key]()} if key in follow else {}
    return {**kept, key: _whole(text) if key == "tube.runs" else text}


def _whole(text: str) -> object:
    """A count as a number, where it is one."""
    return int(text) if text.strip().isdecimal() else text

