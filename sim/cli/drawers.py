"""Processes that draw side by side; what draws is imported there while something else is waited for."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from multiprocessing.connection import Connection
from pathlib import Path

from sim.cli.progress import Progress
from sim.machine.helpers import dismiss, hire

Drawing = Callable[[Progress], list[Path]]
"""Draws and tells how far it is; a function of a module with what it draws, so that it can be sent to a process."""


class Drawers:
    """Some processes, begun at once; they go at the end of the block."""

    def __init__(self, count: int) -> None:
        self._hired = [hire(_serve) for _ in range(count)]

    def __enter__(self) -> Drawers:
        return self

    def __exit__(self, *_: object) -> None:
        for process, line in self._hired:
            dismiss(process, line, patience=0.0)  # they take a second to go, and have nothing left to do

    def begin(self, works: Sequence[Drawing]) -> Begun:
        """Have works done, one by each process."""
        lines = [line for _, line in self._hired[: len(works)]]
        given = [line if _given(line, work) else None for line, work in zip(lines, works, strict=False)]
        return Begun(list(works), given + [None] * (len(works) - len(given)))

    def draw(self, works: Sequence[Drawing], progress: Progress) -> list[Path]:
        """The files of all works, in their order; what a process that died had is drawn here."""
        return self.begin(works).files(progress)


@dataclass(frozen=True, slots=True)
class Begun:
    """Works that are being done, and where each is heard of; None where nobody does it."""

    works: list[Drawing]
    lines: list[Connection | None]

    def files(self, progress: Progress) -> list[Path]:
        """The files of all works, in their order; what nobody did is drawn here."""
        files = []
        for work, line in zip(self.works, self.lines, strict=True):
            found = _heard(line) if line else None
            if isinstance(found, Exception):
                raise found
            drawn, notes = found or (work(progress), [])
            for note in notes:
                progress.note(note)
            files += drawn
        return files


@dataclass(frozen=True, slots=True)
class DrawnAhead:
    """Pictures and page of results that are not yet kept, begun in a draft of their folder."""

    begun: Begun
    draft: Path

    def into(self, folder: Path, progress: Progress) -> list[Path]:
        """Wait for them and bring them into the folder; one that it does not take is left out, and named."""
        files = []
        for file in self.begun.files(progress):
            place = folder / file.relative_to(self.draft)
            try:
                place.parent.mkdir(exist_ok=True)
                files.append(Path(shutil.copyfile(file, place)))
            except OSError as error:
                progress.note(f"{place.name} was left out: {error.strerror or error}")
                with suppress(OSError):
                    place.unlink(missing_ok=True)
        return files


def _given(line: Connection, work: Drawing) -> bool:
    """Whether a work could be sent."""
    try:
        line.send(work)
    except OSError:
        return False
    return True


def _heard(line: Connection) -> tuple[list[Path], list[str]] | Exception | None:
    """What came back: files and remarks, or what went wrong; None from a process that died."""
    try:
        found: tuple[list[Path], list[str]] | Exception = line.recv()
    except (EOFError, OSError):
        return None
    return found


class Quiet(Progress):
    """Keeps the remarks of a work, for the process that prints."""

    def __init__(self) -> None:
        self.notes: list[str] = []

    def stage(self, text: str, quietly: bool = False) -> None:
        """Nobody looks."""

    def note(self, text: str) -> None:
        """Keep a remark."""
        self.notes.append(text)


def _serve(line: Connection) -> None:
    """A process's life: import what draws, then work after work until the line closes."""
    load_drawing()
    while True:
        try:
            work = line.recv()
        except (EOFError, OSError):
            return
        quiet = Quiet()
        try:
            reply: object = (work(quiet), quiet.notes)
        except Exception as error:  # what went wrong is told where it is printed
            reply = error
        line.send(reply)


def load_drawing() -> None:
    """Import what draws a comparison."""
    for name in ("viz.bars", "viz.floor_map", "viz.profiles", "viz.scales", "viz.report.compare_page"):
        import_module(name)
