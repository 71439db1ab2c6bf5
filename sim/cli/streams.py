"""Standard streams as they come: some are closed, and what is said on the way must not cost the work it speaks of."""

from __future__ import annotations

import io
import os
import re
import sys
from contextlib import suppress
from typing import IO, Any, cast

_BEFORE_END = re.compile(r" +(?=\n)")
"""Spaces with which a table or a wrapped text fills a line."""


class _Trimmed:
    """A stream on which no line ends in spaces: what is kept in a file or compared there holds none."""

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write whole lines without the spaces before their ends."""
        return self._stream.write(_BEFORE_END.sub("", text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def trimmed(stream: IO[str]) -> IO[str]:
    """The same stream, on which no line ends in spaces."""
    return cast(IO[str], _Trimmed(stream))


class _Unheard(io.FileIO):
    """A file that takes whatever it is given: what nobody can take, as on a full disk, is lost."""

    def write(self, data: Any) -> int:
        """All bytes count as written."""
        with suppress(OSError):
            super().write(data)
        return len(data)


def settle_closed() -> None:
    """Streams that the caller has closed lead nowhere, before a file of ours is given their number."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode))


def heed_no_deaf_reader() -> None:
    """Progress and remarks go on where stderr takes nothing; only standard output, the result, must be taken."""
    told = sys.stderr
    if told is sys.__stderr__ and isinstance(told, io.TextIOWrapper):
        told.flush()
        raw = io.BufferedWriter(_Unheard(told.fileno(), "w", closefd=False))
        sys.stderr = io.TextIOWrapper(raw, told.encoding, told.errors, line_buffering=True)
