"""Helping processes of tests, forked from one that has everything loaded: an interpreter of its own costs 1 to 2 s.

What commands begin as programs of their own (`test_stopped`, `test_pools`, `test_faults`, `test_installed`) begins its
helpers as users have them.
"""

import multiprocessing
import os
from functools import cache
from multiprocessing import forkserver
from pathlib import Path
from types import SimpleNamespace

ROOT = Path(__file__).parents[1]


@cache
def _begun():
    """The way to fork from a process that is begun now, wherever the test stands."""
    multiprocessing.set_forkserver_preload(["tests.everything_loaded"])
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), *([before] if before else [])])
    try:
        forkserver.ensure_running()
    finally:
        del os.environ["PYTHONPATH"]
        if before is not None:
            os.environ["PYTHONPATH"] = before
    return multiprocessing.get_context("forkserver")


def get_context(way):
    """What `multiprocessing` gives, but forks for interpreters of their own."""
    return _begun() if way == "spawn" and hasattr(os, "fork") else multiprocessing.get_context(way)


def begin_quickly(patch):
    """Have the rooms that begin processes do so quickly."""
    patch.setattr("sim.machine.helpers.multiprocessing", SimpleNamespace(get_context=get_context))
    patch.setattr("sim.jobs.bay_workers.get_context", get_context)
