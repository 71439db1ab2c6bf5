"""Files of checkpoints: arrays by name, words as JSON, and the state of the solids; complete or the one before."""

from __future__ import annotations

import json
import os
import warnings
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from sim.machine.remarks import Remark
from sim.solver.state import Array, State

_STATE = ("temperature", "air", "irradiation", "wall")


def write_checkpoint_file(path: Path, words: Mapping[str, object], arrays: Mapping[str, Array]) -> None:
    """Write words and arrays to a file beside the path and put it there in one step.

    Parameters
    ----------
    path : Path
        Ends with .npz; missing folders are made.
    words : mapping
        What JSON can hold.
    arrays : mapping of str to ndarray
        Under any name but "words".

    Raises
    ------
    OSError : it cannot be written; the one before is still there.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(f".{path.name}.partial")
    try:
        with partial.open("wb") as file:
            everything: dict[str, Any] = {"words": np.array(json.dumps(words)), **arrays}
            np.savez(file, **everything)
        os.replace(partial, path)
    except OSError:
        partial.unlink(missing_ok=True)
        raise


def try_to_write(write: Callable[[], None], path: Path) -> None:
    """Write a checkpoint if the disk lets us; the work goes on without one, and a remark says so once."""
    try:
        write()
    except OSError as error:
        why = error.strerror or str(error)
        warnings.warn(
            Remark(f"{path}: cannot be written ({why}); the work goes on, but a stop would lose what is not kept yet"),
            stacklevel=2,
        )


def read_checkpoint_file(path: Path) -> tuple[object, dict[str, np.ndarray]]:
    """Words, as JSON has them, and arrays that `write_checkpoint_file` wrote.

    Raises
    ------
    ValueError
        There is no such file, or none that can be read.
    """
    try:
        with np.load(path, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        return json.loads(str(arrays.pop("words"))), arrays
    except (OSError, EOFError, KeyError, TypeError, ValueError, zipfile.BadZipFile) as error:
        raise ValueError(f"{path} is no checkpoint: {error}") from None


def is_checkpoint_file(path: Path) -> bool:
    """Whether `write_checkpoint_file` wrote a file."""
    try:
        with zipfile.ZipFile(path) as file:
            return "words.npy" in file.namelist()
    except (OSError, zipfile.BadZipFile):
        return False


def state_arrays(state: State) -> dict[str, Array]:
    """The arrays of a state by name, in SI and the shapes of `State`, all but what the water delivers."""
    return {name: getattr(state, name) for name in _STATE}


def state_of(arrays: Mapping[str, Array]) -> State:
    """The state with these arrays."""
    temperature, air, irradiation, wall = (arrays[name] for name in _STATE)
    return State(temperature, air, irradiation, wall)
