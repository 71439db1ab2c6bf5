"""Whether what was read from a run folder is what this program writes; a damaged folder is named, not stumbled over."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from sim.case.errors import visible

if TYPE_CHECKING:
    import xarray

Value = TypeVar("Value")

DIMENSIONS: Mapping[str, tuple[str, ...]] = {
    "temperature": ("x", "y", "z"),
    "material": ("x", "y", "z"),
    "floor_temperature": ("x", "y"),
    "floor_heat_flux": ("x", "y"),
}
"""Fields that pictures and exports rest on, where a run has them, with their dimensions."""

_TOGETHER = (("temperature", "material"), ("floor_temperature", "floor_heat_flux"))


class DamagedError(ValueError):
    """A file of a run folder does not hold what it should; the text says which file and what."""


def intact(file: str, read: Callable[[], Value]) -> Value:
    """What `read` gives; whatever a reader of damaged bytes comes upon becomes one error that names the file.

    Raises
    ------
    DamagedError
        The file cannot be understood.
    """
    with _quiet():
        try:
            return read()
        except DamagedError:
            raise
        except Exception as error:  # readers of netCDF, JSON and CSV raise whatever the bytes lead them to
            said = " ".join(str(error).split())[:120] or type(error).__name__
    raise DamagedError(f"{file} is damaged: {visible(said)}")


@contextmanager
def _quiet() -> Iterator[None]:
    """Without what objects that were only half made print on their way out."""
    usual = sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        yield
    finally:
        sys.unraisablehook = usual


def as_table(file: str, values: object) -> dict[str, object]:
    """Values of a JSON file that holds names and values.

    Raises
    ------
    DamagedError
        It holds something else.
    """
    if not isinstance(values, dict):
        raise DamagedError(f"{file} is damaged: it holds no names with values")
    return values


def read_table(path: Path) -> dict[str, object]:
    """The names and values of a JSON file of a folder.

    Raises
    ------
    DamagedError
        It cannot be understood, or holds something else.
    """
    return intact(path.name, lambda: as_table(path.name, json.loads(path.read_text(encoding="utf-8"))))


def check_fields(file: str, fields: xarray.Dataset) -> None:
    """Refuse fields of another shape or kind than this program writes; their values are not read.

    Raises
    ------
    DamagedError
        Naming the variable.
    """
    if fault := next(_faults(fields), None):
        raise DamagedError(f"{file} is damaged: {fault}")


def _faults(fields: xarray.Dataset) -> Iterator[str]:
    for name, dimensions in DIMENSIONS.items():
        if name in fields and fields[name].dims != dimensions:
            yield f"{name} does not lie on {', '.join(dimensions)}"
        if name in fields and fields[name].dtype.kind not in "fiu":
            yield f"{name} holds no numbers"
    for one, other in _TOGETHER:
        if one in fields and other not in fields:
            yield f"{other} is missing"
    if "temperature" in fields:
        yield from _edge_faults(fields)


def _edge_faults(fields: xarray.Dataset) -> Iterator[str]:
    for axis in "xyz":
        name = f"{axis}_edge"
        if name not in fields:
            yield f"{name} is missing"
            continue
        edges = fields[name].values
        if edges.dtype.kind != "f" or edges.ndim != 1 or edges.size != fields.sizes[axis] + 1:
            yield f"{name} does not bound the cells along {axis}"
        elif not (np.isfinite(edges).all() and (np.diff(edges) > 0.0).all()):
            yield f"{name} does not rise"
