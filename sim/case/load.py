"""Read case files."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.errors import CaseError, Problem, shortened, visible
from sim.case.fields import FROM_TEXT
from sim.case.messages import check, unwritten
from sim.case.named_choices import named_choices
from sim.case.read_file import read_text
from sim.case.toml_hints import toml_way_out

AnyCase = Case | BlocksCase
"""A case of any kind."""

KINDS: dict[str, type[Case] | type[BlocksCase]] = {"bay": Case, "blocks": BlocksCase}
"""The kinds of case by the word in the file."""

DEEPEST = 20
"""Sections inside sections above which a file is no case; the schema needs six."""

_TOO_DEEP = Problem("", "", f"is nested deeper than {DEEPEST} sections", "no case has so many brackets in one another")

_DOTTED = re.compile(rf"(?<![\w-])(?:[\w-]+[\"']?[ \t]*\.[ \t]*[\"']?){{{DEEPEST}}}")
"""A key of more parts than any case has: the TOML reader takes hours for a hundred thousand."""


Sections = Mapping[str, Mapping[str, object]]
"""Values by section and key, as a case file has them."""


def load_case(path: str | Path, unless_said: Sections | None = None) -> AnyCase:
    """Read and check a case file.

    Parameters
    ----------
    path : str or Path
        A TOML file.
    unless_said : mapping
        What stands for keys that the file leaves out, where another file knows them: of a bay in a house, say.

    Returns
    -------
    Case or BlocksCase
        By its key `kind`; "bay" when that is left out.

    Raises
    ------
    CaseError
        The file cannot be read, is not TOML, or breaks a rule; all problems of one stage together.
    """
    return parse_case(read_text(Path(path)), case_name(Path(path)), str(path), unless_said)


def case_name(path: Path) -> str:
    """Short name of a case: its file's, or its folder's where the file is just called case.toml, as runs keep theirs.

    Bytes of a name that are no letters here, as names from other machines have, are written out.

    Examples
    --------
    >>> case_name(Path("cases/demo/family-oak.toml")), case_name(Path("runs/family-oak/case.toml"))
    ('family-oak', 'family-oak')
    """
    return visible(path.stem if path.stem != "case" else path.resolve().parent.name or path.stem)


def parse_case(
    text: str, name: str = "case", path: str | None = None, unless_said: Sections | None = None
) -> AnyCase:
    """Check the text of a case.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Short name of the case.
    path : str or None
        The file it came from, for messages and records.
    unless_said : mapping
        As in `load_case`.

    Raises
    ------
    CaseError
        As in `load_case`.
    """
    where = path or name
    data = _completed(read_toml(text, where), unless_said or {})
    kind = data.get("kind", "bay")
    if kind == "house":
        raise CaseError(where, [Problem("kind", '"house"', "is a whole house, not a bay", "use joistbay house")])
    if not isinstance(kind, str) or kind not in KINDS:
        raise CaseError(
            where, [Problem("kind", shortened(repr(kind).replace("'", '"')), 'must be one of "bay", "blocks"')]
        )
    if wrong := [
        Problem(key, "", "unknown key", "a case is named by its file; a line for people is title")
        for key in unwritten(KINDS[kind])
        if key in data
    ]:
        raise CaseError(where, wrong)
    case = check(KINDS[kind], {**data, "name": name, "path": path}, where, FROM_TEXT)
    if (bay := case.joist_bay) is not None and bay.compare.choices:
        named_choices(bay)
    return case


def _completed(data: dict[str, Any], unless_said: Sections) -> dict[str, Any]:
    """The data of a file with what stands for keys that it leaves out; a section that is none stays for the checks."""
    own = {name: data.get(name, {}) for name in unless_said}
    return data | {
        name: {**unless_said[name], **values} for name, values in own.items() if isinstance(values, dict)
    }


def no_case(found: object) -> TypeError:
    """The error for something that is given as a case and is none."""
    from sim.case.house_case import House

    way = "solve_house(house) solves one" if isinstance(found, House) else "load_case(path) reads one from its file"
    return TypeError(f"a case is wanted, not {type(found).__name__}; {way}")


def read_toml(text: str, where: str) -> dict[str, object]:
    """The data of a TOML text; `where` is named in the error.

    Raises
    ------
    CaseError
        It is not TOML, is nested deeper than any case, or holds characters that steer a terminal.
    """
    if _DOTTED.search(text):
        raise CaseError(where, [_TOO_DEEP])
    try:
        data = tomllib.loads(plain_blanks(text))
    except RecursionError:
        raise CaseError(where, [_TOO_DEEP]) from None
    except ValueError as error:
        rule = f"is not valid TOML: {shortened(str(error), 200)}"
        raise CaseError(where, [Problem("", "", rule, toml_way_out(text, error))]) from None
    if problem := next(_strange(data), None):
        raise CaseError(where, [problem])
    return data


def plain_blanks(text: str) -> str:
    """Text with a plain blank for every other one, as web pages and word processors leave them between number and unit.

    >>> plain_blanks("19\\u00a0mm")
    '19 mm'
    """
    odd = {letter for letter in set(text) if letter != " " and unicodedata.category(letter) == "Zs"}
    return text.translate(dict.fromkeys(map(ord, odd), " ")) if odd else text


def _strange(data: dict[str, Any]) -> Iterator[Problem]:
    """What no case holds, wherever it lies: too deep sections, and control characters in keys or texts."""
    heap: list[tuple[str, Any, int]] = [("", data, 0)]
    while heap:
        key, value, depth = heap.pop()
        if depth > DEEPEST:
            yield _TOO_DEEP
        text = f"{key} {value}".replace("\t", " ") if isinstance(value, str) else key
        if visible(text) != text:
            way_out = "write it in plain letters"
            yield Problem(shortened(key), "", "holds control characters, which could steer a terminal", way_out)
        if isinstance(value, dict):
            heap += [(f"{key}.{name}".lstrip("."), inner, depth + 1) for name, inner in value.items()]
        elif isinstance(value, list):
            heap += [(f"{key}[{place}]", inner, depth + 1) for place, inner in enumerate(value)]
