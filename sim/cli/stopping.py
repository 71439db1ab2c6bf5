"""Ctrl-C and a request to end: one line, the exit code that shells expect, nothing half-made left behind.

A thread of its own hears of the signal through a socket, so it acts while the main thread is in a compiled call or in
a library, where an exception would come late or be taken for a failure (see `sim.machine.gate`).

It hears from `heed_signals` until everything is told and saved. What the interpreter then takes down it takes down
deaf: its threads are gone by then, and a signal would end it without a word.
"""

from __future__ import annotations

import atexit
import multiprocessing
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sim.machine.gate import stop_here, wait_until_resting
from sim.machine.unfinished import pass_away, remove_unfinished, sweep, sweep_inside, sweep_temporary

SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))

PATIENCE = 1.0
"""Seconds for the main thread to come out of a call before the process ends without it."""


@dataclass(slots=True)
class _Words:
    """What a stopped command says of work that is kept, and the places where it writes."""

    way_on: Callable[[], str] = str
    places: tuple[Path, ...] = ()
    stores: tuple[Path, ...] = ()


_words = _Words()


def say_when_stopped(way_on: Callable[[], str] | str) -> None:
    """What the one line says behind "stopped": what is kept and how to go on; asked for when it is needed."""
    _words.way_on = way_on if callable(way_on) else lambda: way_on


def writes_to(*places: Path, store: Path | None = None) -> None:
    """Where a command is about to write, and the folder of finished solves that it keeps.

    What a killed command left there goes, now and again when this one is stopped.
    """
    _words.places = tuple(Path(os.path.realpath(place)) for place in places)
    _words.stores = () if store is None else (store,)
    _sweep_all()


def _sweep_all() -> None:
    for place in _words.places:
        sweep(place)
    for store in _words.stores:
        sweep_inside(store)


def stopped_line() -> str:
    """The one line of a stopped command."""
    way_on = _words.way_on()
    return f"stopped; {way_on}" if way_on else "stopped"


def forget() -> None:
    """A new command begins: nothing is kept yet."""
    _words.way_on, _words.places, _words.stores = str, (), ()


def heed_signals() -> None:
    """From now on a signal to stop ends this process as this module says; signals that are ignored stay so."""
    heard, told = socket.socketpair()
    told.setblocking(False)
    threading.Thread(target=_wait, args=(heard, told), daemon=True, name="stopping").start()
    signal.set_wakeup_fd(told.fileno(), warn_on_full_buffer=False)  # first: who rests must be heard of
    for number in SIGNALS:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, lambda *_: stop_here())
    atexit.register(_hear_no_more)
    sweep_temporary()


def _hear_no_more() -> None:
    """Nothing is left to stop: this process ends with the code that it has."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


def _wait(heard: socket.socket, told: socket.socket) -> None:
    """Wait for a signal and end the process."""
    number = 0
    while number not in SIGNALS:
        number = heard.recv(1)[0]
    try:
        _tidy_up()
        with suppress(OSError):
            os.write(2, f"{_clean_line()}{stopped_line()}\n".encode(errors="replace"))
    finally:
        os._exit(128 + number)


def _tidy_up() -> None:
    """End helping processes, then remove what they and this one had begun."""
    helpers = multiprocessing.active_children()
    for helper in helpers:
        helper.kill()
    wait_until_resting(PATIENCE)
    for helper in {*helpers, *multiprocessing.active_children()}:
        helper.kill()
        helper.join(0.3)
    remove_unfinished()
    _sweep_all()
    for store in _words.stores:
        _drop_if_empty(store)
    pass_away()


def _drop_if_empty(store: Path) -> None:
    """Remove a store of finished solves that holds none, but for its mark."""
    from sim.store.own_folders import WORK_MARK

    with suppress(OSError):
        if {path.name for path in store.iterdir()} <= {WORK_MARK}:
            (store / WORK_MARK).unlink(missing_ok=True)
            store.rmdir()


def _clean_line() -> str:
    """Wipe the progress line and show the cursor again, where there is a terminal."""
    return "\r\x1b[2K\x1b[?25h" if sys.__stderr__ is not None and sys.__stderr__.isatty() else ""
