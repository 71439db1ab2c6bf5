"""The worksheet of a lesson and its key: one printed page each, black on white."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from sim.results.air_motion import told_number
from sim.results.people import Units
from sim.results.spelling import kept_together, told

STYLE = """
@page { size: A4; margin: 14mm }
* { box-sizing: border-box }
body { margin: 0 auto; padding: 18px; max-width: 190mm; color: #1d2327; background: #fff;
  font: 15px/1.4 "Segoe UI", "Helvetica Neue", Arial, "DejaVu Sans", sans-serif }
h1 { font-size: 23px; line-height: 1.2; margin: 0 0 6px }
h2 { font-size: 16px; margin: 12px 0 4px }
p, li { margin: 3px 0 }
.who { display: flex; gap: 24px; margin: 2px 0 10px; font-size: 13px; color: #58626a }
.who span { flex: 1; border-bottom: 1px solid #1d2327; padding-bottom: 2px }
.options { list-style: none; padding: 0; margin: 4px 0 }
.options li { padding-left: 26px; position: relative }
.options li::before { content: ""; position: absolute; left: 0; top: 3px; width: 14px; height: 14px;
  border: 1.5px solid #1d2327 }
.options .right { font-weight: bold }
.options .right::after { content: "✓"; position: absolute; left: 1px; top: -1px }
table { border-collapse: collapse; width: 100%; font-size: 14px }
th, td { border: 1px solid #8b949b; padding: 4px 7px; text-align: left; vertical-align: top }
td.n { text-align: right; min-width: 84px; height: 27px; white-space: nowrap }
.line { border-bottom: 1px solid #8b949b; height: 23px }
ol { padding-left: 22px; margin: 4px 0 }
img { display: block; width: 100%; max-height: 56mm; object-fit: contain; margin: 6px 0 }
.answer { border-left: 4px solid #1d2327; padding: 1px 10px; margin: 3px 0; background: #f1f3f4 }
.key { font-size: 13.5px; line-height: 1.3 }
.key td.n { height: auto; padding: 2px 7px }
.key th { padding: 2px 7px }
.small { font-size: 12.5px; color: #58626a }
@media print { body { padding: 0; max-width: none } }
@media (max-width: 500px) { body { font-size: 16px } .scroll { overflow-x: auto } .who { flex-direction: column } }
"""


def lesson_page(lesson: Mapping[str, Any], numbers: Sequence[tuple[str, str]], key: bool, units: Units = "si") -> str:
    """A page of HTML.

    Parameters
    ----------
    lesson : what `lesson.json` holds, `tasks`, pairs of question and answer, and `minutes` in class
    numbers : label and report key of the rows of its table
    key : with answers and numbers filled in and the picture, or blank for the class
    """
    head = "Key" if key else "Worksheet"
    body = [
        f"<h1>{escape(lesson['title'])}</h1>",
        f'<p class="small">{head} · about {lesson["minutes"]} minutes · joistbay lesson {escape(lesson["lesson"])}</p>',
        "" if key else '<div class="who"><span>Name</span><span>Date</span></div>',
        f"<h2>Predict first</h2><p>{escape(lesson['question'])}</p>",
        _options(lesson["options"], lesson.get("right", 0) if key else 0),
        _answer(lesson["answer"]) if key else "<p>Why do you think so?</p>" + _lines(2),
        "<h2>Numbers</h2>" + ("" if key else "<p>Copy what the program prints.</p>"),
        _table(lesson["cases"], numbers, key, units),
        '<img src="pictures/picture.png" alt="Picture of the lesson">' if key else "",
        "<h2>Look closer</h2>",
        _tasks(lesson["tasks"], key),
        f'<p class="small">How far to trust it: {escape(lesson["fidelity"])}</p>',
    ]
    title = escape(f"{lesson['title']}: {head.lower()}")
    meta = '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
    page = f'<!doctype html><html lang="en"><head>{meta}<title>{title}</title><style>{STYLE}</style></head>'
    return page + f"<body{' class=key' if key else ''}>{''.join(body)}</body></html>\n"


def _options(options: Sequence[str], right: int) -> str:
    """Boxes to tick; the right one, counted from 1, is ticked in a key."""
    boxes = (f"<li{' class=right' if number == right else ''}>{escape(o)}</li>" for number, o in enumerate(options, 1))
    return f'<ul class="options">{"".join(boxes)}</ul>'


def _answer(text: str) -> str:
    return f'<p class="answer">{escape(text)}</p>'


def _lines(count: int) -> str:
    return '<div class="line"></div>' * count


def _table(cases: Sequence[Mapping[str, Any]], numbers: Sequence[tuple[str, str]], key: bool, units: Units) -> str:
    """A row a case, a column a number; blank cells to fill in for the class."""
    heads = "".join(f"<th>{escape(label)}</th>" for label, _ in numbers)
    rows = []
    for case in cases:
        cells = [told_number(case["report"], name, units) if key else "" for _, name in numbers]
        own = " (the class's)" if case["added"] else ""
        rows.append(
            f"<tr><th>{kept_together(escape(told(case['case'], units) + own))}</th>"
            + "".join(f'<td class="n">{escape(cell)}</td>' for cell in cells)
            + "</tr>"
        )
    return f'<div class="scroll"><table><tr><th></th>{heads}</tr>{"".join(rows)}</table></div>'


def _tasks(tasks: Sequence[Sequence[str]], key: bool) -> str:
    shown = [f"<li>{escape(question)}{_answer(answer) if key else _lines(2)}</li>" for question, answer in tasks]
    return f"<ol>{''.join(shown)}</ol>"
