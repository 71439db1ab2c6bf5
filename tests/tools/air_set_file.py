"""The set of computed bays as one compact file: `python tests/tools/air_set_file.py DIR` packs a folder of bays.

Heat of every wall face [W] is kept to 1e-3, wall temperatures to 5 mK, places to 0.05 mm; everything else as computed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

FILE = Path(__file__).parents[1] / "data" / "air_set.npz"
"""The set in the repository."""

KEPT = (
    "number", "arrangement", "held", "text", "mesh", "sizes", "cells", "rounds", "simulated", "steps", "imbalance",
    "largest_error", "why", "report_keys", "report", "air", "zones", "area", "side", "x", "y",
    "levels", "profile", "made",
)  # fmt: skip
STEPS = {"wall": (273.15, 0.005), "centre": (0.0, 5e-5), "floor": (273.15, 0.005)}
"""Zero and step of what is kept as whole numbers."""


def pack(folder: Path, path: Path = FILE, made: str = "") -> int:
    """Put all bays of a folder into the file; how many there are."""
    arrays: dict[str, Any] = {}
    paths = sorted(folder.glob("bay-*.npz"))
    for one in paths:
        bay = dict(np.load(one)) | {"made": np.array(made)}
        for name in KEPT:
            arrays[f"{one.stem}/{name}"] = bay[name]
        for name, (zero, step) in STEPS.items():
            arrays[f"{one.stem}/{name}"] = np.round((bay[name].astype(float) - zero) / step).astype(np.int16)
        arrays[f"{one.stem}/heat"] = _shortened(bay["heat"])
    np.savez_compressed(path, **arrays)
    return len(paths)


def bays(path: Path = FILE) -> Iterator[dict[str, Any]]:
    """Every bay of the file by number, with its arrays as they were computed."""
    with np.load(path) as kept:
        names = sorted({name.split("/")[0] for name in kept.files})
        for one in names:
            bay = {name: kept[f"{one}/{name}"] for name in (*KEPT, "heat")}
            for name, (zero, step) in STEPS.items():
                bay[name] = kept[f"{one}/{name}"].astype(float) * step + zero
            yield bay


def _shortened(values: Any) -> Any:
    """Numbers with ten bits of their mantissa, which pack well."""
    mantissa, exponent = np.frexp(values.astype(np.float32))
    return np.ldexp(np.round(mantissa * 1024.0) / 1024.0, exponent).astype(np.float32)


if __name__ == "__main__":
    print(pack(Path(sys.argv[1]), made=sys.argv[2] if len(sys.argv) > 2 else ""), FILE.stat().st_size)
