"""The text of a file that somebody names: of a case, a house, a spreadsheet, the weather."""

from __future__ import annotations

from contextlib import suppress
from difflib import get_close_matches
from pathlib import Path
from unicodedata import category

from sim.case.errors import CaseError, Problem, name_shown

LARGEST = 4_000_000
"""Bytes above which a file is no case."""


ALIKE = 0.8
"""Likeness of two names from which one may have been meant by the other."""


def refuse_pipe(path: Path) -> None:
    """What waits for its writer, or never ends, is read by nobody.

    Raises
    ------
    CaseError : it is there and is no file.
    """
    if path.exists() and not path.is_file() and not path.is_dir():
        way_out = "save it as a file, which can be read more than once"
        raise CaseError(str(path), [Problem("", "", "is a pipe or a device", way_out)])


def _text_wanted(path: Path) -> str:
    """What a file of that name is to be."""
    kind = "as CSV" if path.suffix.lower() == ".csv" else "as TOML text"
    return f"save it anew {kind} in UTF-8"


def _nearest(path: Path) -> str:
    """What may have been meant by the name of a file that is not there."""
    beside: list[str] = []
    with suppress(OSError):
        beside = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    whole = f"{path.name}.toml"
    near = [whole] if whole in beside else get_close_matches(path.name, beside, n=1, cutoff=ALIKE)
    return f"did you mean {path.with_name(near[0])}?" if near else "check the path"


def read_text(path: Path) -> str:
    """The text of a file.

    Raises
    ------
    CaseError
        It cannot be read.
    """
    if any(category(letter) == "Cc" for letter in str(path)):
        raise CaseError(name_shown(path), [Problem("", "", "its name holds control characters", "rename the file")])
    try:
        refuse_pipe(path)
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
        if len(data) > LARGEST:
            rule = f"is larger than {LARGEST / 1e6:.0f} MB"
            raise CaseError(str(path), [Problem("", "", rule, "a case is a short TOML text file")])
        return data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except CaseError:
        raise
    except FileNotFoundError:
        raise CaseError(str(path), [Problem("", "", "there is no such file", _nearest(path))]) from None
    except IsADirectoryError:
        own = path / "case.toml"
        way = f"name its case, {own}" if own.is_file() else "name a case file, such as case.toml"
        raise CaseError(str(path), [Problem("", "", "is a folder", way)]) from None
    except UnicodeDecodeError:
        raise CaseError(
            str(path), [Problem("", "", "is not text in UTF-8", _text_wanted(path))]
        ) from None
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error) or "unknown reason").lower()
        raise CaseError(str(path), [Problem("", "", f"cannot be read: {reason}")]) from None
