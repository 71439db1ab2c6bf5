"""Shared test settings: strict floating point, a seeded generator, the slow tier."""

import os

# Two processes or a busy machine: small dense solves must not wait for each other's threads. Before NumPy loads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest


def pytest_addoption(parser):
    parser.addoption("--runslow", action="store_true", help="also run tests marked slow (minutes)")


def pytest_collection_modifyitems(config, items):
    if config.getoption("--runslow"):
        return
    skip = pytest.mark.skip(reason="slow tier: run with --runslow")
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(skip)


@pytest.fixture(autouse=True)
def strict_floating_point():
    """Overflow, division by zero and invalid operations fail a test instead of passing as NaN."""
    with np.errstate(over="raise", divide="raise", invalid="raise"):
        yield


@pytest.fixture
def rng():
    """A generator with a fixed seed."""
    return np.random.default_rng(20261125)
