"""A solver's process: it solves what it is asked for last and tells what it finds."""

from __future__ import annotations

import sys
import threading
from dataclasses import replace
from multiprocessing.connection import Connection
from time import perf_counter
from typing import Any

from sim.bay.grid import Fineness, build_grid, fineness_from_word
from sim.build_up import build_geometry
from sim.case.bay_case import Case
from sim.case.taught import uses_learned_films
from sim.explorer.jobs import FlowJob, Makers, PageJob, Reply, SolveJob
from sim.explorer.told import both, in_both, number, told
from sim.machine.helpers import listen
from sim.run import Model, Result, prepare, solve_model
from sim.solver.steady import Listener, Pass

QUICK_SCALES = (1.0, 1.5, 2.0, 3.0)
"""How much larger than those of a coarse mesh cells are while a hand drags: the first that gives few enough of them."""

QUICK_CELLS = 15_000
"""Few enough: a tenth of a second a solve."""

QUICK_RAYS = 500
"""Rays a patch then: an eighth of the usual moves heat and ripple of four demo bays by at most 0.01 W/m² and 0.01 K."""

NEVER_OLD = sys.maxsize
"""Number of a change that no newer one overtakes: who asks for a page waits for it."""

Job = SolveJob | PageJob


class Overtaken(Exception):
    """A newer change has come; what is being solved is no longer wanted."""


class SolverBench:
    """Takes jobs as they come and does the last of each kind."""

    def __init__(self, line: Connection, makers: Makers) -> None:
        self._line, self._makers = line, makers
        self._waiting: list[Job] = []
        self._come = threading.Condition()
        self._newest = 0
        self._models: dict[str, tuple[Model[Case], Result[Case]]] = {}

    def heed(self, job: object) -> None:
        """A job has come: it takes the place of those before it."""
        if not isinstance(job, SolveJob | PageJob):
            return
        with self._come:
            self._waiting = [*(other for other in self._waiting if isinstance(other, PageJob)), job]
            self._newest = max(self._newest, job.change)
            self._come.notify()

    def run(self) -> None:
        """Do jobs for ever."""
        while True:
            with self._come:
                self._come.wait_for(lambda: bool(self._waiting))
                job = self._waiting.pop()
            try:
                self._do(job)
            except Overtaken:
                self._tell(job, "dropped")
            except Exception as error:  # whatever a case brings about is told; the process goes on
                self._tell(job, "failed", in_words(error))

    def _do(self, job: Job) -> None:
        if isinstance(job, PageJob):
            make = self._makers.page if job.what == "page" else self._makers.scene
            self._tell(job, job.what, make(self._solved(SolveJob(NEVER_OLD, job.case, "own")), job.units))
            return
        began = perf_counter()
        result = self._solved(job)
        answer = told(result) | pictured(result, self._makers) | {"seconds": perf_counter() - began}
        self._tell(job, "answer", answer)
        if job.wish is not None:
            self._tell(job, "needed", self._needed(job, job.wish, result))

    def _solved(self, job: SolveJob) -> Result[Case]:
        """The result of a job; mesh and view factors of the last one serve where only the water differs."""
        model, start = self._model(job)
        result = solve_model(model, listener=self._watch(job), start=start.solution.state if start else None)
        self._models[job.mesh] = model, result
        return result

    def _model(self, job: SolveJob) -> tuple[Model[Case], Result[Case] | None]:
        kept = self._models.get(job.mesh)
        if kept is not None and _differ_in_water_alone(kept[0].case, job.case):
            model, result = kept
            warmed = model.with_supply(job.case.water.supply)
            return replace(warmed, case=job.case), result
        if job.mesh == "quick":
            return prepare(job.case, quick_fineness(job.case), rays=QUICK_RAYS), None
        return prepare(job.case), None

    def _watch(self, job: SolveJob) -> Listener | None:
        """Who listens to passes; a quick solve is soon done and always finished: a dragged map keeps moving."""
        return self._stop_when_old(job) if job.mesh == "own" else None

    def _stop_when_old(self, job: SolveJob) -> Listener:
        """Listens to passes and ends a solve that a newer change has overtaken."""

        def heard(_: Pass) -> None:
            if self._newest > job.change:
                raise Overtaken

        return heard

    def _needed(self, job: SolveJob, flux: float, result: Result[Case]) -> dict[str, Any]:
        """The water that a flux needs, with what then breaks; or why no water gives it."""
        from sim.rules.limits import hold, limits_for
        from sim.study.water import UnreachableError, required_supply

        model = self._models[job.mesh][0]
        try:
            found = required_supply(model, result, flux, tolerance=1e-3, listener=self._stop_when_old(job))
        except UnreachableError as error:
            why = in_both(str(error).removeprefix(f"{job.case.name}: "))
            return {"flux": both("heat_flux_up_W_m2", flux), "why": why}
        values = found.result.report.values
        broken = [verdict.limit.what for verdict in hold(limits_for(job.case), values) if not verdict.kept]
        water = number("water_supply_C", float(values["water_supply_C"]))
        peak = number("surface_peak_C", float(values["surface_peak_C"]))
        return {"flux": both("heat_flux_up_W_m2", flux), "water": water, "peak": peak, "broken": broken}

    def _tell(self, job: Job, kind: Any, what: Any = None) -> None:
        self._line.send(Reply(kind, job.change, job.mesh if isinstance(job, SolveJob) else "page", what))


def work(line: Connection, makers: Makers, warm: Case | None) -> None:
    """What a solver's process does until its line closes; it solves `warm` first, so that its kernels are there."""
    desk = SolverBench(line, makers)
    threading.Thread(target=listen, args=(line, desk.heed), daemon=True).start()
    if warm is not None:
        desk.heed(SolveJob(0, warm, "quick"))
    desk.run()


def follow_air(line: Connection, makers: Makers, job: FlowJob) -> None:
    """What the process of a computed flow does: tells how far it is, and in the end what came out."""
    from sim.resolved.means import Evidence, Round

    longest, wanted = float(job.case.air.longest), float(job.case.air.error)

    def heard(record: Round, evidence: Evidence, seconds: float) -> None:
        line.send(Reply("progress", job.change, "air", _progress(record, evidence, seconds, (longest, wanted))))

    try:
        began = perf_counter()
        model = prepare(job.case)
        line.send(Reply("progress", job.change, "air", {"share": 0.0, "cells": int(model.air_domain().air.sum())}))
        result = solve_model(model, air_listener=heard)
        answer = told(result) | pictured(result, makers) | {"seconds": perf_counter() - began}
        line.send(Reply("scene", job.change, "air", makers.scene(result, "si")))
        line.send(Reply("answer", job.change, "air", answer))
    except Exception as error:  # told in words; the process ends either way
        line.send(Reply("failed", job.change, "air", in_words(error)))


def _progress(record: Any, evidence: Any, seconds: float, ends: tuple[float, float]) -> dict[str, Any]:
    """How far a computed flow is: errors fall with the root of the time, at most until the longest time."""
    longest, wanted = ends
    error = float(evidence.largest_error)
    known = error < float("inf")
    end = min(longest, max(record.time, record.time * (error / wanted) ** 2)) if known else longest
    left = (end - record.time) * seconds / max(record.time, 1e-9)
    return {
        "share": min(1.0, record.time / end),
        "air_seconds": float(record.time),
        "error_percent": 100.0 * error if known else None,
        "wanted_percent": 100.0 * wanted,
        "left_s": left,
        "sure": known,
    }


def pictured(result: Result[Case], makers: Makers) -> dict[str, object]:
    """The pictures of a result."""
    return makers.picture(result.fields, result.report.values, result.case.title or result.case.name)


def quick_fineness(case: Case) -> Fineness:
    """The mesh of a drag."""
    geometry, coarse = build_geometry(case), fineness_from_word("coarse")
    scales = [coarse.scaled(scale) for scale in QUICK_SCALES]
    return next((one for one in scales if build_grid(geometry, one).size <= QUICK_CELLS), scales[-1])


def _differ_in_water_alone(before: Case, now: Case) -> bool:
    """Whether two cases differ in the supply temperature at most, and their air follows the same law."""
    water = now.water.model_copy(update={"supply": before.water.supply})
    same = water == before.water and now.model_copy(update={"water": before.water}) == before
    return same and uses_learned_films(before) == uses_learned_films(now)


def in_words(error: Exception) -> str:
    """Why something could not be solved, in one line."""
    if isinstance(error, MemoryError):
        return "the memory is too small for this mesh"
    text = " ".join(str(error).split())
    return text or type(error).__name__
