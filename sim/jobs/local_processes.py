"""Jobs done by several processes of this machine.

Each has one job at a time, so one that dies takes nothing else with it, and writes its results itself. Nothing of
them can be reached from outside (see `sim.machine.helpers`).
"""

from __future__ import annotations

import os
import queue
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import nullcontext, suppress
from multiprocessing.connection import Connection, wait
from pathlib import Path

from sim.jobs.crew import StandingCrew, WorkerProcess
from sim.jobs.job import Job, Outcome, Pool, perform_here
from sim.machine.helpers import dismiss, hire, how_it_ended, listen
from sim.machine.kernels import forgive_full_cache
from sim.machine.remarks import show_remarks_plainly

RETRIES = 1
"""How often a job is tried again by another process after its process died."""


def perform(jobs: list[Job], store: Path, pool: Pool) -> Iterator[tuple[str, Outcome]]:
    """Hand the jobs out and yield each key with its Outcome as it arrives.

    Who had a job of a name gets the next of that name, as far as there are others to do besides: such jobs are alike,
    and what they share is at hand.
    """
    waiting, tries, hands = deque(range(len(jobs))), [0] * len(jobs), list[WorkerProcess]()
    threads = max(1, (os.cpu_count() or 1) // max(1, pool.workers))
    with nullcontext(pool.crew) if pool.crew is not None else StandingCrew() as crew:
        try:
            while waiting or hands:
                while waiting and len(hands) < pool.workers:
                    hands.append(_engaged(crew, waiting, jobs, store, threads))
                for hand in _ready(hands):
                    job, outcome = jobs[hand.number], _heard(hand)
                    tries[hand.number] += 1
                    hands.remove(hand)
                    if outcome is None:
                        dismiss(hand.process, hand.line)
                    else:
                        crew.resting.append(hand)
                    if outcome is None and tries[hand.number] <= RETRIES:
                        waiting.appendleft(hand.number)
                    else:
                        yield job.key, outcome or _lost(hand, job)
        finally:
            for hand in hands:
                dismiss(hand.process, hand.line, patience=0.0)


def _engaged(crew: StandingCrew, waiting: deque[int], jobs: list[Job], store: Path, threads: int) -> WorkerProcess:
    """A process with a job: one that rests, or a new one."""
    hand = crew.resting.pop() if crew.resting else WorkerProcess(*hire(_work, store, threads))
    number = next((number for number in waiting if jobs[number].name in hand.names), waiting[0])
    waiting.remove(number)
    hand.number = number
    hand.names.add(jobs[number].name)
    with suppress(OSError):  # one that died while it rested is found out by its silence
        hand.line.send(jobs[number])
    return hand


def _ready(hands: list[WorkerProcess]) -> list[WorkerProcess]:
    """Those who have something to tell, or died; waits for the first."""
    lines = wait([hand.line for hand in hands])
    return [hand for hand in hands if hand.line in lines]


def _heard(hand: WorkerProcess) -> Outcome | None:
    """What a process tells of its job; None when it died."""
    try:
        outcome: Outcome = hand.line.recv()
    except (EOFError, OSError):
        return None
    return outcome


def _lost(hand: WorkerProcess, job: Job) -> Outcome:
    return Outcome(job.name, None, f"its worker died ({how_it_ended(hand.process)})")


def _work(line: Connection, store: Path, threads: int) -> None:
    """In the process: jobs in, outcomes out, until the line is closed."""
    import numba

    show_remarks_plainly()
    forgive_full_cache()
    numba.set_num_threads(min(threads, numba.get_num_threads()))
    jobs: queue.SimpleQueue[Job] = queue.SimpleQueue()
    threading.Thread(target=listen, args=(line, jobs.put), daemon=True).start()
    while True:
        for _, outcome in perform_here([jobs.get()], store):
            line.send(outcome)
