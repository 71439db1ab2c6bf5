"""From what went wrong to an exit code and a clear line on stderr."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from sim.cli.first_word import first_word

BAD_INPUT = 2
FAILED = 1
STOPPED = 130
"""Exit codes; 130 is what shells report for Ctrl-C (128 + SIGINT)."""

_KNOWN = (
    ("sim.cli.errors", "UsageError", BAD_INPUT),
    ("sim.case.errors", "CaseError", BAD_INPUT),
    ("sim.store.run_folder", "StoreError", BAD_INPUT),
    ("sim.problems.kind", "TooLargeError", BAD_INPUT),
    ("sim.run", "NotConvergedError", FAILED),
    ("sim.solver.steady", "DivergedError", FAILED),
    ("sim.solver.switching", "MarchError", FAILED),
    ("sim.solver.balance", "BalanceError", FAILED),
    ("sim.study.water", "UnreachableError", FAILED),
    ("sim.study.spacing", "NoSpacingError", FAILED),
    ("sim.study.sampling", "StudyError", FAILED),
    ("sim.house.bay_solver", "HouseError", FAILED),
    ("sim.cli.errors", "SolveError", FAILED),
    ("sim.cli.keeping", "NotKeptError", FAILED),
    ("sim.jobs.job", "ClusterError", BAD_INPUT),
    ("sim.airflow.device.seam", "NoDeviceError", BAD_INPUT),
)


class UsageError(Exception):
    """An argument or option cannot be used; the message says which, why and what to write instead."""


class SolveError(Exception):
    """The model could not be solved although its input is sound; the message says why."""


def exit_code_of(error: BaseException) -> int | None:
    """The exit code of an expected error, None for one that should not happen.

    Error classes are looked up among the modules already imported: one whose module is not there cannot have
    been raised, and nothing is imported only to find that out.
    """
    for module, name, code in _KNOWN:
        kind = getattr(sys.modules.get(module), name, None)
        if kind is not None and isinstance(error, kind):
            return code
    return None


@contextmanager
def modelled(name: str) -> Iterator[None]:
    """Around building a model: a value that a part of it refuses is bad input of case `name`."""
    try:
        yield
    except ValueError as error:
        if exit_code_of(error) is not None:
            raise
        raise UsageError(f"{name}: cannot be modelled: {error}") from error
    except MemoryError:
        raise UsageError(f"{name}: the mesh does not fit into memory; use larger cells") from None


@contextmanager
def solved(name: str) -> Iterator[None]:
    """Around solving: a law asked for more than its range has failed, not the program."""
    try:
        yield
    except ValueError as error:
        if exit_code_of(error) is not None:
            raise
        raise SolveError(f"{name}: cannot be solved: {error}") from error
    except MemoryError:
        raise SolveError(f"{name}: the memory is too small for this mesh; use larger cells") from None


def say_note(text: str) -> None:
    """Write a remark to stderr: in a pipe as one line, on a terminal in lines that fit it."""
    from shutil import get_terminal_size
    from textwrap import fill

    wide = get_terminal_size().columns
    say_error(fill(text, wide, subsequent_indent="  ", break_on_hyphens=False) if sys.stderr.isatty() else text)


def say_error(text: str) -> None:
    """Write a message to stderr; names and values in it cannot steer the terminal."""
    if not text.replace("\n", " ").isprintable():
        from sim.case.errors import visible

        text = visible(text)
    first_word.spoken()
    print(text, file=sys.stderr)
