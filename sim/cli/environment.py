"""Variables of the environment that libraries of ours read: what would make them stumble is mended, and said."""

from __future__ import annotations

import os

from sim.cli.errors import say_error

LEAST = {"NUMBA_NUM_THREADS": 1, "SOURCE_DATE_EPOCH": 0}
"""Variables that hold a whole number, and the least of each: anything else ends an import with a traceback."""


def settle_environment() -> None:
    """Call it before these libraries are imported."""
    os.environ["MPLBACKEND"] = "agg"  # pictures go into files; notebooks hand down a backend that may not be here
    for name, least in LEAST.items():
        asked = os.environ.get(name, str(least)).strip()
        if not (asked.isascii() and asked.isdigit() and int(asked) >= least):
            del os.environ[name]
            say_error(f'joistbay: {name} got "{asked[:20]}"; a whole number from {least} is wanted, so it is left out')


def stands_nowhere() -> bool:
    """Whether the folder we were started in is gone, so that no path beside it means anything."""
    try:
        os.getcwd()
    except OSError:
        return True
    return False
