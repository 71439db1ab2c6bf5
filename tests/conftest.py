"""Shared test settings: strict floating point, a seeded generator, the slow tier."""

import gc
import os
import signal
import sys

# Two processes or a busy machine: small dense solves must not wait for each other's threads. Before NumPy loads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest

from tests.quick_helpers import begin_quickly

# Compiled modules are kept, whatever the shell says: each command that a test starts would compile the package anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# A shell's background job ignores Ctrl-C, and so would each command that a test starts to strike it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# What collecting makes stays to the end: looking for garbage in it finds none.
gc.disable()


def pytest_addoption(parser):
    parser.addoption("--runslow", action="store_true", help="also run tests marked slow (minutes)")


def pytest_collection_finish():
    gc.collect()
    gc.freeze()
    gc.enable()


def pytest_collection_modifyitems(config, items):
    if config.getoption("--runslow"):
        return
    skip = pytest.mark.skip(reason="slow tier: run with --runslow")
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(skip)


@pytest.fixture(autouse=True, scope="session")
def quick_helpers():
    """Helping processes are forked where nothing else is the matter."""
    with pytest.MonkeyPatch.context() as patch:
        begin_quickly(patch)
        yield


@pytest.fixture(autouse=True, scope="session")
def many_cavities():
    """Tests solve the same few shapes again and again: their rays are traced once a process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sim.solver.traced.MOST", 100)
        yield


@pytest.fixture(autouse=True)
def strict_floating_point():
    """Overflow, division by zero and invalid operations fail a test instead of passing as NaN."""
    with np.errstate(over="raise", divide="raise", invalid="raise"):
        yield


@pytest.fixture
def rng():
    """A generator with a fixed seed."""
    return np.random.default_rng(20261125)
