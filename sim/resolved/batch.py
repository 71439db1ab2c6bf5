"""Many bays with computed air at once: their flows together on a device, their solids beside it on the processor.

    every bay          flow of a round ──► mean heat ──► solids' answer ──► walls' temperatures ──► next round
    the device         follows all bays that have walls to go on with; the others rest
    the processor      answers whichever bay has ended its round
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from time import perf_counter
from typing import Protocol

from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.seam import Backend
from sim.airflow.frames import Frames
from sim.resolved.means import window_start
from sim.resolved.remote import FlowStart, SolidsAnswer


class Solids(Protocol):
    """Where the solids' sides of all bays are."""

    def ask(self, bay: int, verb: str, *values: object) -> None:
        """Have a bay's side do something; its reply comes in time."""

    def replies(self, wait: bool) -> list[tuple[int, object]]:
        """(bay, reply) of those that are ready; at least one when asked to wait."""


@dataclass(slots=True)
class Timeline:
    """Where the time [s] of a batch went.

    Attributes
    ----------
    flow : the device followed flows.
    waiting : it had none to follow, for want of the solids' answers.
    solids : the processor's work on answers, summed over bays.
    rounds, steps, cell_steps : what was done.
    """

    flow: float = 0.0
    waiting: float = 0.0
    solids: float = 0.0
    rounds: int = 0
    steps: int = 0
    cell_steps: float = 0.0

    def __str__(self) -> str:
        rate = 1e9 * self.flow / self.cell_steps if self.cell_steps else 0.0
        return "\n".join([
            f"flow     {self.flow:8.1f} s on the device, {self.steps:,} steps, {rate:.2f} ns per cell and step",
            f"waiting  {self.waiting:8.1f} s of the device for solids",
            f"solids   {self.solids:8.1f} s of processor, {self.rounds:,} rounds",
        ])


@dataclass(slots=True, eq=False)
class _Rounds:
    """How far one bay has come."""

    frames: Frames
    number: int = 0
    begin: list[int] = field(default_factory=lambda: [0, 1])


RoundHeard = Callable[[int, SolidsAnswer], None]


class BatchRun:
    """One batch of bays, from their starts to their ends.

    Parameters
    ----------
    starts : of all bays, in the order of their numbers.
    solids : where their solids' sides are.
    backend : the device.
    heard : called with every bay's number and answer.
    """

    def __init__(
        self, starts: Sequence[FlowStart], solids: Solids, backend: Backend, heard: RoundHeard | None = None
    ) -> None:
        self.solids, self.heard, self.timeline = solids, heard, Timeline()
        self.batch = FlowBatch([start.problem for start in starts], backend)
        self._rounds = [_Rounds(Frames(*start.frames)) for start in starts]
        self._left = set(range(len(starts)))
        for bay, start in enumerate(starts):
            self._keep(bay)
            self._begin(bay, start.until)

    def follow(self) -> Iterator[tuple[int, object]]:
        """Every bay's last reply, or the FlowError that ended it, as they come."""
        while self._left:
            self._look()
            yield from self._failures()
            began = perf_counter()
            wait = not self.batch.busy
            replies = self.solids.replies(wait=wait and bool(self._left))
            self.timeline.waiting += perf_counter() - began if wait else 0.0
            for bay, reply in replies:
                if isinstance(reply, SolidsAnswer):
                    self._go_on(bay, reply)
                elif bay in self._left:
                    self._left.discard(bay)
                    yield bay, reply

    def _look(self) -> None:
        """Some steps of all bays; those that end their rounds ask for answers."""
        batch, began = self.batch, perf_counter()
        before = batch.steps.copy()
        ended = batch.look()
        for bay in range(len(self._rounds)):
            self._keep(bay)
        for bay in ended:
            self.solids.ask(bay, "answer", batch.walls.mean(bay), float(batch.time[bay]), int(batch.steps[bay]))
        taken = batch.steps - before
        self.timeline.flow += perf_counter() - began
        self.timeline.steps += int(taken.max(initial=0))
        self.timeline.cell_steps += float(sum(n * p.domain.cells for n, p in zip(taken, batch.problems, strict=True)))

    def _failures(self) -> Iterator[tuple[int, object]]:
        """Bays whose flow ran into values that mean nothing."""
        for bay in self._left & self.batch.failed.keys():
            self._left.discard(bay)
            yield bay, self.batch.failed[bay]

    def _go_on(self, bay: int, answer: SolidsAnswer) -> None:
        """The next round with the walls' new temperatures, or the end."""
        self.timeline.solids += answer.seconds
        self.timeline.rounds += 1
        if self.heard:
            self.heard(bay, answer)
        if answer.reason:
            flows = (self.batch.means.flow(bay), self.batch.flow(bay, answer.reason))
            self.solids.ask(bay, "finish", flows, self._rounds[bay].frames, answer.reason)
        else:
            self.batch.walls.give(bay, answer.wall)
            self._begin(bay, answer.until)

    def _begin(self, bay: int, until: float) -> None:
        """Begin a round; the sums of the means move on as `FieldMeans` does."""
        rounds, batch = self._rounds[bay], self.batch
        rounds.number += 1
        number = rounds.number
        if number > 1 and window_start(number) != window_start(number - 1):
            rounds.begin = [rounds.begin[1], number]
            batch.means.move_on(bay)
        batch.means.weights[bay] = [float(number > begin) for begin in rounds.begin]
        batch.walls.begin(bay)
        batch.go_until(bay, until)

    def _keep(self, bay: int) -> None:
        """Keep a picture of a bay's flow when one is due."""
        frames, time = self._rounds[bay].frames, float(self.batch.time[bay])
        if frames.due(time):
            frames.keep(time, self.batch.fields(bay))
