"""Processes that draw side by side; what draws is imported there while something else is waited for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
            dismiss(process, line, 1.0)

    def draw(self, works: Sequence[Drawing], progress: Progress) -> list[Path]:
        """The files of all works, in their order; what a process that died had is drawn here."""
        lines = [line for _, line in self._hired[: len(works)]]
        given = [_given(line, work) for line, work in zip(lines, works, strict=False)]
        files = []
        for number, work in enumerate(works):
            found = _heard(lines[number]) if number < len(lines) and given[number] else None
            if isinstance(found, Exception):
                raise found
            drawn, notes = found or (work(progress), [])
            for note in notes:
                progress.note(note)
            files += drawn
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
