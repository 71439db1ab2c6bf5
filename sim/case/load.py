"""Read case files."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.errors import CaseError, Problem
from sim.case.fields import FROM_TEXT
from sim.case.messages import check, unwritten

KINDS: dict[str, type[Case] | type[BlocksCase]] = {"bay": Case, "blocks": BlocksCase}
"""The kinds of case by the word in the file."""


def load_case(path: str | Path) -> Case | BlocksCase:
    """Read and check a case file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Case or BlocksCase
        By its key `kind`; "bay" when that is left out.

    Raises
    ------
    CaseError
        The file cannot be read, is not TOML, or breaks a rule; all problems of one stage together.
    """
    return parse_case(read_text(Path(path)), Path(path).stem, str(path))


def parse_case(text: str, name: str = "case", path: str | None = None) -> Case | BlocksCase:
    """Check the text of a case.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Short name of the case.
    path : str or None
        The file it came from, for messages and records.

    Raises
    ------
    CaseError
        As in `load_case`.
    """
    where = path or name
    data = read_toml(text, where)
    kind = data.get("kind", "bay")
    if kind == "house":
        raise CaseError(where, [Problem("kind", '"house"', "is a whole house, not a bay", "use joistbay house")])
    if not isinstance(kind, str) or kind not in KINDS:
        raise CaseError(
            where, [Problem("kind", repr(kind).replace("'", '"'), 'must be one of "bay", "blocks"')]
        )
    if wrong := [
        Problem(key, "", "unknown key", "a case is named by its file; a line for people is title")
        for key in unwritten(KINDS[kind])
        if key in data
    ]:
        raise CaseError(where, wrong)
    return check(KINDS[kind], {**data, "name": name, "path": path}, where, FROM_TEXT)


def read_text(path: Path) -> str:
    """The text of a case file.

    Raises
    ------
    CaseError
        It cannot be read.
    """
    try:
        return path.read_text("utf-8")
    except FileNotFoundError:
        raise CaseError(str(path), [Problem("", "", "there is no such file", "check the path")]) from None
    except IsADirectoryError:
        raise CaseError(
            str(path), [Problem("", "", "is a folder", "name a case file, such as case.toml")]
        ) from None
    except UnicodeDecodeError:
        raise CaseError(
            str(path), [Problem("", "", "is not text in UTF-8", "a case is a TOML text file")]
        ) from None
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise CaseError(str(path), [Problem("", "", f"cannot be read: {reason}")]) from None


def read_toml(text: str, where: str) -> dict[str, Any]:
    """The data of a TOML text; `where` is named in the error.

    Raises
    ------
    CaseError
        It is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(where, [Problem("", "", f"is not valid TOML: {error}", "mend that line")]) from None
