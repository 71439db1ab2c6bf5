"""A process that solves, as the server's loop sees it: jobs go in, replies come back in the loop's thread."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from sim.machine.helpers import hire, how_it_ended

Heard = Callable[[object], None]
"""Hears of a reply, or of a `Gone`."""


@dataclass(frozen=True, slots=True)
class Gone:
    """The process has ended by itself; `how` says in words how."""

    how: str


class Process:
    """One helping process; it is begun with the first job unless `begin` is called, and anew after it has ended.

    Parameters
    ----------
    function, arguments
        What it runs: `function(line, *arguments)`.
    heard : called with every reply.

    `busy` is true from a job until the next reply.
    """

    def __init__(self, heard: Heard, function: Callable[..., None], *arguments: object) -> None:
        self._heard, self._function, self._arguments = heard, function, arguments
        self._hired: tuple[BaseProcess, Connection] | None = None
        self.busy = False

    def begin(self) -> None:
        """Begin the process, unless there is one."""
        if self._hired is None:
            self._hired = hire(self._function, *self._arguments)
            loop = asyncio.get_running_loop()
            threading.Thread(target=self._listen, args=(self._hired, loop), daemon=True).start()

    def send(self, job: object) -> None:
        """Give it a job."""
        self.begin()
        self.busy = True
        assert self._hired is not None
        try:
            self._hired[1].send(job)
        except OSError:
            self._hired = None  # it has just died, which its listener tells
            self.send(job)

    def end(self) -> None:
        """End it at once, whatever it does; nothing more is heard of it."""
        if self._hired is not None:
            process, self._hired = self._hired[0], None
            process.kill()  # its line closes with it, which ends its listener

    def _listen(self, hired: tuple[BaseProcess, Connection], loop: asyncio.AbstractEventLoop) -> None:
        """In a thread: pass replies on until the line closes."""
        try:
            while True:
                self._pass_on(loop, hired, hired[1].recv())
        except (EOFError, OSError):
            self._pass_on(loop, hired, Gone(how_it_ended(hired[0])))
        finally:
            hired[1].close()

    def _pass_on(
        self, loop: asyncio.AbstractEventLoop, hired: tuple[BaseProcess, Connection], reply: object
    ) -> None:
        if not loop.is_closed():
            loop.call_soon_threadsafe(self._hear, hired, reply)

    def _hear(self, hired: tuple[BaseProcess, Connection], reply: object) -> None:
        """In the loop: what a dismissed process still says is not heard."""
        if self._hired is not hired:
            return
        if isinstance(reply, Gone):
            self._hired = None
        self.busy = False
        self._heard(reply)
