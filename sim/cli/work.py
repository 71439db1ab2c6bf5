"""Options of commands that do several solves: who works, and taking up work that was interrupted."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import UsageError

if TYPE_CHECKING:
    from sim.study.jobs import Pool


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Work:
    """Who works.

    Parameters
    ----------
    workers
        Local processes that share the solves.
    scheduler
        Address of a running Dask cluster instead, such as tcp://host:8786.
    resume
        Take up a run that was interrupted; what it had finished is not done again.
    """

    workers: int = 1
    scheduler: str | None = None
    resume: Annotated[bool, Parameter(negative=(), show_default=False)] = False

    def pool(self) -> Pool:
        """The pool of workers that is asked for.

        Raises
        ------
        UsageError
            The number of workers is not at least 1, or both workers and a scheduler are named.
        """
        from sim.study.jobs import Pool

        if self.workers < 1:
            raise UsageError(f"--workers got {self.workers}; must be at least 1")
        if self.scheduler is not None and self.workers > 1:
            raise UsageError("--workers and --scheduler exclude each other; give one of them")
        return Pool(self.workers, self.scheduler)


ALONE = Work()
"""One worker, this process."""


@contextmanager
def kept_work(folder: Path, work: Work) -> Iterator[Path]:
    """A folder beside the results that keeps finished solves until the results are complete.

    It is emptied first unless the work is taken up again, and stays behind when the command is interrupted.
    """
    store = folder.with_name(f"{folder.name}.work")
    if not work.resume:
        shutil.rmtree(store, ignore_errors=True)
    try:
        yield store
    except KeyboardInterrupt:
        if store.is_dir():
            raise KeyboardInterrupt(f"finished solves are kept in {store}; --resume takes them up") from None
        raise
    shutil.rmtree(store, ignore_errors=True)
