"""What a page of the explorer is: files that a browser gets, and who answers a tab that shows them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

Message = dict[str, object]
"""What goes over the line between a tab and its talk: plain values, as JSON."""

Send = Callable[[Message], None]
"""Sends a message to the tab; called in the thread of the server's loop."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What a page may load: its own files and its own line."""

MADE_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'; sandbox allow-scripts"
)
"""What a page that was made for a tab may load: nothing but what it holds; it is nobody's origin."""


def whole_number(value: object) -> int:
    """A count out of a message; 0 where it is none."""
    return value if isinstance(value, int) and not isinstance(value, bool) else 0


class Talk(Protocol):
    """Who answers one tab. A tab that is loaded again finds the talk that it had."""

    def begin(self, send: Send) -> None:
        """A tab has come, for the first time or again: tell it everything."""

    def hear(self, message: Message) -> None:
        """The tab has said something."""

    def made(self, name: str) -> str | None:
        """A page that was made for the tab, as HTML; None where there is none of that name."""

    def end(self) -> None:
        """The tab will not come back."""


@dataclass(frozen=True, slots=True)
class ServedPage:
    """A page: the folder with its files, index.html among them, and who answers its tabs; None where nobody need.

    `policy` is the page's Content-Security-Policy.
    """

    folder: Path
    talk: Callable[[], Talk] | None = None
    policy: str = POLICY
