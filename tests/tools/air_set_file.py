"""The set of computed bays as one compact file: `python tests/tools/air_set_file.py DIR` puts a folder of bays into it.

Heat of every wall face [W] is kept to 1e-3, wall temperatures to 10 mK, the floor to 5 mK; where faces lie follows from
the case, and their number and middle tell whether it is still the same mesh. Bays computed on cells half as large leave
their reports only.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_LZMA, ZipFile, ZipInfo

import numpy as np

FILE = Path(__file__).parents[1] / "data" / "air_set.npz"
"""The set in the repository."""

WORDS = ("arrangement", "held", "text", "why", "made")
FACTS = ("number", "cells", "rounds", "simulated", "steps", "imbalance", "largest_error")
ARRAYS = ("x", "y", "levels", "profile")
STEPS = {"wall": (273.15, 0.010), "floor": (273.15, 0.005)}
"""Zero and step of what is kept as whole numbers."""

REPORTED = ("heat_", "ripple", "surface_", "plate_mean", "cavity_air", "supply", "up_")
"""How the names of those numbers of the report begin that are kept."""


def pack(folder: Path, path: Path = FILE, made: str = "") -> int:
    """Put all bays of a folder into the file, in place of what it has of them; how many it has then."""
    arrays: dict[str, Any] = {}
    if path.is_file():
        with np.load(path) as kept:
            arrays = {name: kept[name] for name in kept.files}
    for one in sorted(folder.glob("*-*.npz")):
        with np.load(one) as bay:
            put(arrays, one.stem, {name: bay[name] for name in bay.files} | {"made": made})
    _write(path, arrays)
    return sum(name.endswith("/told") for name in arrays)


def _write(path: Path, arrays: dict[str, Any]) -> None:
    """An npz whose arrays are packed a quarter tighter than by `np.savez_compressed`; NumPy reads it all the same."""
    partly = path.with_suffix(".part")
    with ZipFile(partly, "w", ZIP_LZMA) as pack_:
        for name, values in sorted(arrays.items()):
            member = BytesIO()
            np.lib.format.write_array(member, np.asarray(values), allow_pickle=False)
            pack_.writestr(ZipInfo(f"{name}.npy"), member.getvalue(), ZIP_LZMA)
    partly.rename(path)


def put(arrays: dict[str, Any], stem: str, bay: dict[str, Any]) -> None:
    """A bay as arrays of the file."""
    keys = [str(key) for key in bay["report_keys"]]
    told = {name: str(bay[name]) for name in WORDS} | {name: float(bay[name]) for name in FACTS}
    told["report"] = {
        key: float(f"{value:.7g}") for key, value in zip(keys, bay["report"], strict=True) if key.startswith(REPORTED)
    }
    told |= {"sizes": list(map(float, bay["sizes"])), "air": np.round(bay["air"].astype(float), 3).tolist()}
    told |= {"faces": len(bay["heat"]), "middle": np.round(bay["centre"].mean(axis=0, dtype=float), 6).tolist()}
    arrays[f"{stem}/told"] = np.frombuffer(json.dumps(told).encode(), np.uint8)
    if stem.startswith("half"):
        return
    for name, (zero, step) in STEPS.items():
        arrays[f"{stem}/{name}"] = np.round((bay[name].astype(float) - zero) / step).astype(np.int16)
    arrays |= {f"{stem}/{name}": bay[name] for name in ARRAYS}
    arrays[f"{stem}/heat"] = _shortened(bay["heat"])


def bays(path: Path = FILE) -> Iterator[dict[str, Any]]:
    """Every bay of the file by number: what is told of it, and its arrays as they were computed."""
    with np.load(path) as kept:
        for one in sorted({name.split("/")[0] for name in kept.files if name.startswith("bay")}):
            bay = _told(kept, one) | {name: kept[f"{one}/{name}"] for name in (*ARRAYS, "heat")}
            for name, (zero, step) in STEPS.items():
                bay[name] = kept[f"{one}/{name}"].astype(float) * step + zero
            yield bay


def told(path: Path = FILE) -> list[dict[str, Any]]:
    """What is told of every bay of the file by number, without its arrays."""
    with np.load(path) as kept:
        return [_told(kept, name.split("/")[0]) for name in sorted(kept.files) if re.fullmatch("bay.*/told", name)]


def twins(path: Path = FILE) -> dict[int, dict[str, Any]]:
    """What is told of the bays that were computed on cells half as large too, by number."""
    with np.load(path) as kept:
        found = [_told(kept, name.split("/")[0]) for name in kept.files if name.startswith("half")]
    return {int(twin["number"]): twin for twin in found}


def _told(kept: Any, one: str) -> dict[str, Any]:
    told = dict(json.loads(kept[f"{one}/told"].tobytes()))
    return told | {"air": np.array(told["air"]), "number": int(told["number"])}


def _shortened(values: Any) -> Any:
    """Numbers with ten bits of their mantissa, which pack well."""
    mantissa, exponent = np.frexp(values.astype(np.float32))
    return np.ldexp(np.round(mantissa * 1024.0) / 1024.0, exponent).astype(np.float32)


if __name__ == "__main__":
    print(pack(Path(sys.argv[1]), made=sys.argv[2] if len(sys.argv) > 2 else ""), FILE.stat().st_size)
