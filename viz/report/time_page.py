"""The page of warm-ups: what happens in time, for one case or several side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, get_args

import numpy as np

from sim.results.people import Units, convert
from viz.choice import Choice, FloorLimit
from viz.floor_limits import floor_limits, passed_by
from viz.report import chapters
from viz.report.answer import verdict
from viz.report.drawing import Drawing, level_texts
from viz.report.maps import colours_in_words, floor_figure, small_figure
from viz.report.parts import Bullets, Chapter, Figure, Listing, Page, Part, Table, Text
from viz.report.record import RunRecord
from viz.report.run_page import foot_of
from viz.report.told import Told, bare, label_of, listed, same, say, told, verbatim, with_unit
from viz.scales import ZERO_CELSIUS, line_colours

_WARM = {
    "water_supply": "water in", "surface_peak": "floor, warmest", "surface_mean": "floor, mean",
    "surface_trough": "floor, coolest",
    "room": "room", "floor_sensor": "floor sensor",
}  # fmt: skip
_HEAT = {
    "heat_in": "given by the water", "heat_up": "up into the room", "heat_down": "down", "heat_edge": "out at the edges"
}
_ANSWER = (
    "flux_63_h",
    "flux_90_h",
    "surface_90_h",
    "surface_highest_C",
    "water_highest_C",
    "wood_highest_C",
    "water_on_h",
    "energy_in_Wh_m2",
    "energy_up_Wh_m2",
)
COLUMNS = 5
"""Choices side by side in a table."""
_POINTS = 500
"""Places of a line in time."""

_WORDS, _LINE = 38.0, 14.0
"""Room that "63 %" takes to the right, and between two lines of text [px]."""


@dataclass(frozen=True)
class TimeRecord:
    """Stored warm-ups: choices with their series as fields, the case that was varied.

    `last` are their floors at the end, `warmest` what limits and cautions are of each where it was warmest, `back` when
    each is back at its setpoint after a setback, where it is told.
    """

    title: str
    choices: Sequence[Choice]
    case_text: str
    written: str = ""
    last: Sequence[RunRecord] = ()
    warmest: Sequence[RunRecord] = ()
    versions: Mapping[str, str] = field(default_factory=dict)
    back: Sequence[Told] = ()


def time_page(record: TimeRecord) -> Page:
    """Warm-ups as a page."""
    hours = max(float(c.fields["time"].values[-1]) for c in record.choices) / 3600.0
    lead = same(
        f"Followed for {hours:.4g} h." + (f" {len(record.choices)} choices." if len(record.choices) > 1 else "")
    )
    own = [
        Chapter("answer", "In short", [*_said(record), *_verdict(record.warmest), _table(record.choices, _ANSWER)]),
        Chapter("time", "In time", _figures(record)),
        *([_floors(record)] if any(run.floor() for run in record.last) else []),
        *(_kept_in_time(record.warmest) if record.warmest else []),
        Chapter("numbers", "All numbers", [_table(record.choices, tuple(record.choices[0].report))], folded=True),
        Chapter("uncertainty", "How sure this is", [Bullets(_doubts())]),
        Chapter("inputs", "Inputs", _inputs(record), folded=True),
    ]
    return Page(record.title, lead, own, foot_of(record.versions, chapters.ASK if record.warmest else chapters.MODEL))


def _kept_in_time(runs: Sequence[RunRecord]) -> list[Chapter]:
    """Limits and cautions of bays; blocks have none."""
    together = chapters.together([(run.choice.name, run.cautions) for run in runs])
    return [_limits(runs), chapters.cautions_chapter(together)]


def _doubts() -> list[tuple[Told, Told]]:
    return [
        (
            same("Of the numbers."),
            same("Steps in time are as long as the stated tolerance lets them; what the mesh does is not known here."),
        ),
        (same("Of the air's model."), same("As in a run at rest of the same case; its page tells.")),
        (
            same("Of the inputs."),
            same("Not in these numbers. joistbay study tells what uncertain inputs do at rest."),
        ),
    ]


_WARMEST = "Held against the highest values in that time. The air in the bay is not followed: its limit is left out."


def _limits(runs: Sequence[RunRecord]) -> Chapter:
    """Limits against the highest values: of one case with their sources, of several what is left for each."""
    if len(runs) == 1:
        return chapters.limits_chapter(runs[0].limits, runs[0].report, _WARMEST)
    parts: list[Part] = [Text(same(_WARMEST), "note")]
    for start in range(0, len(runs), COLUMNS):
        some = runs[start : start + COLUMNS]
        heads = [same("Limit"), same("At most"), *(verbatim(run.choice.name) for run in some)]
        parts.append(Table(same("What is left of each limit."), heads, chapters.limit_rows(some)))
    sources = {str(limit["what"]): str(limit["source"]) for run in runs for limit in run.limits}
    parts.append(Bullets([(same(f"{what}:"), same(source)) for what, source in sources.items()]))
    return Chapter("limits", "Limits and what is left", parts)


def _verdict(runs: Sequence[RunRecord]) -> list[Part]:
    """Whether limits are broken at any time."""
    if len(runs) == 1:
        found = verdict(runs[0].limits, runs[0].report)
        return [Text(same("At its warmest in that time: ") + found.text, found.kind)]
    broken = [f"{run.choice.name}: {limit['what']}" for run in runs for limit in run.limits if not limit["kept"]]
    words = f"Broken at some time: {'; '.join(broken)}." if broken else "All limits are kept at all times."
    return [Text(same(words), "warn" if broken else "good")] if runs else []


def _said(record: TimeRecord) -> list[Part]:
    """When heat and floor get there, or how far they swing: a sentence, of several choices a line each."""
    back = record.back or [same("")] * len(record.choices)
    each = [b + " " + _of_one(c) if b else _of_one(c) for c, b in zip(record.choices, back, strict=True)]
    if len(each) == 1:
        return [Text(each[0], "answer")]
    return [Bullets([(verbatim(f"{c.name}:"), text) for c, text in zip(record.choices, each, strict=True)])]


def _of_one(choice: Choice) -> Told:
    report = choice.report
    warmest = say("the floor's warmest spot is {} at most", told("surface_highest_C", report.get("surface_highest_C")))
    if _known(report.get("flux_90_h")):
        times = [told(key, report[key]) for key in ("flux_63_h", "flux_90_h")]
        form = "The heat into the room is at 63 % of its steady value after {}, at 90 % after {}; {}."
        return say(form, *times, warmest)
    low, high = (float(f(choice.fields["surface_mean"].values)) - ZERO_CELSIUS for f in (np.min, np.max))
    form = "The floor's mean swings between {} and {}; {}."
    return say(form, told("surface_mean_C", low), told("surface_mean_C", high), warmest)


def _known(value: Any) -> bool:
    return isinstance(value, int | float) and bool(np.isfinite(value))


def _table(choices: Sequence[Choice], keys: Sequence[str]) -> Table:
    heads = [same("Quantity"), *(verbatim(c.name) if c.name else same("value") for c in choices)]
    known = [key for key in keys if any(_known(c.report.get(key)) for c in choices)]
    if len(choices) == 1:
        rows = [[_name_of(k), told(k, choices[0].report.get(k))] for k in known]
    else:  # units stand once, so that columns fit a phone
        rows = [[with_unit(k, _name_of(k)), *(bare(k, c.report.get(k)) for c in choices)] for k in known]
    return Table(same("Numbers over the time followed."), heads, rows)


def _name_of(key: str) -> Told:
    return same("energy, ") + label_of(key) if key.startswith("energy_") else label_of(key)


def _figures(record: TimeRecord) -> list[Part]:
    """Temperatures and flows of one case; one quantity a figure with a line a choice for several.

    The warmest spot of several is drawn where it passes a limit.
    """
    choices = record.choices
    over = passed_by([(run.choice.name, floor_limits(run.limits)) for run in record.warmest])
    if len(choices) == 1:
        return [_of_names(choices[0], _WARM, False, over), _of_names(choices[0], _HEAT, True)]
    wanted = [
        name
        for name in ("surface_mean", *(["surface_peak"] if over else []), "heat_up", "water_supply", "room")
        if any(np.ptp(choice.fields[name].values) > 1e-6 for choice in choices)
    ]
    lines = {name: [(choice, name, choice.name) for choice in choices] for name in wanted}
    limits = {"surface_peak": over}
    return [_figure(lines[n], n.startswith("heat"), (_WARM | _HEAT)[n], limits.get(n, ())) for n in wanted]


Over = Sequence[tuple[FloorLimit, list[str]]]
"""Limits that are passed, each with the names of those that pass it."""


def _of_names(choice: Choice, names: Mapping[str, str], heat: bool, over: Over = ()) -> Figure:
    shown = [n for n in names if n in choice.fields and (n != "heat_edge" or np.abs(choice.fields[n].values).max() > 0)]
    return _figure([(choice, n, names[n]) for n in shown], heat, "heat flows" if heat else "temperatures", over)


Line = tuple[Choice, str, str]


def _figure(lines: Sequence[Line], heat: bool, what: str, over: Over = ()) -> Figure:
    key = "heat_flux_up_W_m2" if heat else "surface_mean_C"
    each = []
    for choice, name, words in lines:
        values = _values(choice, name, heat)
        ends = (told(key, float(values[0])), told(key, float(values[-1])))
        each.append(say("{} from {} to {}", words, *ends))
    alt = same(f"{what.capitalize()} in time: ") + listed(each, "; ") + "."
    marks = " Upright lines: heat into the room at 63 and 90 % of its steady value." if _marks(lines) else ""
    cut = " Peaks of a few minutes at starts of the water are cut off." if heat else ""
    return Figure(lambda width: _draw(lines, heat, width, alt, over), same(f"{what.capitalize()} in time.{marks}{cut}"))


def _values(choice: Choice, name: str, heat: bool) -> Any:
    values = np.asarray(choice.fields[name].values, dtype=float)
    return values if heat else values - ZERO_CELSIUS


def _evenly(choice: Choice, name: str, heat: bool, hours: float) -> Any:
    """A series at even times."""
    time = choice.fields["time"].values / 3600.0
    return np.interp(np.linspace(0.0, hours, _POINTS), time, _values(choice, name, heat))


def _marks(lines: Sequence[Line]) -> list[tuple[float, str]]:
    """Hours at which the heat of a single case has come 63 and 90 % of its way."""
    reports = [choice.report for choice, *_ in lines]
    if any(report is not reports[0] for report in reports):
        return []
    shares = (("flux_63_h", "63 %"), ("flux_90_h", "90 %"))
    return [(float(reports[0][key]), share) for key, share in shares if _known(reports[0].get(key))]


def _draw(lines: Sequence[Line], heat: bool, width: float, alt: Told, over: Over = ()) -> Drawing:
    desk = width > 500
    left, right, top, tall = 52.0, 16.0, 14.0, 230.0
    per_row = 3 if desk else 1
    rows = -(-len(lines) // per_row)
    drawing = Drawing(width, top + tall + 40.0 + 18.0 * rows, alt)
    hours = max(float(c.fields["time"].values[-1]) for c, *_ in lines) / 3600.0
    even = [_evenly(choice, name, heat, hours) for choice, name, _ in lines]
    low = min(float(np.quantile(v, 0.02 if heat else 0.0)) for v in even)
    high = max(float(np.quantile(v, 0.97 if heat else 1.0)) for v in even)
    pad = 0.06 * max(high - low, 1.0)
    low, high = (min(0.0, low) if heat else low) - pad * (not heat), high + pad
    wide = width - left - right
    _axes(drawing, (left, top, wide, tall), (low, high), hours, heat)
    for limit, names in over:
        level = top + tall * (high - limit.highest) / (high - low)
        drawing.line((left, level), (left + wide, level), "ink", 1.4)
        whose = f"; passed by {', '.join(names)}" if desk and any(names) else ""
        named = say("floor at most {}{}", Told(limit.words("si"), limit.words("ip")), whose)
        drawing.text((left + 5.0, level - 5.0), named, 11, "ink", halo=True)
    for number, (values, (colour, (_, dash)), (*_, words)) in enumerate(
        zip(even, line_colours(len(lines)), lines, strict=True)
    ):
        level = top + tall * (high - np.clip(values, low, high)) / (high - low)
        points = list(zip(np.linspace(left, left + wide, _POINTS).tolist(), level.tolist(), strict=True))
        drawing.path(points, colour, 1.9, dash=dash)
        row, column = divmod(number, per_row)
        start = (left + column * wide / per_row, top + tall + 46.0 + 18.0 * row)
        drawing.line(start, (start[0] + 22.0, start[1]), colour, 2.2, dash)
        drawing.text((start[0] + 28.0, start[1] + 4.0), words, 11.5)
    _draw_marks(drawing, [(left + wide * at / hours, words) for at, words in _marks(lines)], (top, top + tall))
    return drawing


def _draw_marks(drawing: Drawing, marks: Sequence[tuple[float, str]], ends: tuple[float, float]) -> None:
    """Upright lines with their words at the bottom; words that would touch those before them stand a line higher."""
    free, level = 0.0, ends[1] - 8.0
    for u, words in marks:
        drawing.line((u, ends[0]), (u, ends[1]), "soft", 1.0, (5, 3))
        level = level - _LINE if u < free else ends[1] - 8.0
        drawing.text((u + 4.0, level), words, 11, "soft", halo=True)
        free = u + _WORDS


def _axes(
    drawing: Drawing, box: tuple[float, float, float, float], ends: tuple[float, float], hours: float, heat: bool
) -> None:
    """Frame, round levels and hours."""
    left, top, wide, tall = box
    key = "heat_flux_up_W_m2" if heat else "surface_mean_C"
    for system in get_args(Units):
        low, high = (convert(key, end, system) for end in ends)
        levels = _round_steps(low, high, most=7)
        for value, words in zip(levels, level_texts(levels), strict=True):
            level = top + tall * (high - value) / (high - low)
            drawing.path([(left, level), (left + wide, level)], "faint", 0.8, system=system)
            text = Told(words, "") if system == "si" else Told("", words)
            drawing.text((left - 6.0, level + 4.0), text, 11, anchor="end")
    unit = Told("W/m²", "Btu/h·ft²") if heat else Told("°C", "°F")
    drawing.text((left - 6.0, top - 3.0), unit, 11, "soft", anchor="end" if not heat else "middle")
    for hour in _round_steps(0.0, hours * 1.0001, most=8):
        u = left + wide * hour / hours
        drawing.line((u, top + tall), (u, top + tall + 4.0), "soft")
        drawing.text((u, top + tall + 16.0), f"{hour:.4g}", 11, anchor="middle")
    drawing.text((left + wide, top + tall + 29.0), "hours", 11, "soft", anchor="end")
    drawing.box((left, top), (wide, tall), colour="soft", width=0.8)


def _round_steps(low: float, high: float, most: int) -> list[float]:
    span = high - low
    steps = [m * 10.0**e for e in range(-3, 5) for m in (1.0, 2.0, 2.5, 5.0)]
    step = next(s for s in steps if span / s <= most)
    return [float(v) for v in np.arange(np.ceil(low / step) * step, high + 1e-9, step)]


def _floors(record: TimeRecord) -> Chapter:
    """The floor at the end of each choice."""
    floors = [floor for run in record.last if (floor := run.floor(run.choice.name)) is not None]
    if len(floors) == 1:
        return Chapter("floor", "The floor at the end", [floor_figure(floors[0], 0.5)])
    words = Text(same("Colours: ") + colours_in_words() + " Solid: plates, dotted: tubes, dashed: joists.", "note")
    return Chapter("floor", "The floors at the end", [words, *(small_figure(f, 0.5 / len(floors)) for f in floors)])


def _inputs(record: TimeRecord) -> list[Part]:
    parts: list[Part] = [Listing(same("As written"), record.written)] if record.written else []
    return [*parts, Listing(same("As understood: every key with its value and unit"), record.case_text)]
