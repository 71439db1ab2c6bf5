"""Whether what was read from a run folder is what this program writes; a damaged folder is named, not stumbled over."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from sim.case.errors import shortened, visible
from sim.store.errors import DamagedError, StoreError

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


class KeptTable(dict[str, Any]):
    """Names and values of a folder's file; whoever asks for one that is not there hears which file lacks it."""

    def __init__(self, path: Path, values: Mapping[str, Any]) -> None:
        super().__init__(values)
        self.path = path

    def __missing__(self, name: str) -> Any:
        raise StoreError(f"{self.path.parent}: cannot be read ({self.path.name} is damaged: {name} is missing)")


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


def read_numbers(path: Path) -> dict[str, float | None]:
    """The numbers of a JSON file by name, None where one was not known.

    Raises
    ------
    DamagedError
        As `read_table`, or something in it is no number.
    """
    values = read_table(path)
    odd = [name for name, value in values.items() if not (value is None or _is_number(value))]
    if odd:
        raise DamagedError(f"{path.name} is damaged: {shortened(odd[0])} is no number")
    return values  # type: ignore[return-value]


def _is_number(value: object) -> bool:
    """Whether a value is a number that floating point holds; true and false are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return isinstance(value, float) or abs(value) < 10**300


def read_shaped(path: Path, shape: Mapping[str, type | tuple[type]]) -> KeptTable:
    """Names and values of a JSON file, tables within it alike, as `KeptTable`.

    Parameters
    ----------
    shape : what kind of value a name must have, where it is there; `(dict,)` is a list of tables, float any number or
        null.

    Raises
    ------
    StoreError
        It cannot be understood, or a value is of another kind.
    """
    try:
        table = intact(path.name, lambda: json.loads(path.read_text("utf-8"), object_hook=lambda v: KeptTable(path, v)))
        as_table(path.name, table)
        for name, kind in shape.items():
            if name in table and not _fits(table[name], kind):
                raise DamagedError(f"{path.name} is damaged: {name} is not what it should be")
    except DamagedError as error:
        raise StoreError(f"{path.parent}: cannot be read ({error})") from None
    return table


def _fits(value: object, kind: type | tuple[type]) -> bool:
    if kind is float:
        return value is None or _is_number(value)
    if isinstance(kind, type):
        return isinstance(value, kind)
    return isinstance(value, list) and all(isinstance(entry, kind) for entry in value)


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
