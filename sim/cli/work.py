"""Options of commands that do several solves: who works, and taking up work that was interrupted."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import UsageError, say_error
from sim.cli.options import WholeNumber
from sim.cli.stopping import say_when_stopped, writes_to
from sim.machine.gate import whole

if TYPE_CHECKING:
    from sim.jobs.job import Pool

MOST_A_PROCESSOR = 4
"""Workers for each processor; more only wait for one another."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Work:
    """Who works.

    Parameters
    ----------
    workers
        Local processes that share the solves; 1 when left out, of a house as many as processors, four at most.
    scheduler
        Address of a running Dask cluster instead, such as tls://host:8786; whoever reaches one at tcp:// can run
        code as its owner.
    resume
        Take up a run that was interrupted; what it had finished is not done again.
    """

    workers: Annotated[WholeNumber, Parameter(show_default=False)] = 1
    scheduler: str | None = None
    resume: Annotated[bool, Parameter(negative=(), show_default=False)] = False

    def pool(self) -> Pool:
        """The pool of workers that is asked for.

        Raises
        ------
        UsageError
            The number of workers is below 1 or beyond what this machine can do with, or both workers and a scheduler
            are named.
        """
        from sim.case.errors import shortened
        from sim.jobs.job import Pool

        if self.workers < 1:
            raise UsageError(f"--workers got {self.workers}; must be at least 1")
        processors = os.cpu_count() or 1
        if self.workers > MOST_A_PROCESSOR * processors:
            rule = f"this machine has {processors} processors, and each worker fills memory; give at most"
            got = shortened(str(self.workers), 20)
            raise UsageError(f"--workers got {got}; {rule} {MOST_A_PROCESSOR * processors}")
        if self.scheduler is not None and self.workers > 1:
            raise UsageError("--workers and --scheduler exclude each other; give one of them")
        if self.scheduler is not None and not self.scheduler.startswith("tls://"):
            say_error(f"{self.scheduler}: is not tls://, so whoever reaches its ports can run code as its owner")
        return Pool(self.workers, self.scheduler)


ALONE = Work()
"""One worker, this process."""


@contextmanager
def kept_work(folder: Path, work: Work) -> Iterator[Path]:
    """A folder beside the results that keeps finished solves until the results are complete.

    It is emptied first unless the work is taken up again, and stays behind when the command is stopped. No other
    command works on the same results meanwhile.

    Raises
    ------
    StoreError
        Another command does, or the folder beside the results holds anything that is not ours.
    """
    from sim.store.folder_lock import locked

    store = folder.with_name(f"{folder.name}.work")
    with locked(folder):
        with whole():
            _begin(store, work.resume)
        say_when_stopped(lambda: _what_is_kept(store, "--resume"))
        writes_to(folder, store=store)
        try:
            yield store
        except BaseException as stop:
            if not _is_begun(store):
                _remove(store)
            elif isinstance(stop, KeyboardInterrupt):
                raise KeyboardInterrupt(_what_is_kept(store, "--resume")) from None
            raise
        say_when_stopped(f"the results are in {folder}" if folder.is_dir() else "")
        writes_to(folder)
        with whole():
            _remove(store)


@contextmanager
def lasting_work(folder: Path, store: Path) -> Iterator[Path]:
    """A folder beside the results whose finished solves stay, for this run and the next.

    No other command works on the same results meanwhile.

    Raises
    ------
    StoreError
        Another command does, or the folder holds anything that is not ours.
    """
    from sim.store.folder_lock import locked

    with locked(folder):
        with whole():
            _begin(store, resume=True)
        say_when_stopped(lambda: _what_is_kept(store, "the next run"))
        writes_to(folder, store=store)
        try:
            yield store
        finally:
            if not _is_begun(store):
                _remove(store)
        say_when_stopped(f"the results are in {folder}" if folder.is_dir() else "")
        writes_to(folder)


def _begin(store: Path, resume: bool) -> None:
    """Make the store, or empty it unless its work is taken up; one that is not ours is left alone."""
    from sim.store.own_folders import WORK_MARK, foreign_work
    from sim.store.run_folder import StoreError

    if store.is_symlink() or (store.exists() and not store.is_dir()):
        raise StoreError(f"{store}: is in the way; nothing was removed, move it or choose another --out")
    if store.is_dir() and any(store.iterdir()):
        marked, strange = (store / WORK_MARK).is_file(), foreign_work(store)
        if strange or not marked:
            what = ", ".join(strange[:3]) or f"no {WORK_MARK}"
            raise StoreError(
                f"{store}: would be replaced by this work but holds {what}, so it is not only joistbay's; "
                "nothing was removed, move it or choose another --out"
            )
        if not resume:
            _remove(store)
    store.mkdir(parents=True, exist_ok=True)
    (store / WORK_MARK).touch()


def _remove(store: Path) -> None:
    """Remove the store, unless something that is not ours has come there meanwhile."""
    from sim.store.own_folders import foreign_work

    if not foreign_work(store):
        shutil.rmtree(store, ignore_errors=True)


def _is_begun(store: Path) -> bool:
    """Whether anything is kept."""
    from sim.store.own_folders import WORK_MARK

    return any(entry.name != WORK_MARK for entry in store.iterdir())


def _what_is_kept(store: Path, takes_up: str) -> str:
    """How a stopped command goes on."""
    if store.is_dir() and _is_begun(store):
        return f"finished solves are kept in {store}; {takes_up} takes them up"
    return "no solve was finished yet"
