"""A command's first word: that it is being loaded is said, so that no start is silent, on busy machines neither."""

from __future__ import annotations

import sys
from contextlib import suppress
from threading import Event, Lock, Thread
from time import monotonic

SILENT = 1.0
"""Longest time without a word, counted from where the program itself begins [s]."""

PAUSE = 1.5
"""Time between such words [s]."""

_ERASE = "\r\x1b[K"


class FirstWord:
    """Says on stderr that a command begins, again and again until it has spoken itself.

    On a terminal it is one line, which goes when the command speaks; elsewhere the lines stay.
    """

    def __init__(self) -> None:
        self._lock, self._over, self._shown = Lock(), Event(), False

    def await_(self, command: str, seconds: float = SILENT) -> None:
        """Say so of a command after a while [s]."""
        self.spoken()
        self._over = Event()
        Thread(target=self._watch, args=(command, seconds, self._over), daemon=True).start()

    def spoken(self) -> None:
        """The command speaks now, or has ended."""
        with self._lock:
            self._over.set()
            if self._shown:
                self._shown = False
                self._write(_ERASE)

    def _watch(self, command: str, seconds: float, over: Event) -> None:
        began, pause = monotonic(), seconds
        while not over.wait(pause):
            with self._lock:
                if not over.is_set():
                    self._say(f"joistbay {command}: starting, {monotonic() - began:.0f} s")
            pause = PAUSE

    def _say(self, words: str) -> None:
        self._shown = sys.stderr.isatty()
        self._write(f"{_ERASE}{words}" if self._shown else f"{words}\n")

    def _write(self, text: str) -> None:
        with suppress(OSError, ValueError):  # nobody reads it
            sys.stderr.write(text)
            sys.stderr.flush()


first_word = FirstWord()
"""That of this process."""
