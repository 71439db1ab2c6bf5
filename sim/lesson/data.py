"""A lesson: a folder with `lesson.toml` and case files; adding a lesson means adding a folder.

`lesson.toml` holds

    title, question, answer, fidelity      texts; `options`, a list of texts to choose from
    right                                  number of the right option, counted from 1
    seconds                                how long it takes on two idle cores
    tasks                                  what the worksheet asks, each [question, answer for the key]
    [[case]]                               name, file; `fill` {word = number} for {word*2.5} in the file;
                                           `change` {key = value}; time = true follows it as a warm-up
    [sweep]                                one case a value instead: file, word, unit, values, least, most
    [[number]]                             label, key of the reports
    [picture]                              kind, and what that kind asks for (`viz/lesson_picture.py`)
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sim.machine.shipped import SHIPPED

LESSON_FILE = "lesson.toml"
_TEXTS = ("title", "question", "answer", "fidelity")
_PLACE = re.compile(r"\{([a-z_0-9.*]+)\}")


class LessonError(ValueError):
    """A lesson is not there, or its file breaks a rule; the message names file, key and way out."""


@dataclass(frozen=True, slots=True)
class LessonCase:
    """One case of a lesson: its name in pictures, its file's text, what is changed in it.

    `value` is that of a sweep, None elsewhere; `added` says that the class asked for it.
    """

    name: str
    text: str
    change: Mapping[str, Any]
    in_time: bool = False
    value: float | None = None
    added: bool = False


@dataclass(frozen=True, slots=True)
class Sweep:
    """A lesson's one case for several values of a word in its file."""

    file: str
    word: str
    unit: str
    values: tuple[float, ...]
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson as its file states it; see the module."""

    name: str
    folder: Path
    title: str
    question: str
    options: tuple[str, ...]
    right: int
    answer: str
    fidelity: str
    seconds: float
    tasks: tuple[tuple[str, str], ...]
    cases: tuple[LessonCase, ...]
    sweep: Sweep | None
    numbers: tuple[tuple[str, str], ...]
    picture: Mapping[str, Any] = field(default_factory=dict)

    @property
    def minutes(self) -> int:
        """How long a class is busy with it, to five minutes: an estimate of ours, tried with no class.

        Five to predict and say why, five for picture and numbers, four for each question of the worksheet.
        """
        return 5 * round((10 + 4 * len(self.tasks)) / 5)

    def all_cases(self, added: tuple[float, ...] = ()) -> tuple[LessonCase, ...]:
        """Its cases, and those of a sweep in rising order, with the values that the class adds.

        Raises
        ------
        LessonError
            Values are added to a lesson without a sweep, or lie outside its range.
        """
        if self.sweep is None:
            if added:
                raise LessonError(f"{self.name}: has no values to choose; leave --values out")
            return self.cases
        return self.cases + tuple(_swept(self, self.sweep, added))


def _swept(lesson: Lesson, sweep: Sweep, added: tuple[float, ...]) -> Iterator[LessonCase]:
    for value in added:
        if not sweep.least <= value <= sweep.most:
            span = f"{sweep.least:g} to {sweep.most:g} {sweep.unit}"
            raise LessonError(f"{lesson.name}: --values {value:g} {sweep.unit}: must be {span}; choose within")
    text = _read(lesson.folder / sweep.file)
    for value in sorted({*sweep.values, *added}):
        own = value in added and value not in sweep.values
        yield LessonCase(
            f"{value:g} {sweep.unit}", filled(text, {sweep.word: value}), {}, value=value, added=own
        )


def filled(text: str, words: Mapping[str, float]) -> str:
    """A case's text with numbers in place of {word}, {word*2.5} and {word*word}.

    Examples
    --------
    >>> filled('x = "{gap*2} mm"', {"gap": 12.5})
    'x = "25 mm"'
    """

    def number(found: re.Match[str]) -> str:
        product = 1.0
        for factor in found[1].split("*"):
            product *= words[factor] if factor in words else float(factor)
        return f"{product:.6g}"

    return _PLACE.sub(number, text)


def lesson_names(where: Path | None = None) -> list[str]:
    """Names of all lessons, in the order of their titles' numbers if they have any, else by name."""
    return sorted(path.parent.name for path in _home(where).glob(f"*/{LESSON_FILE}"))


def _home(where: Path | None) -> Path:
    return where or SHIPPED / "teaching"


def load_lesson(name: str, where: Path | None = None) -> Lesson:
    """Read a lesson by its name.

    Raises
    ------
    LessonError
        There is none of that name, or its file breaks a rule.
    """
    known = lesson_names(where)
    if name not in known:
        near = get_close_matches(name, known, n=1, cutoff=0.4)
        hint = f'did you mean "{near[0]}"?' if near else f"there are {', '.join(known)}"
        raise LessonError(f'no lesson "{name[:60]}"; {hint}')
    folder = _home(where) / name
    file = folder / LESSON_FILE
    try:
        data = tomllib.loads(_read(file))
    except (ValueError, RecursionError) as error:
        raise LessonError(f"{file}: is not valid TOML: {str(error)[:200]}; mend that line") from None
    if fault := next(_faults(data), None):
        raise LessonError(f"{file}: {fault}")
    return Lesson(
        name, folder, data["title"], data["question"], tuple(data.get("options", ())),
        data.get("right", 0),
        data["answer"], data["fidelity"], float(data["seconds"]),
        tuple((task[0], task[1]) for task in data.get("tasks", ())),
        tuple(_case(folder, entry) for entry in data.get("case", ())), _sweep(data.get("sweep")),
        tuple((entry["label"], entry["key"]) for entry in data.get("number", ())), data["picture"],
    )  # fmt: skip


def _faults(data: Mapping[str, Any]) -> Iterator[str]:
    """What is missing or of the wrong kind."""
    for key in _TEXTS:
        if not isinstance(data.get(key), str) or not data[key].strip():
            yield f"{key}: is missing or no text; write {key} = \"…\""
    if data.get("right", 0) not in range(len(data.get("options", ())) + 1):
        yield "right: must be the number of an option, counted from 1"
    if not isinstance(data.get("seconds"), int | float) or not 0 < data["seconds"] <= 60:
        yield "seconds: must be a number from 0 to 60; a lesson that takes longer needs a coarser mesh"
    if not isinstance(data.get("picture"), dict) or "kind" not in data["picture"]:
        yield "picture: is missing; write [picture] with a kind"
    if ("case" in data) == ("sweep" in data):
        yield "case: a lesson has either [[case]] or one [sweep]; leave one out"
    for task in data.get("tasks", ()):
        if not (isinstance(task, list) and len(task) == 2 and all(isinstance(part, str) for part in task)):
            yield "tasks: each is [question, answer]; write both"
    for kind, keys in (("case", ("name", "file")), ("number", ("label", "key"))):
        for place, entry in enumerate(data.get(kind, ())):
            yield from (f"{kind}[{place}].{key}: is missing; give it" for key in keys if key not in entry)


def _case(folder: Path, entry: Mapping[str, Any]) -> LessonCase:
    text = filled(_read(folder / entry["file"]), entry.get("fill", {}))
    return LessonCase(entry["name"], text, entry.get("change", {}), bool(entry.get("time", False)))


def _sweep(entry: Mapping[str, Any] | None) -> Sweep | None:
    if entry is None:
        return None
    values = tuple(float(value) for value in entry["values"])
    return Sweep(
        entry["file"], entry["word"], entry["unit"], values, float(entry["least"]), float(entry["most"])
    )


def _read(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig")
    except (OSError, ValueError) as error:
        raise LessonError(f"{file}: cannot be read ({getattr(error, 'strerror', None) or error})") from None
