"""The cases of a lesson, solved one after the other, and kept in a folder that pictures are drawn from.

LESSON/
  lesson.json     its numbers, by case
  cases/          a folder for each case, as runs and warm-ups keep them
  worksheet.html  one page for the class; key.html the same with answers
  pictures/       what viz draws
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case import parse_case
from sim.case.vary import vary_case
from sim.lesson.data import Lesson, LessonCase
from sim.problems.kinds import AIR_ALONE, kind_of
from sim.store.run_folder import PICTURES_FOLDER, VERSIONS_FILE, versions
from sim.store.texts import file_name, json_text
from sim.store.whole_folder import write_folder

if TYPE_CHECKING:
    from sim.case.load import AnyCase

Tell = Callable[[str], None]

LESSON_RESULT, WORKSHEET, KEY = "lesson.json", "worksheet.html", "key.html"
LESSON_ENTRIES = (LESSON_RESULT, "cases", WORKSHEET, KEY, VERSIONS_FILE, PICTURES_FOLDER)
"""Everything that the folder of a lesson holds."""


@dataclass(frozen=True, slots=True)
class Taught:
    """A solved case of a lesson.

    Attributes
    ----------
    asked : LessonCase
    report : mapping of report key to number
    fields : xarray.Dataset
        Of a run, or the series of a warm-up.
    frames : xarray.Dataset, optional
        Pictures of moving air.
    history : lines of its course, for air alone
    title : str
    save : writes it into a folder
    """

    asked: LessonCase
    report: Mapping[str, Any]
    fields: Any
    frames: Any = None
    history: tuple[Mapping[str, Any], ...] = ()
    title: str = ""
    save: Callable[[Path], object] = lambda folder: None


def lesson_case(asked: LessonCase) -> AnyCase:
    """The case of a lesson, checked, with its changes.

    Raises
    ------
    CaseError
        When the file or a change breaks a rule.
    """
    case = parse_case(asked.text, asked.name)
    for key, value in asked.change.items():
        case = vary_case(case, key, value)  # type: ignore[arg-type]
    return case


def follow_lesson(lesson: Lesson, tell: Tell, added: tuple[float, ...] = ()) -> tuple[Taught, ...]:
    """Solve all cases of a lesson, with the values that the class adds to a sweep.

    Raises
    ------
    CaseError, LessonError
        Before anything is solved, when a case breaks a rule.
    """
    asked = lesson.all_cases(added)
    cases = [lesson_case(each) for each in asked]
    taught = []
    for number, (each, case) in enumerate(zip(asked, cases, strict=True), 1):
        told = f"{each.name} ({number} of {len(asked)})"
        tell(told)
        taught.append(_solved(each, case, lambda text, told=told: tell(f"{told}: {text}")))  # type: ignore[misc]
    return tuple(taught)


def _solved(asked: LessonCase, case: AnyCase, tell: Tell) -> Taught:
    if asked.in_time:
        from sim.problems.save_warm_up import write_warm_up
        from sim.problems.warm_up import warm_up

        found = warm_up(case)  # type: ignore[arg-type]
        kept: Callable[[Path], object] = partial(_write_warm_up, write_warm_up, found)
        return Taught(asked, found.report.as_dict(), found.series, title=case.title, save=kept)
    if AIR_ALONE.holds(case):
        run = AIR_ALONE.solve(case, tell=tell)
        kept = partial(AIR_ALONE.save, run)
        return Taught(asked, run.report.as_dict(), run.fields, run.frames_dataset, run.history, case.title, kept)
    from sim.run import solve

    result = solve(case)
    kept = partial(kind_of(case).save, result)
    return Taught(asked, result.report.as_dict(), result.fields, result.frames, title=case.title, save=kept)


def _write_warm_up(write: Callable[[Any, Path], object], found: Any, folder: Path) -> None:
    folder.mkdir(parents=True)
    write(found, folder)


def save_lesson(lesson: Lesson, taught: Sequence[Taught], folder: str | Path, sheets: Mapping[str, str]) -> Path:
    """Write a solved lesson as a folder; `sheets` are its pages by file name.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not ours.
    """

    def fill(partial_folder: Path) -> None:
        for number, each in enumerate(taught, 1):
            each.save(partial_folder / "cases" / f"{number}-{file_name(each.asked.name)}")
        for name, page in sheets.items():
            (partial_folder / name).write_text(page, encoding="utf-8")
        (partial_folder / LESSON_RESULT).write_text(json_text(lesson_dict(lesson, taught)), encoding="utf-8")
        (partial_folder / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")

    return write_folder(folder, fill, owned=LESSON_ENTRIES)


def lesson_dict(lesson: Lesson, taught: Sequence[Taught]) -> dict[str, object]:
    """A lesson's words and numbers as plain values."""
    told: dict[str, object] = {key: getattr(lesson, key) for key in ("title", "question", "answer", "fidelity")}
    told |= {"options": list(lesson.options), "right": lesson.right}
    reports = [{"case": each.asked.name, "added": each.asked.added, "report": dict(each.report)} for each in taught]
    return {"lesson": lesson.name} | told | {"cases": reports}
