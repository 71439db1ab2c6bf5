"""The process of a house: lays it out as it stands, telling which bay it is at; solved bays are kept in a store."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from sim.case.house_load import parse_house
from sim.explorer.jobs import Reply
from sim.explorer.work import Overtaken, in_words
from sim.house.bay_solver import BaySolver, HouseError
from sim.house.kept_bays import keep_newest
from sim.house.record import house_record, outline_record
from sim.house.solve_house import HouseWish, check_house, solve_house
from sim.machine.helpers import listen

if TYPE_CHECKING:
    from sim.jobs.job import Outcome

Picture = Callable[[dict[str, object]], dict[str, object]]
"""Makes of a house's record what its page shows."""


@dataclass(frozen=True, slots=True)
class HouseJob:
    """A house to lay out, with its bays on a coarse mesh or on their own."""

    change: int
    text: str
    name: str
    path: str | None
    mesh: str


class HouseBench:
    """Does the last job; bays that were solved for earlier ones are remembered."""

    def __init__(self, line: Connection, picture: Picture, store: Path) -> None:
        self._line, self._picture, self._begun = line, picture, False
        self._solver = BaySolver(store)
        self._come = threading.Condition()
        self._job: HouseJob | None = None

    def heed(self, job: object) -> None:
        """A job has come: it takes the place of the one before."""
        if isinstance(job, HouseJob):
            with self._come:
                self._job = job
                self._come.notify()

    def run(self) -> None:
        """Do jobs for ever."""
        while True:
            with self._come:
                self._come.wait_for(lambda: self._job is not None)
                job, self._job = self._job, None
            assert job is not None
            try:
                self._do(job)
            except Overtaken:
                self._line.send(Reply("dropped", job.change, job.mesh))
            except Exception as error:  # whatever a house brings about is told; the process goes on
                self._line.send(Reply("failed", job.change, job.mesh, in_words(error)))

    def _do(self, job: HouseJob) -> None:
        began = perf_counter()
        house = parse_house(job.text, job.name, job.path)
        wish = HouseWish(fineness="coarse" if job.mesh == "coarse" else None, remedies=False)
        if not self._begun:  # the first bays take minutes: meanwhile the page has the plan
            told = self._picture(outline_record(house, check_house(house, wish)[0]))
            self._line.send(Reply("outline", job.change, job.mesh, told))
            self._begun = True
        self._solver.batch = self._teller(job)
        try:
            plan = solve_house(house, self._solver, wish)
        except HouseError:  # another tab may have kept the same bay meanwhile: what lies there now is taken up
            plan = solve_house(house, self._solver, wish)
        keep_newest(self._solver.store, self._solver.used)
        told = self._picture(house_record(plan)) | {"seconds": perf_counter() - began}
        self._line.send(Reply("answer", job.change, job.mesh, told))

    def _teller(self, job: HouseJob) -> Callable[[str, int], Callable[[Outcome], None]]:
        """Tells of every bay, and ends the work when a newer change has come."""

        def begin(what: str, count: int) -> Callable[[Outcome], None]:
            done = 0

            def heard(outcome: Outcome) -> None:
                nonlocal done
                done += 1
                told = {"what": what, "done": done, "of": count, "bay": outcome.name}
                self._line.send(Reply("progress", job.change, job.mesh, told))
                if self._job is not None:
                    raise Overtaken

            self._line.send(Reply("progress", job.change, job.mesh, {"what": what, "done": 0, "of": count, "bay": ""}))
            return heard

        return begin


def work_on_house(line: Connection, picture: Picture, store: str) -> None:
    """What the process of a house does until its line closes."""
    bench = HouseBench(line, picture, Path(store))
    threading.Thread(target=listen, args=(line, bench.heed), daemon=True).start()
    bench.run()
