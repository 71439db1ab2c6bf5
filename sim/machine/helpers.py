"""Helping processes of this one, and work that may crash.

A helper is joined to this process by a socket pair without a name, which it inherits at birth: there is no port and
no file that anybody else could reach. Ctrl-C from the terminal does not reach it: who hired it ends it, and it ends
by itself when this process is gone.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from types import ModuleType

from sim.machine.unfinished import remove_unfinished


class CrashError(RuntimeError):
    """A helping process ended without an answer; the text says how."""


def hire(function: Callable[..., None], *arguments: object) -> tuple[BaseProcess, Connection]:
    """Begin a process that runs `function(line, *arguments)`, and this end of its line."""
    context = multiprocessing.get_context("spawn")
    line, far_end = context.Pipe()
    process = context.Process(target=function, args=(far_end, *arguments), daemon=True)
    with _deaf_children(), without_main(function, *arguments):
        process.start()
    far_end.close()
    return process, line


def dismiss(process: BaseProcess, line: Connection, patience: float = 5.0) -> None:
    """Close the line, which sends a helper home; one that has not gone in time [s] is ended."""
    line.close()
    process.join(patience)
    if process.is_alive():
        process.kill()
        process.join()


def how_it_ended(process: BaseProcess) -> str:
    """In words, how a process ended that is no more."""
    process.join(1.0)
    code = process.exitcode
    if code is not None and code < 0:
        return f"signal {-code}, {signal.strsignal(-code) or 'unknown'}"
    return f"exit code {code}"


def listen(line: Connection, heed: Callable[[object], None]) -> None:
    """In a helper, in a thread of its own: heed what comes; when the line closes, end whatever is being done."""
    try:
        while True:
            heed(line.recv())
    except (EOFError, OSError):
        remove_unfinished()
    finally:
        os._exit(0)


def in_own_process(function: Callable[..., object], *arguments: object) -> object:
    """The value of `function(*arguments)` worked out by another process, which may crash; what it prints is lost.

    Raises
    ------
    CrashError : it crashed.
    Exception : what the function raised.
    """
    with helper_at_hand() as ask:
        return ask(function, *arguments)


@contextmanager
def helper_at_hand(*modules: str) -> Iterator[Callable[..., object]]:
    """A process begun now, which loads some modules meanwhile; in the block one question, as to `in_own_process`."""
    process, line = hire(_answer, *modules)
    try:
        yield partial(_asked, process, line)
    finally:
        dismiss(process, line, patience=0.0)


def _asked(process: BaseProcess, line: Connection, function: Callable[..., object], *arguments: object) -> object:
    """The question's answer."""
    try:
        line.send((function, arguments))
        value, error = line.recv()
    except (EOFError, OSError):
        raise CrashError(how_it_ended(process)) from None
    if error is not None:
        raise error
    return value


def _answer(line: Connection, *modules: str) -> None:
    """In the helper: one question, one answer; it goes where there is no question."""
    with open(os.devnull, "w") as nowhere:
        for number in (1, 2):
            os.dup2(nowhere.fileno(), number)
    for name in modules:
        import_module(name)
    try:
        function, arguments = line.recv()
    except EOFError:
        return
    value = failure = None
    try:
        value = function(*arguments)
    except Exception as error:
        failure = error
    line.send((value, failure))


@contextmanager
def without_main(*needed: object) -> Iterator[None]:
    """Processes begun within it do not run the user's script once more, unless one of the functions needed is its own.

    They would, to give the main module's names to what they are sent; a script or a notebook that calls us without
    `if __name__ == "__main__"` would begin all its work again in every one of them.
    """
    main = sys.modules["__main__"]
    if any(getattr(function, "__module__", "") == "__main__" for function in needed):
        yield
        return
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


@contextmanager
def _deaf_children() -> Iterator[None]:
    """Processes begun within it never hear of Ctrl-C, not even before their first line of code."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # it would open the mask again if it had to be started within
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
