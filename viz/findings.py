"""What a picture shows, in one sentence over it: read from the reports of its runs, empty where they do not tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from sim.results.people import Units, format_value
from viz.choice import Choice

_WARMED = (("plate_mean_C", "plates"), ("cavity_air_C", "air"), ("surface_mean_C", "the floor"))
"""What water warms on its way up, from below."""

_FLOOR = ("surface_mean_C", "surface_peak_C", "surface_trough_C")


def floors_finding(choices: Sequence[Choice], units: Units) -> str:
    """How warm one floor is; of several, which is the evenest and which the most striped.

    Examples
    --------
    >>> report = {"surface_mean_C": 27.7, "surface_peak_C": 28.6, "surface_trough_C": 26.5}
    >>> floors_finding([Choice("", None, report)], "si")
    'The floor is 27.7 °C on average, 28.6 °C at its warmest spot and 26.5 °C at its coolest'
    >>> stripes = [Choice(name, None, {"ripple_K": kelvin}) for name, kelvin in (("close", 2.35), ("wide", 3.81))]
    >>> floors_finding(stripes, "si")
    'Evenest floor: close, ripple 2.35 K; most striped: wide, 3.81 K'
    """
    if len(choices) > 1:
        return _ends(choices, "ripple_K", units, ("Evenest floor: {}, ripple {}", "most striped: {}, {}"))
    mean, warmest, coolest = (_told(choices[0], key, units) for key in _FLOOR)
    if not (mean and warmest and coolest):
        return ""
    return f"The floor is {mean} on average, {warmest} at its warmest spot and {coolest} at its coolest"


def way_finding(choice: Choice, units: Units) -> str:
    """How warm the water makes what lies above it, in the mean, where it is warmer than the floor.

    Examples
    --------
    >>> way_finding(Choice("", None, {"water_mean_C": 50.0, "plate_mean_C": 47.0, "surface_mean_C": 25.6}), "si")
    'Water of 50.0 °C warms plates to 47.0 °C, the floor to 25.6 °C'
    """
    water, floor = (choice.report.get(key) for key in ("water_mean_C", "surface_mean_C"))
    if water is None or floor is None or not water > floor:
        return ""
    parts = [f"{words} to {told}" for key, words in _WARMED if (told := _told(choice, key, units))]
    return f"Water of {_told(choice, 'water_mean_C', units)} warms {', '.join(parts)}"


def water_finding(at_equal_heat: Sequence[Choice | None], units: Units) -> str:
    """Which choice gives the same heat with the coolest water, and which needs the hottest.

    Examples
    --------
    >>> runs = [Choice(name, None, {"water_supply_C": c}) for name, c in (("close", 50.0), ("none", 66.1))]
    >>> water_finding([*runs, None], "si")
    'Coolest water for the same heat: close, 50.0 °C; hottest: none, 66.1 °C'
    """
    words = ("Coolest water for the same heat: {}, {}", "hottest: {}, {}")
    return _ends([run for run in at_equal_heat if run is not None], "water_supply_C", units, words)


def _ends(choices: Sequence[Choice], key: str, units: Units, words: tuple[str, str]) -> str:
    """The choice with the least and that with the most of a number; nothing where they are told alike."""
    known = [choice for choice in choices if _told(choice, key, units)]
    if len(known) < 2:
        return ""
    least, most = (find(known, key=lambda choice: float(choice.report[key])) for find in (min, max))
    low, high = (_told(choice, key, units) for choice in (least, most))
    return "; ".join((words[0].format(least.name, low), words[1].format(most.name, high))) if low != high else ""


def _told(choice: Choice, key: str, units: Units) -> str:
    """A number of the report with its unit; empty where it has none."""
    value: Any = choice.report.get(key)
    return format_value(key, value, units) if isinstance(value, int | float) and math.isfinite(value) else ""
