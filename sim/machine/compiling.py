"""Numba's compiler, with stored kernels that never outlive a source they were made from.

Numba stores a compiled function under the text of its own file alone. A kernel that calls kernels of other files, or
reads their constants, would keep the old ones when those change. Here the stamp of a stored kernel also holds the
texts of all files of this package that its file imports, directly or through others; so it is discarded with any of
them, wherever kernels are kept. Whoever compiles takes `njit` from here.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from copy import copy
from functools import cache
from pathlib import Path
from pickle import UnpicklingError
from typing import Any, ParamSpec, TypeVar, overload

import numba
from numba.core import caching

__all__ = ["njit", "stamp_of"]

Given = ParamSpec("Given")
Found = TypeVar("Found")

PACKAGE = Path(__file__).resolve().parents[1]
_FROM = re.compile(r"^[ \t]*from (sim[\w.]*) import (?:\(([^)]*)\)|(.*))$", re.MULTILINE)
_WHOLE = re.compile(r"^[ \t]*import (sim[\w.]*)", re.MULTILINE)


@overload
def njit(function: Callable[Given, Found], /) -> Callable[Given, Found]: ...
@overload
def njit(**options: object) -> Callable[[Callable[Given, Found]], Callable[Given, Found]]: ...


def njit(*function: Callable[..., object], **options: object) -> object:
    """`numba.njit`, by whose stored kernels every file that they come from is remembered."""
    compiler: Callable[..., object] = numba.njit
    return compiler(*function, **options)


@cache
def stamp_of(source: Path, package: Path = PACKAGE) -> str:
    """A digest of a source file of a package and of all files of it that the file imports, through others too."""
    found, left = set(), [source.resolve()]
    while left:
        path = left.pop()
        if path not in found:
            found.add(path)
            left += _imported(path, package)
    digest = hashlib.sha256()
    for path in sorted(found):
        digest.update(f"{path.relative_to(package)}\0".encode() + path.read_bytes() + b"\0")
    return digest.hexdigest()


def _imported(path: Path, package: Path) -> list[Path]:
    """Files of the package that a file imports; the packages' doors hold no kernels."""
    text = path.read_text("utf-8")
    names = [match[1] for match in _WHOLE.finditer(text)]
    for match in _FROM.finditer(text):
        parts = re.sub(r"#.*", "", match[2] or match[3]).split(",")
        names += [match[1], *(f"{match[1]}.{part.split()[0]}" for part in parts if part.strip())]
    places = (package.joinpath(*name.split(".")[1:]).with_suffix(".py") for name in names if "." in name)
    return [place.resolve() for place in places if place.is_file()]


def _remember_sources() -> None:
    """Add our stamp to that of Numba for every file of this package."""
    usual = caching._SourceFileBackedLocatorMixin.get_source_stamp

    def get_source_stamp(self: Any) -> Any:
        source = Path(self._py_file).resolve()
        own = usual(self)
        return (own, stamp_of(source)) if source.is_relative_to(PACKAGE) else own

    setattr(caching._SourceFileBackedLocatorMixin, usual.__name__, get_source_stamp)


def _forget_what_cannot_be_read() -> None:
    """Stored kernels that are damaged, or name what is no longer there (an argument's type, say), are compiled anew."""
    _excused("_load_index", {})
    _excused("load", None)


def _excused(name: str, instead: Any) -> None:
    """Let a method that reads stored kernels give something else where it fails."""
    usual = getattr(caching.IndexDataCacheFile, name)

    def reading(self: Any, *arguments: Any) -> Any:
        try:
            return usual(self, *arguments)
        except (AttributeError, ImportError, EOFError, UnpicklingError, TypeError, ValueError, IndexError, KeyError):
            return copy(instead)

    setattr(caching.IndexDataCacheFile, name, reading)


_remember_sources()
_forget_what_cannot_be_read()
