"""The explorer on a stage: its own server and talks, with solvers that invent numbers, fail, hang or crash as told.

Nothing here solves anything: heat up is the plate spacing in millimetres, so that a test sees whose numbers are shown.
The page of a bay with one run cannot be written; water of 61 °C cannot be solved, 62 °C crashes the process, 63 °C
takes for ever.
"""

import asyncio
import multiprocessing
import threading
import time
from contextlib import contextmanager
from functools import partial

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.explorer.bay_talk import BayTalk, Staff
from sim.explorer.jobs import FlowJob, Makers, PageJob, Reply
from sim.explorer.kept import Kept
from sim.explorer.pages import ServedPage
from sim.explorer.server import Server, listen
from sim.explorer.shelf import shelf
from sim.explorer.told import both, number
from viz.choice import FloorPlan, Outline
from viz.explorer import BAY_PAGE
from viz.explorer.picture import look
from viz.report.maps import hover_grid

FAILS, CRASHES, HANGS = 61.0, 62.0, 63.0
"""Waters [°C] that mean trouble."""

QUICK, OWN = 0.05, 0.15
"""Seconds that the invented solves take."""

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><text>cut</text></svg>'


def invented(case, cells):
    """An answer that tells whose it is."""
    spacing = 1000.0 * case.plates.spacing if case.plates else 0.0
    water = float(case.water.supply) - ZERO_CELSIUS
    x, y = np.linspace(0.0, 0.4, 9), np.linspace(0.0, 1.2, 25)
    kelvin = 297.0 + 2.0 * np.sin(20.0 * (y[1:] + y[:-1]) / 2.0)[None, :] * np.ones((8, 1))
    plan = FloorPlan(x, y, kelvin, (Outline("plate", "plate", (0.1, 0.3, 0.1, 0.3, 0.0, 0.1)),))
    floor = hover_grid(plan) | {"parts": [{"kind": "plate", "box": [100.0, 300.0, 100.0, 300.0]}]}
    values = {"heat_flux_up_W_m2": spacing, "surface_mean_C": 24.0, "surface_peak_C": water / 2.0,
              "surface_trough_C": 22.0, "ripple_K": 2.0, "share_down_percent": 12.0}  # fmt: skip
    sides = {"si": "1.0", "ip": "1.0"}
    limit = {"what": "occupied floor", "source": "a standard", "kept": water < 60.0, "used": water / 60.0,
             "here": sides, "most": sides, "left": sides}  # fmt: skip
    drawing = {"svg": DRAWING, "si": "words", "ip": "words"}
    return {
        "numbers": [number(key, value) for key, value in values.items()], "limits": [limit], "feet": [],
        "cautions": [{"subject": "hot water", "si": "burns", "ip": "burns", "source": "a code", "broken": False}],
        "air": "invented films", "beyond": [], "cells": cells, "room": 20.0, "highest": 29.0, "floor": floor,
        "section": drawing, "warm": drawing, "seconds": QUICK,
    }  # fmt: skip


def solver(line, makers, warm):
    """A solver's process: does one job after the other, leaving out those that a newer one has overtaken."""
    while True:
        job = line.recv()
        while line.poll():
            job = line.recv()
        if isinstance(job, PageJob):
            if job.case.tube.runs == 1:
                line.send(Reply("failed", job.change, "page", "the disk is full"))
                continue
            line.send(Reply("page", job.change, "page", f"<title>{job.case.name}</title>"))
            continue
        water = round(float(job.case.water.supply) - ZERO_CELSIUS, 3)
        if water == CRASHES:
            raise SystemExit(7)
        time.sleep(600.0 if water == HANGS else QUICK if job.mesh == "quick" else OWN)
        if water == FAILS:
            line.send(Reply("failed", job.change, job.mesh, "the passes ended too early"))
            continue
        line.send(Reply("answer", job.change, job.mesh, invented(job.case, 100 if job.mesh == "quick" else 1000)))
        if job.wish is not None:
            told = {"water": number("water_supply_C", job.wish), "peak": number("surface_peak_C", 27.0), "broken": []}
            line.send(Reply("needed", job.change, job.mesh, told | {"flux": both("heat_flux_up_W_m2", job.wish)}))


def follower(line, makers, job: FlowJob):
    """Follows no air: tells three times how far it is, then what came out; water of 55 °C never comes to an end."""
    progress = {"air_seconds": 10.0, "error_percent": 3.0, "wanted_percent": 1.0, "left_s": 30.0, "sure": True}
    for share in (0.2, 0.5, 0.8):
        line.send(Reply("progress", job.change, "air", progress | {"share": share}))
        time.sleep(0.1)
    if round(float(job.case.water.supply) - ZERO_CELSIUS, 3) == 55.0:
        time.sleep(600.0)
    line.send(Reply("answer", job.change, "air", invented(job.case, 5000)))


class ThreadAsProcess:
    """A thread that is hired as a process is: quick to begin, so that many tabs can be tried."""

    def __init__(self, function, line, arguments):
        self.exitcode = None
        self._thread = threading.Thread(target=self._run, args=(function, line, arguments), daemon=True)
        self._thread.start()

    def _run(self, function, line, arguments):
        try:
            function(line, *arguments)
            self.exitcode = 0
        except SystemExit as end:
            self.exitcode = end.code
        except (EOFError, OSError):
            self.exitcode = -9
        line.close()

    def join(self, timeout=None):
        self._thread.join(min(0.2, timeout or 0.2))

    def is_alive(self):
        return False

    def kill(self):
        """What it does goes on unheard."""


def hire(function, *arguments):
    """As `sim.machine.helpers.hire`, in this process."""
    line, far_end = multiprocessing.Pipe()
    return ThreadAsProcess(function, far_end, arguments), line


def page(case):
    """The page of a bay with invented solvers."""
    told = look() | {"units": "si", "ends": "It ends."}
    talk = partial(BayTalk, shelf(), case, Makers(None, None, None), Kept(), told, Staff(solver, follower))
    return ServedPage(BAY_PAGE, talk)


@contextmanager
def served(pages, first, **how):
    """A server of some pages in a thread of its own, and its address."""
    server, ready, found = Server(pages, first, **how), threading.Event(), []

    def run():
        asyncio.run(server.run(listen(0), lambda address: (found.append(address), ready.set())))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    assert ready.wait(10.0)
    try:
        yield server, found[0], thread
    finally:
        server.stop()
        thread.join(10.0)
