"""How results look on the terminal: tables without frames, in SI, inch-pound units or both."""

from __future__ import annotations

import os
import re
import sys
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from sim.cli.first_word import first_word
from sim.cli.options import UnitChoice

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from sim.cli.sheet import WholeConsole
    from sim.results.people import ReportRow
    from sim.rules.caution import Caution

PIPED_WIDTH = 110
"""Columns assumed where the output is no terminal and COLUMNS says nothing."""

CAUTION = (
    "A design aid, not an approval. Hot water scalds; floors, flooring and wood have temperature limits; boring, "
    "wiring and pressure tests follow local codes and a licensed professional."
)
"""Printed under every result for people, wrapped to the terminal."""

LEAST_TEXT = 16
"""Columns below which a text beside branches is not wrapped."""

CAUTION_WIDTH = 20
"""Columns for the subject of a caution."""


def console(units: UnitChoice = "both") -> WholeConsole:
    """Standard output, on which no table loses a number, in the spelling of its units: see `sim.cli.sheet`."""
    from sim.cli.sheet import WholeConsole
    from sim.cli.streams import trimmed

    first_word.spoken()
    told = os.environ.get("COLUMNS", "")
    piped = int(told) if told.isdecimal() and int(told) > 0 else PIPED_WIDTH
    width = None if sys.stdout.isatty() else piped
    out = WholeConsole(file=trimmed(sys.stdout), width=width, highlight=False, markup=False, emoji=False)
    out.spelling = "ip" if units == "ip" else "si"
    return out


def print_air(out: Console, reports: Sequence[Mapping[str, float]], surer: str = "") -> None:
    """Which air is behind some reports and how sure it is, a line for each kind: a search may pass from one to another.

    Parameters
    ----------
    surer : a sentence on how to know better, where laws are behind any of them.
    """
    from sim.results.air_words import air_words

    words = air_words(reports, ripple=True)
    for told in words:
        print_sentence(out, f"How sure: {told}.")
    if surer and words != ["computed air"]:
        print_sentence(out, surer)


def print_inset(out: WholeConsole, text: str, indent: int, style: str | None = None) -> None:
    """A text that stands in from the margin, also where it wraps."""
    from rich.padding import Padding
    from rich.text import Text

    from sim.cli.sheet import glued

    out.print(Padding(Text(glued(out.worded(text)), style=style or ""), (0, 0, 0, indent), expand=False))


def print_sentence(out: Console, text: str) -> None:
    """A sentence in lines of the terminal's width; what follows a dash or a sign at its beginning hangs beside it.

    No line ends between a number and its unit.
    """
    from sim.cli.sheet import GLUE, glued

    indent = "  " if text[:2] in ("- ", "✗ ", "! ") else ""
    breaks = textwrap.TextWrapper(out.width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    for line in breaks.wrap(glued(text)):
        out.print(line.replace(GLUE, " "), soft_wrap=True)


def print_tree(out: Console, tree: str) -> None:
    """Lines of a tree; those that are too long go on below themselves, beside its branches."""
    for line in tree.splitlines():
        branch = re.match(r"[│├└─ ]*", line)[0]  # type: ignore[index]
        below = branch.replace("├──", "│  ").replace("└──", "   ") + "  "
        if len(line) <= out.width or out.width < len(below) + LEAST_TEXT:
            out.print(line, soft_wrap=True)
            continue
        words = textwrap.wrap(line[len(branch) :], out.width - len(below), break_long_words=False)
        for number, part in enumerate(words):
            out.print((below if number else branch) + part, soft_wrap=True)


def plain_table() -> Table:
    """A table without frame, its heads underlined."""
    from rich import box
    from rich.table import Table

    return Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)


def hanging(width: int) -> Table:
    """Two columns without any lines: names of a fixed width, and texts that wrap beside them."""
    from rich.table import Table

    table = Table.grid()
    table.add_column(width=width, no_wrap=True)
    table.add_column()
    return table


def cautions_table(cautions: Sequence[Caution], units: UnitChoice) -> Table:
    """Cautions as subject and text with its source, in the spelling of the units; what breaks a rule says so."""
    from sim.results.spelling import spelled

    system: Literal["si", "ip"] = "ip" if units == "ip" else "si"
    table = hanging(CAUTION_WIDTH)
    for caution in cautions:
        broken = "BROKEN: " if caution.broken else ""
        source = source_text(caution.source, units)
        table.add_row(spelled(caution.subject, system), f"{broken}{spelled(caution.text, system)} [{source}]")
    return table


def source_text(source: str, units: UnitChoice) -> str:
    """A source in the wanted units: its numbers in SI are turned where inches and pounds alone are asked for."""
    from sim.results.spelling import in_inch_pounds

    return in_inch_pounds(source) if units == "ip" else source


def each_system(units: UnitChoice) -> tuple[Literal["si", "ip"], ...]:
    """The unit systems to show, SI first."""
    return ("si", "ip") if units == "both" else (units,)


def report_table(values: Mapping[str, object], units: UnitChoice) -> Table:
    """A report as a table: group headings, one line a quantity, one column a unit system."""
    from sim.results.people import report_rows

    table = plain_table()
    table.show_header = False
    table.add_column(no_wrap=True)
    for _ in each_system(units):
        table.add_column(justify="right", no_wrap=True)
    columns = [sorted(report_rows(values, system), key=_is_about_run) for system in each_system(units)]
    group = None
    for rows in zip(*columns, strict=True):
        if rows[0].group != group:
            group = rows[0].group
            if table.row_count:
                table.add_row()
            table.add_row(group, style="bold")
        table.add_row(f"  {rows[0].label}", *_without_repeats([row.text for row in rows]))
    return table


def _is_about_run(row: ReportRow) -> bool:
    """What concerns the computation only comes last."""
    return row.group == "Run"


def _without_repeats(texts: list[str]) -> list[str]:
    """A value that is the same in both unit systems is shown once."""
    return [text if text not in texts[:place] else "" for place, text in enumerate(texts)]


def choices_table(
    rows: Sequence[Mapping[str, object]], labels: Mapping[str, str], units: UnitChoice, heading: str
) -> Table:
    """Choices as columns, report quantities as lines; a second unit system has lines of its own.

    Parameters
    ----------
    rows : sequence of mappings
        Report values, one mapping a choice with its name as "choice".
    labels : mapping of str to str
        Report keys to show, and what to call them; keys that no choice has are left out.
    units : "si", "ip" or "both"
    heading : str
        What the names begin with; it stands once, above the labels.
    """
    table = plain_table()
    table.add_column(heading, no_wrap=True)
    table.add_column("", no_wrap=True, style="dim", min_width=9)
    for row in rows:
        name = str(row["choice"]).removeprefix(f"{heading} ")
        table.add_column(name, justify="right", min_width=7, max_width=12)
    for key, label in labels.items():
        if any(key in row for row in rows):
            for number, system in enumerate(each_system(units)):
                _add_quantity(table, (key, "" if number else label), rows, system)
    return table


def _add_quantity(
    table: Table, named: tuple[str, str], rows: Sequence[Mapping[str, Any]], system: Literal["si", "ip"]
) -> None:
    """One line of a table of choices; one without a label repeats the last in a unit that differs."""
    from sim.results.people import ReportQuantity, unit_of

    key, label = named
    unit = unit_of(key)
    if not label and unit.ip == unit.si:
        return
    label = ReportQuantity(key, label, "", unit).heading(system)
    texts = [_cell(key, row.get(key), system) for row in rows]
    table.add_row(label, unit.name(system), *texts, style=None if label else "dim")


def _cell(key: str, value: Any, system: Literal["si", "ip"]) -> str:
    """A value without its unit, which stands beside the label; words stay as they are."""
    from sim.results.people import BAND, format_value, unit_of

    if isinstance(value, str):
        return value
    if key.endswith(BAND) and value is not None:
        return f"{unit_of(key).convert(value, system):.2g}"
    return format_value(key, value, system).removesuffix(unit_of(key).name(system)).strip()


def print_choices(
    out: WholeConsole, rows: Sequence[Mapping[str, object]], labels: Mapping[str, str], units: UnitChoice, heading: str
) -> None:
    """Print a table of choices, in pieces of as many as fit side by side; where not even two do, as blocks of lines."""
    for most in range(len(rows), 1, -1):
        pieces = [rows[start : start + most] for start in range(0, len(rows), most)]
        tables = [choices_table(piece, labels, units, heading) for piece in pieces]
        if all(map(out.keeps, tables)):
            break
    else:
        tables = [choices_table(rows, labels, units, heading)] if rows else []
    for table in tables:
        out.print(table)
