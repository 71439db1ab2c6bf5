"""What is written where the terminal's alphabet lacks a letter: "deg" for a degree sign, and never a failure."""

from __future__ import annotations

import codecs
import sys
from collections.abc import Mapping
from types import MappingProxyType
from unicodedata import normalize

PLAIN: Mapping[str, str] = MappingProxyType(
    {
        "°": "deg",
        "·": "*",
        "⋅": "*",
        "×": "x",
        "−": "-",
        "–": "-",
        "±": "+/-",
        "≤": "<=",
        "≥": ">=",
        "≈": "~",
        "≠": "!=",
        "→": "->",
        "←": "<-",
        "√": "sqrt",
        "Δ": "d",
        "α": "alpha",
        "ε": "epsilon",
        "ρ": "rho",
        "λ": "lambda",
        "ν": "nu",
        "β": "beta",
        "κ": "kappa",
        "µ": "u",
        "μ": "u",
        "²": "^2",
        "³": "^3",
        "⁴": "^4",
        "⁵": "^5",
        "…": "...",
        "✓": "yes",
        "✗": "no",
        "′": "'",
        "″": "''",
        "‘": "'",
        "’": "'",
        "“": "''",
        "”": "''",
        "─": "-",
        "━": "-",
        "│": "|",
        "├": "|",
        "└": "`",
        "ß": "ss",
        "æ": "ae",
        "ø": "o",
    }
)
"""Letters that the program's own texts use, and what stands for them."""

NAME = "joistbay-plain"
"""Under which the codecs of Python know this rule."""


def plain(letter: str) -> str:
    """What stands for one letter: by the table, without its accent, or a question mark."""
    bare = "".join(part for part in normalize("NFKD", letter) if part.isascii() and part not in "\"\\")
    return PLAIN.get(letter) or bare or "?"


def fitted(text: str, encoding: str) -> str:
    """Text with only the letters that an encoding has.

    >>> fitted("20 °C ± 1", "ascii")
    '20 degC +/- 1'
    """
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return "".join(letter if _has(encoding, letter) else plain(letter) for letter in text)
    return text


def _has(encoding: str, letter: str) -> bool:
    try:
        letter.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def settle_streams() -> None:
    """Let standard output and errors of any alphabet take any text."""
    codecs.register_error(NAME, _instead)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=NAME)


def _instead(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(plain, error.object[error.start : error.end])), error.end
