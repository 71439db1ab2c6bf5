"""`joistbay lesson`: a lesson for a classroom, or the list of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError
from sim.cli.keeping import folder_entry, keep, kept_line
from sim.cli.options import USUAL, Output
from sim.cli.progress import Progress, compilation_announced
from sim.lesson.data import Lesson, LessonError, lesson_names, load_lesson

if TYPE_CHECKING:
    from sim.lesson.follow import Taught
    from sim.results.people import Units


def lesson(
    name: str | None = None,
    /,
    *,
    values: str | None = None,
    cases: Path | None = None,
    output: Output = USUAL,
) -> int:
    """Show a lesson: its question, a picture for the wall, its numbers and answer; without a name list all lessons.

    Parameters
    ----------
    name
        A lesson; left out: all are listed, each with its question and time.
    values
        Values that the class adds to a lesson with a sweep, such as 10,18 (mm, with --units ip inches) or
        "1/2 in,15 mm".
    cases
        Folder with the lessons; cases/teaching when left out.
    """
    try:
        if name is None:
            return _list(cases, output)
        asked = load_lesson(name, cases)
        return _teach(asked, _added(values, asked, _system(output)), output)
    except LessonError as error:
        from sim.results.spelling import told

        raise UsageError(told(str(error), _system(output))) from error


def _added(text: str | None, asked: Lesson, system: Units) -> tuple[float, ...]:
    """Values in the unit of the lesson's sweep; plain numbers are in the reader's."""
    unit = asked.sweep.unit if asked.sweep else ""
    if not text:
        return ()
    plain = "in" if (unit, system) == ("mm", "ip") else unit
    try:
        return tuple(_value(part.strip(), plain, unit) for part in text.split(","))
    except ValueError:
        known = f" or with a unit, as {'1/2 in,15 mm' if unit == 'mm' else f'10 {unit}'}" if unit else ""
        raise UsageError(
            f"--values {text}: are not numbers; write them as {'0.4,0.7' if plain == 'in' else '10,18'}{known}"
        ) from None


def _value(part: str, plain: str, unit: str) -> float:
    """A number in the unit of a sweep, from one that has a unit of its own or is in the reader's."""
    from sim.case.quantities import parse

    try:
        number = float(part)
    except ValueError:
        if unit != "mm":
            raise
        return round(1000.0 * parse(part, "length"), 6)
    return number * 25.4 if plain != unit else number


def _list(where: Path | None, output: Output) -> int:
    from sim.cli.show import console, print_sentence
    from sim.store.texts import json_text

    lessons = [load_lesson(name, where) for name in lesson_names(where)]
    if not lessons:
        raise LessonError(f"{where}: no lessons there; name their folder with --cases")
    if output.json:
        told = [
            {"lesson": x.name, "title": x.title, "question": x.question, "seconds": x.seconds, "minutes": x.minutes}
            for x in lessons
        ]
        print(json_text({"lessons": told}), end="")
        return 0
    out = console(output.units)
    for each in lessons:
        out.print(f"{each.name}  (computed in about {each.seconds:.0f} s, in class {each.minutes} min)", style="bold")
        each = _told_in(each, output)
        out.print(f"  {each.title}")
        out.print(f"  {each.question}\n")
    print_sentence(
        out,
        "Seconds on two idle cores; minutes are an estimate (5 to predict, 5 for picture and numbers, 4 a question), "
        "tried with no class. Start one with: joistbay lesson NAME",
    )
    return 0


def _teach(asked: Lesson, added: tuple[float, ...], output: Output) -> int:
    from sim.lesson.follow import LESSON_ENTRIES, follow_lesson, save_lesson
    from sim.store.target import check_target

    folder = output.out or Path("runs") / f"lesson-{asked.name}"
    check_target(folder, LESSON_ENTRIES)
    told = _told_in(asked, output)
    if not output.json:
        _ask(told, output)
    with Progress() as progress, compilation_announced(progress):
        progress.stage(f"{asked.name}: about {asked.seconds:.0f} s on two idle cores")
        taught = follow_lesson(asked, progress.on_step, added)
        show = partial(_show, told, taught, output)
        keep(partial(save_lesson, asked, taught, sheets=_sheets(told, taught, output)), folder, show)
        pictures = [] if output.no_pictures else _draw(asked, taught, folder, _system(output), progress)
    show(folder, pictures)
    return 0


def _told_in(asked: Lesson, output: Output) -> Lesson:
    """The lesson with the numbers and the spelling of its texts in the reader's units."""
    from dataclasses import replace

    from sim.results.spelling import told

    if output.units != "ip":
        return asked
    return replace(
        asked, title=told(asked.title, "ip"), question=told(asked.question, "ip"), answer=told(asked.answer, "ip"),
        fidelity=told(asked.fidelity, "ip"),
        options=tuple(told(option, "ip") for option in asked.options),
        tasks=tuple((told(question, "ip"), told(answer, "ip")) for question, answer in asked.tasks),
        numbers=tuple((told(label, "ip"), key) for label, key in asked.numbers),
    )  # fmt: skip


def _system(output: Output) -> Units:
    return "ip" if output.units == "ip" else "si"


def _ask(asked: Lesson, output: Output) -> None:
    """Title, question and choices, before anything is solved."""
    from sim.cli.show import console

    out = console(output.units)
    out.print(asked.title, style="bold")
    out.print(f"\nPredict first: {asked.question}")
    for letter, option in zip("abcdefgh", asked.options, strict=False):
        out.print(f"  {letter}) {option}")
    out.print()


def _sheets(asked: Lesson, taught: Sequence[Taught], output: Output) -> dict[str, str]:
    from sim.lesson.follow import KEY, WORKSHEET, lesson_dict
    from viz.lesson_page import lesson_page

    told = lesson_dict(asked, taught) | {"tasks": asked.tasks, "minutes": asked.minutes}
    pages = {WORKSHEET: False, KEY: True}
    return {name: lesson_page(told, asked.numbers, filled, _system(output)) for name, filled in pages.items()}


def _draw(asked: Lesson, taught: Sequence[Taught], folder: Path, units: Units, progress: Progress) -> list[Path]:
    from sim.machine.extras import what_to_install
    from sim.store.run_folder import PICTURES_FOLDER
    from viz.choice import Choice
    from viz.lesson_picture import save_lesson_picture

    progress.stage("drawing")
    choices = [Choice(each.asked.name, each.fields, each.report, each.title) for each in taught]
    files = save_lesson_picture(
        choices, asked.picture, asked.title, folder / PICTURES_FOLDER, frames=[each.frames for each in taught],
        histories=[each.history for each in taught], added=[each.asked.added for each in taught], units=units,
    )  # fmt: skip
    if any(file.suffix == ".gif" for file in files):
        progress.note(f"The movie is a GIF, as no video encoder works here: {what_to_install('imageio_ffmpeg')}")
    return files


def _show(
    asked: Lesson, taught: Sequence[Taught], output: Output, folder: Path | None, pictures: list[Path]
) -> None:
    from sim.cli.show import console
    from sim.lesson.follow import lesson_dict
    from sim.store.texts import json_text

    if output.json:
        print(json_text(lesson_dict(asked, taught) | folder_entry(folder)), end="")
        return
    out = console(output.units)
    out.print(_numbers(asked, taught, output))
    out.print(f"\nAnswer: {asked.answer}")
    out.print(f"\nHow far to trust it: {asked.fidelity}")
    out.print(f"\nFor the class: {folder}/worksheet.html, its key {folder}/key.html" if folder else "", soft_wrap=True)
    out.print(kept_line(folder, pictures), soft_wrap=True)


def _numbers(asked: Lesson, taught: Sequence[Taught], output: Output) -> Any:
    """A row a case, a column a number."""
    from sim.cli.show import plain_table
    from sim.results.air_motion import told_number
    from sim.results.spelling import told

    table = plain_table()
    table.add_column("")
    for label, _ in asked.numbers:
        table.add_column(label, justify="right")
    system = _system(output)
    for each in taught:
        own = " (yours)" if each.asked.added else ""
        cells = [told_number(each.report, key, system) for _, key in asked.numbers]
        table.add_row(told(each.asked.name, system) + own, *cells)
    return table
