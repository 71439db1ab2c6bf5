"""Variables of the environment that libraries of ours read: what would make them stumble is mended, and said."""

from __future__ import annotations

import os

from sim.cli.errors import say_error

THREADS = "NUMBA_NUM_THREADS"


def settle_environment() -> None:
    """Call it before these libraries are imported."""
    os.environ["MPLBACKEND"] = "agg"  # pictures go into files; notebooks hand down a backend that may not be here
    asked = os.environ.get(THREADS, "1").strip()
    if not (asked.isascii() and asked.isdigit() and int(asked)):
        del os.environ[THREADS]
        say_error(f'joistbay: {THREADS} got "{asked[:20]}"; a whole number from 1 is wanted, so it is left out')


def stands_nowhere() -> bool:
    """Whether the folder we were started in is gone, so that no path beside it means anything."""
    try:
        os.getcwd()
    except OSError:
        return True
    return False
