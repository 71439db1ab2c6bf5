"""How values show themselves at a prompt: a short tree, whatever they hold, and never more than a screen's corner.

    Result family-oak
    ├── case       Case family-oak
    ├── grid       Grid
    └── report     Report family-oak

A dataclass takes part by `class Result(Brief)` and `@dataclass(repr=False)`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import PurePath
from typing import Any

MOST = 600
"""Characters that no value shows more of at a prompt."""

ROWS = 8
"""Branches that a tree shows."""

WIDEST = 62
"""Characters of a branch."""

Row = tuple[str, str]
"""Name and text of a branch."""


class Brief:
    """A value that shows itself as a small tree of its parts."""

    __slots__ = ()

    def __repr__(self) -> str:
        return small_tree(head_of(self), ((name, inline(getattr(self, name, None))) for name in _names(self)))


def small_tree(head: str, rows: Iterable[Row]) -> str:
    """A head with a branch a row, cut to `ROWS` branches and `MOST` characters.

    >>> print(small_tree("Plates", [("width", "130 mm"), ("every", "300 mm")]))
    Plates
    ├── width  130 mm
    └── every  300 mm
    """
    every = list(rows)
    shown = every if len(every) <= ROWS else [*every[: ROWS - 1], (f"and {len(every) - ROWS + 1} more", "")]
    width = max((len(name) for name, text in shown if text), default=0)
    lines = [clipped(head, 2 * WIDEST)]
    for number, (name, text) in enumerate(shown, start=1):
        mark = "└──" if number == len(shown) else "├──"
        lines.append(clipped(f"{mark} {name:<{width}}  {text}".rstrip(), WIDEST))
    return "\n".join(lines)


def whole_tree(head: str, lines: Iterable[str]) -> str:
    """A head with a branch a line, every line of it and whole.

    >>> print(whole_tree("Plates", ["width 130 mm", "every 300 mm"]))
    Plates
    ├── width 130 mm
    └── every 300 mm
    """
    branches = list(lines)
    return "\n".join([head, *(f"├── {line}" for line in branches[:-1]), *(f"└── {line}" for line in branches[-1:])])


def clipped(text: str, most: int = WIDEST) -> str:
    """A text in one line of at most so many characters.

    >>> clipped("a long line", 8)
    'a long …'
    """
    line = " ".join(text.split()) if "\n" in text else text
    return line if len(line) <= most else line[: most - 2].rstrip() + " …"


def head_of(value: object) -> str:
    """What a value is, and its name where it has one."""
    named = getattr(value, "name", None) or getattr(getattr(value, "case", None), "name", "")
    return f"{type(value).__name__} {named}".rstrip() if isinstance(named, str) else type(value).__name__


def inline(value: object) -> str:
    """A value in a few words.

    >>> inline(0.3048), inline((1.0, 2.0)), inline({"a": 1, "b": 2}), inline([1] * 9)
    ('0.3048', '(1, 2)', '2 entries: a, b', '9 of int')
    """
    if value is None or isinstance(value, (bool, int, Enum, PurePath)):
        return "none" if value is None else str(value)
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, str):
        return f'"{clipped(value, 48)}"'
    if isinstance(value, Mapping) and not hasattr(value, "data_vars"):
        return f"{len(value)} entries{': ' if value else ''}{clipped(', '.join(map(str, value)), 40)}"
    return _inline_many(value)


def _inline_many(value: Any) -> str:
    """An array, several values, or a value of ours, in a few words."""
    if hasattr(value, "shape") and hasattr(value, "dtype"):
        return f"array {' x '.join(map(str, value.shape)) or 'of one'}, {value.dtype}"
    if isinstance(value, (tuple, list)) and not hasattr(value, "_fields"):
        if 0 < len(value) <= 3 and all(isinstance(entry, (int, float, str)) for entry in value):
            return f"({', '.join(map(inline, value))})"
        kinds = dict.fromkeys(type(entry).__name__ for entry in value)
        return f"{len(value)} of {' and '.join(kinds)}" if kinds else "none"
    if hasattr(value, "data_vars"):
        return f"Dataset, {len(value.data_vars)} variables"
    return head_of(value)


def _names(value: Any) -> list[str]:
    """Names of the parts of a value."""
    return [part.name for part in fields(value) if not part.name.startswith("_")] if is_dataclass(value) else []
