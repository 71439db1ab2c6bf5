"""One function over many values by several processes of this machine, each value's outcome in its place."""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

from sim.jobs.bay_workers import one_thread_each, sendable
from sim.machine.helpers import dismiss, hire, how_it_ended, listen

Value = TypeVar("Value")
Outcome = TypeVar("Outcome")


def spread(
    function: Callable[[Value], Outcome], values: Sequence[Value], workers: int
) -> list[Outcome | Exception]:
    """What a function gives for each value; an exception that it ends in stands in that value's place.

    Parameters
    ----------
    function : of a module, so that it can be sent to a process
    workers : processes, one thread each
    """
    waiting, outcomes = deque(range(len(values))), dict[int, Outcome | Exception]()
    hands: dict[Connection, tuple[BaseProcess, int]] = {}
    try:
        while waiting or hands:
            while waiting and len(hands) < workers:
                _begin(hands, function, waiting.popleft(), values)
            for line in wait(list(hands)):
                assert isinstance(line, Connection)
                process, number = hands.pop(line)
                outcomes[number] = _heard(process, line)
                if waiting and process.is_alive():
                    hands[line] = process, (following := waiting.popleft())
                    line.send(values[following])
                else:
                    dismiss(process, line)
    finally:
        for line, (process, _) in hands.items():
            dismiss(process, line, patience=0.0)
    return [outcomes[number] for number in range(len(values))]


def _begin(hands: dict[Connection, Any], function: Callable[[Any], Any], number: int, values: Sequence[Any]) -> None:
    """A new process with its first value."""
    with one_thread_each():
        process, line = hire(_work, function)
    line.send(values[number])
    hands[line] = process, number


def _heard(process: BaseProcess, line: Connection) -> Any:
    """What a process tells of a value; where it died, an exception that says so."""
    try:
        return line.recv()
    except (EOFError, OSError):
        return RuntimeError(f"the process that worked on it died ({how_it_ended(process)})")


def _work(line: Connection, function: Callable[[Any], Any]) -> None:
    """In the process: values in, outcomes out, until the line is closed."""
    values: queue.SimpleQueue[Any] = queue.SimpleQueue()
    threading.Thread(target=listen, args=(line, values.put), daemon=True).start()
    while True:
        value = values.get()
        try:
            outcome = function(value)
        except Exception as error:
            outcome = error
        line.send(sendable(outcome))
