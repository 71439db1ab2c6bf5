"""Texts in cells that a spreadsheet opens: none is taken for a formula.

A file of somebody else may call a room "=1+1", or worse; a spreadsheet would work it out. Such texts get an
apostrophe, as one types it by hand to say that a cell holds text. Numbers stay numbers.
"""

from __future__ import annotations

FORMULA_SIGNS = "=+-@\t\r"
"""A cell that begins with one of these may be taken for a formula."""


def neutral_cell(value: object) -> object:
    """A cell's value; a text that would be taken for a formula, with an apostrophe before it.

    >>> neutral_cell("=1+1"), neutral_cell("-3.5"), neutral_cell("-5 degC"), neutral_cell(-2), neutral_cell("oak")
    ("'=1+1", '-3.5', "'-5 degC", -2, 'oak')
    """
    if not isinstance(value, str) or value.lstrip(" '")[:1] not in (*FORMULA_SIGNS,) or _is_number(value):
        return value
    return f"'{value}"


def plain_cell(text: str) -> str:
    """The text of a cell as it was before `neutral_cell`.

    >>> plain_cell("'=1+1"), plain_cell("'til late")
    ('=1+1', "'til late")
    """
    return text[1:] if text.startswith("'") and neutral_cell(text[1:]) == text else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return "_" not in text
