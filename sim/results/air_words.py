"""Which air is behind some reports, and how far it may be off, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Values = Mapping[str, float]

PLACES = ((60.0, "well inside"), (90.0, "inside"), (100.0, "near the edge of"))
"""Where a bay lies, up to which share of the computed bays lies nearer the middle [%]."""

FEW_SAMPLES = 20.0
"""Independent samples in a mean of computed air below which its record counts as short: its error hangs on chance."""


def limits_of_computed(report: Values, longest: float | None) -> list[str]:
    """What limits the errors that a stored report of computed air tells of itself, a sentence each.

    Parameters
    ----------
    longest : the case's `air.longest` [s], where it is known.

    Examples
    --------
    >>> limits_of_computed({"air_companion_cells": 900.0, "air_samples": 44.0, "air_time_s": 80.0}, 600.0)
    []
    """
    told = []
    if report.get("air_companion_cells") == 0.0:
        told.append("What its mesh costs is told by the layers at walls alone, which see no plumes thinner than cells.")
    if longest is not None and (report.get("air_time_s") or 0.0) >= longest * (1.0 - 1e-6):
        told.append("The time limit, air.longest, ended the run before its means were as well known as asked.")
    samples = report.get("air_samples")  # none too where a run ended before its memory was known
    if samples is not None and samples < FEW_SAMPLES:
        told.append(
            f"The record is short beside the flow's memory: the least known mean rests on about "
            f"{samples:.0f} independent samples, and errors are told larger for it."
        )
    return told


def air_words(reports: Sequence[Values], ripple: bool = False) -> list[str]:
    """One phrase for each kind of air that some reports have.

    Parameters
    ----------
    ripple : whether the band of the ripple is told as well as that of the heat, and how much of the heat goes through
        correlations beyond their measured range.

    Examples
    --------
    >>> air_words([{"air_band_up_percent": 2.3}, {"air_band_up_percent": 3.7}, {"cavity_air_C": 40.0}])
    ['learned films, heat up ± 2 to 4 %', 'air by correlations']
    >>> air_words([{"air_band_up_percent": 2.3, "air_nearer_percent": 30.0}])
    ['learned films, heat up ± 2 %, well inside what was computed']
    >>> air_words([{"cavity_air_C": 40.0, "air_beyond_range_percent": 62.3}], ripple=True)
    ['air by correlations, up to 62 % of its heat beyond their measured range']
    """
    learned = [report for report in reports if "air_band_up_percent" in report]
    words = [_learned(learned, ripple)] if learned else []
    words += ["computed air"] if any("air_error_percent" in report for report in reports) else []
    plain = [report for report in reports if by_correlations(report)]
    return words + ([_plain(plain if ripple else [])] if plain else [])


def _learned(reports: Sequence[Values], ripple: bool) -> str:
    bands = [("heat up", "air_band_up_percent"), *([("ripple", "air_band_ripple_percent")] if ripple else [])]
    told = [f"{name} ± {_range([report[key] for report in reports])} %" for name, key in bands]
    nearer = [report["air_nearer_percent"] for report in reports if "air_nearer_percent" in report]
    return ", ".join(["learned films", *told, *([place_words(nearer)] if nearer else [])])


def place_words(nearer: Sequence[float]) -> str:
    """Where bays lie among the computed ones, by the shares of these that lie nearer their middle [%].

    Examples
    --------
    >>> place_words([20.0]), place_words([99.0, 70.0])
    ('well inside what was computed', 'some inside, some near the edge of what was computed')
    """
    found = [next(word for end, word in PLACES if share <= end) for share in (min(nearer), max(nearer))]
    places = list(dict.fromkeys(found))
    told = places[0] if len(places) == 1 else f"some {places[0]}, some {places[1]}"
    return f"{told} what was computed"


def _plain(reports: Sequence[Values]) -> str:
    beyond = max((report.get("air_beyond_range_percent", 0.0) for report in reports), default=0.0)
    said = f", up to {beyond:.0f} % of its heat beyond their measured range" if beyond >= 1.0 else ""
    return f"air by correlations{said}"


def _range(values: Sequence[float]) -> str:
    ends = dict.fromkeys((f"{min(values):.0f}", f"{max(values):.0f}"))
    return " to ".join(ends)


def longer_words(case: Case) -> str:
    """That a bay's plates are longer than any that taught its films; nothing of other bays."""
    from sim.case.taught import longer_than_taught, uses_learned_films

    if not uses_learned_films(case) or not longer_than_taught(case):
        return ""
    return "its plates are longer than any there and are taken for the longest of them, so the ± are half as wide again"


def correlations_words(cases: Sequence[Case]) -> str:
    """What air by correlations is off by in some bays, as computed air showed; empty where none follows them.

    Examples
    --------
    >>> from sim.case.load import load_case
    >>> oak = load_case("cases/demo/family-oak.toml")
    >>> correlations_words([oak])
    ''
    >>> correlations_words([oak.with_text("air.model", "correlations")]).split(": ")[0]
    'the air follows correlations, no learned films'
    """
    from sim.case.taught import beyond_taught, by_correlations_alone, taught_kind
    from sim.physics.learned_bands import computed_over_correlations

    plain = [case for case in cases if by_correlations_alone(case)]
    if not plain:
        return ""
    ranges = [computed_over_correlations(kind) for kind in {taught_kind(case) for case in plain}]
    up, ripple = ([min(r[n][0] for r in ranges), max(r[n][1] for r in ranges)] for n in ("up", "ripple"))
    outside = any(beyond_taught(case) for case in plain)
    where = ", as it lies outside what was computed" if outside else ", no learned films"
    inside, more = ("inside that, ", "; here the gap may be wider") if outside else ("", "")
    return (
        f"the air follows correlations{where}: {inside}computed air gives {_more_words(up)} heat up and "
        f"{ripple[0]:.1f} to {ripple[1]:.1f} times the stripes in such bays{more}"
    )


def _more_words(times: Sequence[float]) -> str:
    """From how much less or more to how much, by two multiples.

    Examples
    --------
    >>> _more_words([1.02, 1.11]), _more_words([0.9, 1.02]), _more_words([0.997, 1.13])
    ('2 to 11 % more', '10 % less to 2 % more', 'up to 13 % more')
    """
    low, high = (round(100.0 * (each - 1.0)) for each in times)
    if low == 0:
        return f"up to {high} % more"
    if low > 0:
        return f"{low} to {high} % more"
    return f"{-low} to {-high} % less" if high < 0 else f"{-low} % less to {high} % more"


def air_apart(rows: Sequence[Mapping[str, object]]) -> str:
    """What to mind where the air of some choices follows correlations and that of others does not; else nothing.

    Parameters
    ----------
    rows : reports, each with the name of its "choice".

    Examples
    --------
    >>> learned = {"choice": "a", "cavity_air_C": 40.0, "air_band_up_percent": 3.0}
    >>> rows = [learned, {"choice": "b", "cavity_air_C": 40.0}]
    >>> air_apart(rows)
    'Only b: air by correlations, so not to be set beside the others as it stands'
    >>> air_apart(rows[1:])
    ''
    """
    plain = [str(row["choice"]) for row in rows if by_correlations(row)]
    if not plain or len(plain) == sum("cavity_air_C" in row for row in rows):
        return ""
    return f"Only {', '.join(plain)}: air by correlations, so not to be set beside the others as it stands"


def by_correlations(report: Mapping[str, object]) -> bool:
    """Whether a report's cavity air follows correlations, neither learned nor computed."""
    return "cavity_air_C" in report and not {"air_band_up_percent", "air_error_percent"} & report.keys()
