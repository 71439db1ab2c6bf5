"""How air alone ended, in words: at rest, steady, growing or decaying."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sim.results.people import Units, shown_value

STILL = 0.01
"""Péclet number (speed L/α) up to which air is at rest: nothing of it would be seen."""

WEAK = 0.1
"""Péclet number up to which motion carries no heat to speak of."""

IDLE_RATE = 0.02
"""Growth or decay per L²/α below which a flow is told as neither."""

NEAR_ONSET = 11.4
"""Growth per L²/α of the critical roll between plates over the share by which Ra lies above onset (Pr 0.71): the slope
at onset of the rates of linear stability (equations of Chandrasekhar 1961, chapter II). A mesh moves the onset by about
the share by which it moves the heat."""


def air_headline(report: Mapping[str, float]) -> list[str]:
    """Keys of what a sweep of air alone is about: Rayleigh number, Nusselt number of every surface, highest speed."""
    walls = [key for key in report if key.startswith("nusselt_") and not key.endswith(_NOT_OF_A_WALL)]
    speeds = [key for key in ("air_speed_highest", "air_speed_highest_mm_s") if key in report]
    return ["rayleigh", *walls, *speeds] if walls else []


_NOT_OF_A_WALL = ("_error", "_uncertainty", "_symmetry", "_highest", "_lowest") + tuple(
    f"_{end}_at_{axis}{unit}" for end in ("highest", "lowest") for axis in "xyz" for unit in ("", "_mm")
)


def is_still(report: Mapping[str, float]) -> bool:
    """Whether the air of a report is at rest."""
    return 0.0 <= float(report.get("peclet", 1.0)) < STILL


def told_number(report: Mapping[str, float], key: str, units: Units = "si") -> str:
    """A number of a report for a class, with its band where there is one; speeds of air at rest as words.

    Examples
    --------
    >>> told_number({"peclet": 1e-5, "air_speed_highest_mm_s": 2e-4}, "air_speed_highest_mm_s")
    'at rest'
    """
    if key.startswith("air_speed") and is_still(report):
        return "at rest"
    return shown_value(report, key, units)


def motion_words(report: Mapping[str, float]) -> str:
    """What the air does at the end, as a phrase for titles.

    Examples
    --------
    >>> motion_words({"peclet": 1e-20, "steady": 0.0})
    'at rest'
    >>> motion_words({"peclet": 0.04, "steady": 0.0, "kinetic_energy_growth": -0.12})
    'a weak disturbance that decays at 0.12 per L²/α'
    """
    peclet, steady = float(report.get("peclet", 1.0)), bool(report.get("steady", 0.0))
    rate = float(report.get("kinetic_energy_growth", 0.0))
    if peclet < STILL:
        return "at rest"
    if peclet < WEAK:
        return f"a weak disturbance that {_does(rate)}"
    return "steady" if steady else "unsteady"


def _does(rate: float) -> str:
    if abs(rate) < IDLE_RATE:
        return f"hardly grows or decays ({rate:+.2g} per L²/α)"
    return f"{'grows' if rate > 0.0 else 'decays'} at {abs(rate):.2g} per L²/α"


def ending(report: Mapping[str, float]) -> str:
    """How the run ended, in full sentences; "steady" is said only where nothing grows."""
    steady, rest = bool(report.get("steady", 0.0)), is_still(report)
    if "disturbance_growth" in report:
        return _after_disturbance(report, steady)
    if rest and not steady:
        return "The air is at rest."
    if steady:
        return "The flow is steady: no speed grows or decays, and nothing changes, faster than air.steady allows."
    rate = float(report.get("kinetic_energy_growth", 0.0))
    grows = f"At the end its speeds {_does(rate).replace('grows', 'grow').replace('decays', 'decay')}."
    if float(report.get("peclet", 1.0)) < WEAK:
        return f"What moves is {motion_words(report)}; too weak to carry heat. Follow it longer (air.longest)."
    return f"The flow did not become steady; values are means over the averaging time (air.average_from). {grows}"


def _after_disturbance(report: Mapping[str, Any], steady: bool) -> str:
    rate, number = float(report["disturbance_growth"]), int(report["disturbance_number"])
    noise = f"random noise {report['disturbance_height']:g} ΔT high (air.noise = {number})"
    if rate <= 0.0:
        return f"Steady: the air is at rest, and {noise} in it decays at {-rate:.2g} per L²/α." + _doubt(report)
    raised = float(report.get("disturbance_raised", 1.0))
    grown = f"Rest does not last here: {noise} grows at {rate:.2g} per L²/α.{_doubt(report)}"
    grown += f" Raised {raised:.0f}-fold to save time, it was followed on." if raised > 1.0 else ""
    return f"{grown} {'The flow at the end is steady.' if steady else 'Follow it longer (air.longest).'}"


def _doubt(report: Mapping[str, Any]) -> str:
    """What to mind where a rate is so small that the cells may decide its sign."""
    cells = NEAR_ONSET * float(report.get("air_mesh_error_percent", 0.0)) / 100.0
    near = abs(float(report["disturbance_growth"])) < cells
    return " So near onset the cells may decide: make them smaller to be sure." if near else ""
