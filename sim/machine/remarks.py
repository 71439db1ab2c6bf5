"""Remarks of deep places: a warning that a command shows as one plain line, without file and line of the program."""

from __future__ import annotations

import warnings
from typing import Any


class Remark(UserWarning):
    """Something that the user should know and that does not stop the work."""


def show_remarks_plainly() -> None:
    """From now on remarks of this process are plain lines; other warnings stay as they are."""
    usual = warnings.formatwarning

    def plain(message: Any, category: type[Warning], *where: Any, **more: Any) -> str:
        return f"{message}\n" if issubclass(category, Remark) else usual(message, category, *where, **more)

    if usual.__name__ != plain.__name__:
        warnings.formatwarning = plain
