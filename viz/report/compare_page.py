"""The page of a comparison: choices side by side, at equal water and at equal heat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import nan

from sim.results.air_words import air_words
from sim.results.people import QUANTITIES, quantity
from viz.floor_limits import passed
from viz.report import chapters
from viz.report.maps import colours_in_words, hatching, small_figure
from viz.report.parts import Bullets, Chapter, Listing, Page, Part, Table, Text
from viz.report.profile import profile_figure
from viz.report.record import RunRecord, Warned
from viz.report.run_page import foot_of
from viz.report.told import NOTHING, Told, bare, cited, label_of, same, say, told, verbatim, with_unit

COLUMNS = 5
"""Choices side by side in a table; more of them go into a further table."""
MOST_MAPS = 36
"""Floors that are drawn; of more choices the first."""
_ALIKE = 1e-6
"""Difference of water that is rounding [K]."""
MOST_LINES = 7
"""Lines in one figure; more choices go into further figures."""
_GLANCE = (
    "heat_flux_up_W_m2", "surface_mean_C", "surface_peak_C", "surface_trough_C", "ripple_K", "share_down_percent",
    "water_supply_C", "plates_per_m2",
)  # fmt: skip
_WORDS = {
    "surface_mean_C": "floor, mean", "surface_peak_C": "floor, warmest", "surface_trough_C": "floor, coolest",
    "ripple_K": "ripple", "water_supply_C": "water, supply", "plates_per_m2": "plates",
}  # fmt: skip
_HELD = {
    "water": "each at the water its case states", "heat": "each with the water that gives the same heat upwards",
}


@dataclass(frozen=True)
class ComparedRecord:
    """One choice: its name, its runs (None where there is none), and why there is none."""

    name: str
    water: RunRecord | None
    heat: RunRecord | None
    trouble: str = ""

    def run(self, equal: str) -> RunRecord | None:
        """Its run at equal "water" or "heat"."""
        return self.water if equal == "water" else self.heat


@dataclass(frozen=True)
class ComparisonRecord:
    """A stored comparison. `answer` is its own sentence on which choice meets the wish, where it has one."""

    title: str
    choices: Sequence[ComparedRecord]
    case_text: str
    written: str = ""
    answer: Told = field(default_factory=lambda: same(""))
    flux: float | None = None
    versions: Mapping[str, str] = field(default_factory=dict)

    def with_run(self, equal: str) -> list[tuple[ComparedRecord, RunRecord]]:
        """Choices that have a run at equal "water" or "heat"."""
        return [(c, run) for c in self.choices if (run := c.run(equal)) is not None]


def compare_page(record: ComparisonRecord) -> Page:
    """A comparison as a page."""
    count = len(record.with_run("water")) or len(record.choices)
    lead = same(f"{count} choices side by side.")
    own = [
        Chapter("answer", "In short", list(_in_short(record))),
        *(_floors(record, equal) for equal in ("heat", "water") if record.with_run(equal)),
        _limits(record),
        chapters.cautions_chapter(_all_cautions(record)),
        *(_numbers(record, equal) for equal in ("heat", "water") if record.with_run(equal)),
        _doubts(record),
        _inputs(record),
    ]
    return Page(record.title, lead, own, foot_of(record.versions))


def _in_short(record: ComparisonRecord) -> Iterator[Part]:
    """The sentences, both tables (that of equal heat first, which is the fair one), what is out of reach."""
    first, *others = _sentences(record.answer or _spread(record))
    yield Text(first, "answer")
    yield from (Text(sentence) for sentence in others)
    for equal in ("heat", "water"):
        if found := record.with_run(equal):
            yield from _tables(found, _GLANCE, _held(record, equal) + ": at a glance.", limits=True)
    troubles = [(verbatim(f"{c.name}."), same(c.trouble)) for c in record.choices if c.trouble]
    if troubles:
        yield Bullets(troubles)


def _sentences(answer: Told) -> list[Told]:
    """The lines of an answer; what was asked and what meets it are one."""
    lines = [Told(*pair) for pair in zip(answer.si.split("\n"), answer.ip.split("\n"), strict=True)]
    return [lines[0] + " " + lines[1], *lines[2:]] if len(lines) > 1 and lines[0].si.endswith(":") else lines


def _held(record: ComparisonRecord, equal: str) -> Told:
    """What all choices of a table have in common: their water, where it is one; else what each has of its own."""
    supplies = [float(run.report.get("water_supply_C", nan)) for _, run in record.with_run(equal)]
    if equal == "water" and max(supplies) - min(supplies) < _ALIKE:
        return say("All with water of {}", told("water_supply_C", supplies[0]))
    words = _HELD[equal]
    return same(words[:1].upper() + words[1:])


def _short(record: ComparisonRecord, equal: str) -> str:
    """The same in a heading."""
    alike = _held(record, equal).si.startswith("All ")
    return {"water": "at equal water" if alike else "each with its own water", "heat": "at equal heat"}[equal]


def _spread(record: ComparisonRecord) -> Told:
    """What the choices change, where the comparison has no sentence of its own."""
    found = record.with_run("water") or record.with_run("heat")
    if not found:
        return same("No choice could be solved.")
    key = "heat_flux_up_W_m2"
    most, least = (f(found, key=lambda pair: float(pair[1].report[key])) for f in (max, min))
    stripes = min(found, key=lambda pair: float(pair[1].report.get("ripple_K", 0.0)))
    form = "Most heat: {}, {}. Least: {}, {}. The evenest floor: {}, with a ripple of {}."
    values = [x for c, run in (most, least) for x in (c.name, told(key, run.report[key]))]
    return say(form, *values, stripes[0].name, told("ripple_K", stripes[1].report.get("ripple_K")))


def _tables(
    found: Sequence[tuple[ComparedRecord, RunRecord]], keys: Sequence[str], caption: Told, limits: bool = False
) -> Iterator[Table]:
    """Quantities as rows, choices as columns, so many at a time; under groups where there are many."""
    for start in range(0, len(found), COLUMNS):
        some = found[start : start + COLUMNS]
        heads = [same(""), *(verbatim(c.name) for c, _ in some)]
        known = [key for key in keys if any(run.report.get(key) is not None for _, run in some)]
        rows = [[with_unit(key, _name_of(key)), *(bare(key, run.report.get(key)) for _, run in some)] for key in known]
        rows = rows if limits else _under_groups(known, rows)
        if limits:
            rows.append([same("limits"), *(_limit_word(run) for _, run in some)])
        yield Table(caption, heads, rows)


def _under_groups(keys: Sequence[str], rows: Sequence[list[Told]]) -> list[list[Told]]:
    """Rows of a report's numbers in its order, each group under its heading."""
    order = {key: number for number, key in enumerate(QUANTITIES)}
    ranked = sorted(zip(keys, rows, strict=True), key=lambda pair: order.get(pair[0], len(order)))
    groups: dict[str, list[list[Told]]] = {}
    for key, row in ranked:
        groups.setdefault(quantity(key).group, []).append([with_unit(key, label_of(key)), *row[1:]])
    return [line for group, under in groups.items() for line in ([same(group)], *under)]


def _name_of(key: str) -> Told:
    return same(_WORDS[key]) if key in _WORDS else label_of(key)


def _limit_word(run: RunRecord) -> Told:
    if not run.limits:
        return same(NOTHING)
    broken = [limit for limit in run.limits if not limit["kept"]]
    return same(f"BROKEN: {', '.join(str(limit['what']) for limit in broken)}" if broken else "all kept")


def _floors(record: ComparisonRecord, equal: str) -> Chapter:
    """Maps on one scale, and profiles."""
    found = record.with_run(equal)
    floors = [floor for c, run in found[:MOST_MAPS] if (floor := run.floor(c.name)) is not None]
    limits = {hatching(floor) for floor in floors}
    alike = len(limits) == 1 and not any(passed(floor.plan, floor.limits) for floor in floors)
    words = say("{}. Colours: {}", _held(record, equal), colours_in_words()) + (limits.pop() if alike else "")
    parts: list[Part] = [Text(words, "note")]
    if len(found) > MOST_MAPS:
        parts.append(Text(same(f"The first {MOST_MAPS} of {len(found)} choices are drawn; tables hold all."), "note"))
    parts += [small_figure(floor, 1.0 / (2 * len(floors)), alike=alike) for floor in floors]
    sheets = -(-len(floors) // MOST_LINES)
    for start, end in pairwise(round(k * len(floors) / max(sheets, 1)) for k in range(sheets + 1)):
        parts += [profile_figure(floors[start:end], axis, floors) for axis in (1, 0)]
    beside = equal == "water" and bool(record.with_run("heat"))
    return Chapter(f"floors-{equal}", f"The floors, {_short(record, equal)}", parts, folded=beside)


def _limits(record: ComparisonRecord) -> Chapter:
    """What is left of every limit, for every choice."""
    parts: list[Part] = []
    for equal in ("water", "heat"):
        found = record.with_run(equal)
        for start in range(0, len(found), COLUMNS):
            if rows := chapters.limit_rows([run for _, run in found[start : start + COLUMNS]]):
                heads = [same("Limit"), same("At most"), *(verbatim(c.name) for c, _ in found[start : start + COLUMNS])]
                parts.append(Table(_held(record, equal) + ": what is left of each limit.", heads, rows))
    sources = {
        str(limit["what"]): str(limit["source"])
        for equal in ("water", "heat")
        for _, run in record.with_run(equal)
        for limit in run.limits
    }
    if sources:
        parts.append(Bullets([(same(f"{what}:"), cited(source)) for what, source in sources.items()]))
    return Chapter("limits", "Limits and what is left", parts or [Text(same("None apply."))], folded=True)


def _all_cautions(record: ComparisonRecord) -> list[Warned]:
    """Every caution once, with the choices that it is for where not all have it."""
    runs = [(c.name, c.water or c.heat) for c in record.choices]
    return chapters.together([(name, run.cautions) for name, run in runs if run is not None])


def _numbers(record: ComparisonRecord, equal: str) -> Chapter:
    """Every number of every choice."""
    found = record.with_run(equal)
    keys = list(
        dict.fromkeys(key for _, run in found for key, value in run.report.items() if isinstance(value, int | float))
    )
    tables = list(_tables(found, keys, _held(record, equal) + "."))
    return Chapter(f"numbers-{equal}", f"All numbers, {_short(record, equal)}", tables, folded=True)


def _doubts(record: ComparisonRecord) -> Chapter:
    """What the numbers of all choices leave open."""
    air = air_words([run.report for _, run in record.with_run("water") or record.with_run("heat")], ripple=True)
    items = [
        ("Of the numbers.", "Not asked for. joistbay run of one choice with --uncertainty puts ± on its main numbers."),
        ("Of the air's model.", "; ".join(air).capitalize() + "." if air else "There is no cavity air in it."),
        ("Of the inputs.", "Not in any ±. joistbay study tells what uncertain inputs do to each result."),
    ]
    return Chapter("uncertainty", "How sure this is", [Bullets([(same(head), same(text)) for head, text in items])])


def _inputs(record: ComparisonRecord) -> Chapter:
    parts: list[Part] = [Listing(same("As written"), record.written)] if record.written else []
    understood = Listing(same("The case that was varied, as understood"), record.case_text)
    return Chapter("inputs", "Inputs", [*parts, understood], folded=True)
