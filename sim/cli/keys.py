"""`joistbay keys`: every key of a case file."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from itertools import chain, groupby
from typing import TYPE_CHECKING

from sim.cli.errors import UsageError
from sim.cli.show import console, hanging, print_inset

if TYPE_CHECKING:
    from sim.case.reference import KeyRow

_KINDS = {
    "bay": 'Joist bays (kind = "bay", the usual one)',
    "blocks": 'Free blocks (kind = "blocks")',
    "house": 'Houses of heated rooms (kind = "house", for joistbay house)',
}

_KEY_WIDTH = 23

_UNITS = ("units", "quantities", "notation")


def keys(section: str | None = None, /) -> int:
    """List the keys of case files: what each holds, its default, what is allowed, what it means.

    Parameters
    ----------
    section
        One section, such as plates or floor.covering; one key, such as plates.bond; bay, blocks or house for one kind
        of case, and [bay] for the section of that name; or units for how numbers and lengths may be written.
    """
    from sim.case.reference import key_reference

    rows = key_reference()
    chosen = rows if section is None else () if section.lower() in _UNITS else _chosen(rows, section)
    for kind, of_kind in groupby(chosen, key=lambda row: row.case_kind):
        print_kind(kind, list(of_kind))
    if section is None or not chosen:
        print_notations()
    return 0


def print_notations() -> None:
    """Print how quantities may be written."""
    from sim.case.notation import NOTATIONS

    out = console()
    out.print("\nHow quantities are written", style="bold")
    for line in NOTATIONS.splitlines():
        print_inset(out, line, 2)


def _chosen(rows: Sequence[KeyRow], section: str) -> list[KeyRow]:
    """Rows of one section and of those inside it, of one kind of case, or of one key."""
    wanted = section.strip("[]").lower()
    whole = [row for row in rows if wanted == row.case_kind]
    parts = [row for row in rows if f"{_plain(row)}.".startswith(f"{wanted}.")]
    one = [row for row in rows if f"{_plain(row)}.{row.key}".lstrip(".") == wanted]
    if not whole and not parts and not one:
        names = ([_plain(row), f"{_plain(row)}.{row.key}".lstrip(".")] for row in rows)
        known = list(dict.fromkeys(filter(None, [*_KINDS, *chain.from_iterable(names)])))
        near = get_close_matches(wanted, known, n=1)
        sections = dict.fromkeys([*_KINDS, *filter(None, map(_plain, rows))])
        hint = f'did you mean "{near[0]}"?' if near else f"sections: {', '.join(sections)}"
        raise UsageError(f'keys: no section or key "{section[:60]}"; {hint}')
    return (parts or whole or one) if section.startswith("[") else (whole or parts or one)


def _plain(row: KeyRow) -> str:
    return row.section.strip("[]")


def print_kind(kind: str, rows: Sequence[KeyRow]) -> None:
    """Print the sections of one kind of case."""
    out = console()
    out.print(f"\n{_KINDS[kind]}", style="bold")
    for section, inside in groupby(rows, key=lambda row: row.section):
        out.print(f"\n{section or 'at the top'}", style="bold")
        table = hanging(_KEY_WIDTH)
        for row in inside:
            table.add_row(f"  {row.key}", row.meaning)
            table.add_row("", _facts(row), style="dim")
        out.print(table)


def _facts(row: KeyRow) -> str:
    """Kind of value, default and range in one line."""
    default = row.default if row.default == "must be given" else f"default: {row.default}"
    return "; ".join(part for part in (row.unit, default, row.allowed) if part)
