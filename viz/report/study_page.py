"""The page of a study: between which values its results lie, and which input moves each of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from viz.report import chapters
from viz.report.drawing import Drawing, fitting
from viz.report.parts import Bullets, Chapter, Figure, Listing, Page, Part, Table, Text
from viz.report.run_page import foot_of
from viz.report.told import NOTHING, Told, bare, named, same, say, told, verbatim, with_unit

ENOUGH = 20
"""From so many draws on, one in twenty lies above an interval and one below."""

FIRST = ("heat_flux_up_W_m2", "ripple_K")
"""Results that are told first."""

_KINDS = ("case", "mean", "median", "low", "high")
_HEADS = ("the case itself", "mean", "median", "5 %", "95 %")


@dataclass(frozen=True)
class StudyRecord:
    """A stored study.

    `numbers` holds for every report key its mean, median, low and high end, the case's own value (`case`), how many
    draws count, and of every input what it does (`at_low`, `at_high`, `coefficient`); `ends` the texts of every input's
    ends, by unit system; `air` what is known of the air's own error; `failures` why a solve failed, by its name.
    """

    title: str
    numbers: Mapping[str, Mapping[str, Any]]
    ends: Mapping[str, Mapping[str, Sequence[str]]]
    air: Sequence[str]
    failures: Mapping[str, str]
    is_bay: bool
    case_text: str
    written: str = ""
    versions: Mapping[str, str] = field(default_factory=dict)


def study_page(record: StudyRecord) -> Page:
    """A study as a page."""
    inputs = f"{len(record.ends)} uncertain input{'s' * (len(record.ends) != 1)}"
    lead = same(f"{inputs}, all drawn at once, {_draws(record)} times; and each alone at both of its ends.")
    own = [
        Chapter("answer", "In short", [*(Text(line, "answer") for line in _in_short(record)), _intervals(record)]),
        Chapter("moves", "What moves each result", _moves(record)),
        Chapter("uncertainty", "How sure this is", [Bullets(_doubts(record))]),
        Chapter("inputs", "Inputs", _inputs(record), folded=True),
    ]
    return Page(record.title, lead, own, foot_of(record.versions, chapters.ASK if record.is_bay else chapters.MODEL))


def _draws(record: StudyRecord) -> int:
    return max((int(number["count"]) for number in record.numbers.values()), default=0)


def _in_short(record: StudyRecord) -> list[Told]:
    """A sentence for each of the first results."""
    count = _draws(record)
    share = "in 9 of 10 draws" if count >= ENOUGH else f"by {count} draws, too few to say how often"
    lines = []
    for key in [key for key in FIRST if key in record.numbers] or [*record.numbers][:1]:
        number = record.numbers[key]
        ends = (told(key, number["low"]), told(key, number["high"]))
        name, most = named(key), _ranked(number)
        moved = f"{most[0][0]} moves it most" if most and _swing(number, most[0][1]) > 0.0 else "no input moves it"
        head = Told(*(text[:1].upper() + text[1:] for text in (name.si, name.ip)))
        lines.append(head + say(": {} to {} {}; {}.", *ends, same(share), moved))
    return lines


def _ranked(number: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    """Inputs of a result with what they do, the largest swing first."""
    return sorted(number["inputs"].items(), key=lambda pair: -_swing(number, pair[1]))


def _known(value: Any) -> bool:
    return isinstance(value, int | float) and isfinite(value)


def _swing(number: Mapping[str, Any], does: Mapping[str, Any]) -> float:
    """From the lowest to the highest of a result at an input's ends and of the case itself, in its unit."""
    known = [value for value in (does["at_low"], does["at_high"], number["case"]) if _known(value)]
    return max(known) - min(known) if known else 0.0


def _intervals(record: StudyRecord) -> Table:
    """One line a result."""
    rows = [
        [with_unit(key, named(key)), *(bare(key, number[kind]) for kind in _KINDS)]
        for key, number in record.numbers.items()
    ]
    return Table(same("Results over the draws."), [same("Result"), *map(same, _HEADS)], rows)


def _moves(record: StudyRecord) -> list[Part]:
    """A figure and a table for each result."""
    words = (
        "Bars go from the result with one input at its low end to that at its high end, the others as in the case. "
        "Ranks say how far those of the result follow those of the input when all are drawn at once: +1 it always "
        "rises with it, −1 it always falls, 0 neither."
    )
    parts: list[Part] = [Text(same(words), "note")]
    for key, number in record.numbers.items():
        parts += [_figure(record, key, number), _table(record, key, number)]
    return parts


def _end(record: StudyRecord, name: str, place: int) -> Told:
    """The text of an input's low or high end."""
    ends = record.ends.get(name, {})
    return Told(*(str(ends[units][place]) if units in ends else NOTHING for units in ("si", "ip")))


def _table(record: StudyRecord, key: str, number: Mapping[str, Any]) -> Table:
    heads = ["Input", "low end", "result", "high end", "result", "ranks"]
    rows = [
        [
            verbatim(name), _end(record, name, 0), told(key, does["at_low"]),
            _end(record, name, 1), told(key, does["at_high"]), same(_coefficient(does["coefficient"])),
        ]
        for name, does in _ranked(number)
    ]  # fmt: skip
    return Table(named(key) + ".", list(map(same, heads)), rows)


def _coefficient(value: Any) -> str:
    if not _known(value):
        return NOTHING
    text = f"{value:+.2f}".replace("-", "−")
    return text if float(f"{value:.2f}") else "0.00"


def _figure(record: StudyRecord, key: str, number: Mapping[str, Any]) -> Figure:
    """Bars of a result, that of the input which moves it most on top."""
    caption = named(key) + ": each input from its low to its high end."
    moved = [(name, does) for name, does in _ranked(number) if _known(does["at_low"]) and _known(does["at_high"])]
    each = [say("{} {} to {}", name, told(key, does["at_low"]), told(key, does["at_high"])) for name, does in moved]
    alt = named(key)
    for text in each:
        alt = alt + "; " + text
    return Figure(lambda width: _draw(key, number, moved, width, alt), caption)


_ROW, _TOP, _BAR = 40.0, 26.0, 14.0
"""Height of a line, room above the first, thickness of a bar [px]."""


def _draw(
    key: str, number: Mapping[str, Any], moved: Sequence[tuple[str, Mapping[str, Any]]], width: float, alt: Told
) -> Drawing:
    drawing = Drawing(width, _TOP + _ROW * len(moved) + 8.0, alt)
    values = [does[end] for _, does in moved for end in ("at_low", "at_high")]
    values += [number["case"]] if _known(number["case"]) else []
    if not values:
        return drawing
    low, high = min(values), max(values)
    left, room = 70.0, width - 140.0  # room for the numbers at both sides

    def across(value: float) -> float:
        return left + room * ((value - low) / (high - low) if high > low else 0.5)

    if _known(number["case"]):
        x = across(number["case"])
        drawing.line((x, _TOP - 8.0), (x, drawing.height - 4.0), "soft", 1.0)
        own = say("the case itself {}", told(key, number["case"]))
        drawing.text((x, _TOP - 12.0), own, 11, "soft", anchor="middle")
    for place, (name, does) in enumerate(moved):
        top = _TOP + place * _ROW
        drawing.text((4.0, top + 10.0), fitting(verbatim(name), width - 8.0, 12), 12, halo=True)
        ends = across(does["at_low"]), across(does["at_high"])
        drawing.box((min(ends), top + 15.0), (max(abs(ends[1] - ends[0]), 1.0), _BAR), "up", width=0.0)
        for x, value in zip(ends, (does["at_low"], does["at_high"]), strict=True):
            side = "end" if x == min(ends) and ends[0] != ends[1] else "start"
            drawing.text((x + (-4.0 if side == "end" else 4.0), top + 26.0), bare(key, value), 11, "soft", anchor=side)
    return drawing


def _doubts(record: StudyRecord) -> list[tuple[Told, Told]]:
    """What the intervals hold, and what not."""
    air = [(same("Of the air's model."), same(f"{line[:1].upper()}{line[1:]}.")) for line in record.air]
    ranks = [number["determination"] for number in record.numbers.values() if _known(number["determination"])]
    shares = [f"{100.0 * end:.0f}" for end in (min(ranks), max(ranks))] if ranks else []
    worth = f"Their ranks account for {' to '.join(dict.fromkeys(shares))} % of what moves. " if shares else ""
    inputs = "Only of those that were drawn, and as widely as they were; the others are as in the case."
    mesh = "Not in the intervals. joistbay run with --uncertainty puts ± on the main numbers of the case itself."
    failed = [(verbatim(f"{name}."), same(f"Failed: {why}")) for name, why in record.failures.items()]
    return [(same("Of the inputs."), same(worth + inputs)), (same("Of the mesh."), same(mesh)), *air, *failed]


def _inputs(record: StudyRecord) -> list[Part]:
    rows = [[verbatim(name), _end(record, name, 0), _end(record, name, 1)] for name in record.ends]
    table = Table(same("What was drawn."), [same("Input"), same("from"), same("to")], rows)
    written = [Listing(same("As written"), record.written)] if record.written else []
    return [table, *written, Listing(same("The case that was studied, as understood"), record.case_text)]
