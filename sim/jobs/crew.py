"""Processes of this machine that do jobs, and rest between batches of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from sim.machine.helpers import dismiss


@dataclass(slots=True, eq=False)
class WorkerProcess:
    """A process, the line to it, the number of the job that it has, and the names of all jobs that it had."""

    process: BaseProcess
    line: Connection
    number: int = -1
    names: set[str] = field(default_factory=set)


@dataclass(slots=True)
class StandingCrew:
    """Processes that rest between batches of jobs, all of one store; at the end of the block they go."""

    resting: list[WorkerProcess] = field(default_factory=list)

    def __enter__(self) -> StandingCrew:
        return self

    def __exit__(self, *raised: object) -> None:
        for hand in self.resting:
            dismiss(hand.process, hand.line)
        self.resting.clear()
