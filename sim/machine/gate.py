"""Stopping between two steps, never within one that must be whole.

A request to stop does not raise an exception: one that strikes a compiled call, a callback of a library or an
`except Exception` is lost there. Instead the main thread rests for good as soon as it is outside of `whole()`, while
whoever was asked to stop tidies up behind it and ends the process.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager


class _Gate:
    """Whether a stop was asked for, how deep in steps that must be whole, and whether the main thread rests."""

    asked = False
    depth = 0
    resting = threading.Event()


_gate = _Gate()


@contextmanager
def whole() -> Iterator[None]:
    """Around a short step of the main thread that must not be stopped half-way, as renaming two folders."""
    here = threading.current_thread() is threading.main_thread()
    _gate.depth += here
    try:
        yield
    finally:
        _gate.depth -= here
        if here and _gate.asked and not _gate.depth:
            _rest()


def stop_here() -> None:
    """Called in the main thread when a stop is asked for: rest, at once or at the end of what must be whole."""
    _gate.asked = True
    if not _gate.depth:
        _rest()


def wait_until_resting(seconds: float) -> bool:
    """Wait until the main thread rests; False when it is still in a call that cannot be interrupted."""
    return _gate.resting.wait(seconds)


def was_interrupted(error: BaseException | None) -> bool:
    """Whether Ctrl-C stands behind an error, as where it struck a compiled call or something that was winding down."""
    behind: list[BaseException] = []
    while error is not None and all(error is not each for each in behind):  # two errors may stand behind each other
        behind.append(error)
        error = error.__cause__ or error.__context__
    return any(isinstance(each, KeyboardInterrupt) for each in behind)


def _rest() -> None:
    _gate.resting.set()
    while True:
        time.sleep(3600.0)
