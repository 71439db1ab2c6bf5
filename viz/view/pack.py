"""A scene as plain data for its page: arrays deflated and written as text, so that a page stays small."""

from __future__ import annotations

import base64
import zlib
from typing import Any

import numpy as np
import numpy.typing as npt

from viz.choice import Array
from viz.view.colours import material_colours, ramps
from viz.view.parts import OPENED_LENGTH, MovingAir, SceneParts, SeenFloor, Volume, WaterTube

LARGEST_PAGE = 10_000_000
"""Bytes that a page of a scene has at most."""

MOST_CELLS = 2_400_000
"""Cells of the solids that a page holds; of more, every second one along the bay is left out."""

_CODES, _NOTHING = 65534, 65535


def packed(scene: SceneParts) -> dict[str, Any]:
    """What the page's script reads; temperatures in kelvin, lengths in metres."""
    colours = material_colours(scene.solids)
    solids = [
        {"label": part.label, "kind": part.kind, "box": part.box, "peel": part.peel, "floor": part.floor}
        | {"colour": _rgb(colours[part.label])}
        for part in scene.solids
    ]
    span = max(scene.bounds[2 * k + 1] - scene.bounds[2 * k] for k in (0, 2))
    return {
        "bounds": scene.bounds,
        "opened": OPENED_LENGTH if not scene.dimensionless else scene.bounds[3] - scene.bounds[2],
        "airSpan": span,
        "dimensionless": scene.dimensionless,
        "scales": {name: [float(end) for end in ends] for name, ends in scene.scales.items()},
        "solids": solids,
        "volume": _volume(scene.volume),
        "floor": _floor(scene.floor),
        "tubes": [_tube(tube) for tube in scene.tubes],
        "air": _air(scene.air),
        "ramps": _text(ramps()),
    }


def thinned(volume: Volume) -> Volume:
    """The volume with so few cells that a page can hold them: every second one along the bay is left out, and again."""
    while volume.kelvin.size > MOST_CELLS and volume.y_edge.size > 3:
        edges = volume.y_edge
        keep = np.unique(np.append(np.arange(0, edges.size, 2), edges.size - 1))
        volume = Volume(volume.x_edge, edges[keep], volume.z_edge, volume.kelvin[:, keep[:-1]])
    return volume


def _volume(volume: Volume | None) -> dict[str, Any] | None:
    if volume is None:
        return None
    kept = thinned(volume)
    edges = {axis: _rounded(getattr(kept, f"{axis}_edge")) for axis in "xyz"}
    return edges | coded(kept.kelvin.ravel(order="F"))


def _floor(floor: SeenFloor | None) -> dict[str, Any] | None:
    if floor is None:
        return None
    fields = {name: coded(getattr(floor, name).ravel(order="F")) for name in ("surface", "apparent")}
    edges = {axis: _rounded(getattr(floor, f"{axis}_edge")) for axis in "xy"}
    return edges | fields | {"low": floor.low, "high": floor.high}


def _tube(tube: WaterTube) -> dict[str, Any]:
    kelvin = [round(float(value), 4) if np.isfinite(value) else None for value in tube.kelvin]
    ends = {"start": tube.start, "end": tube.end, "radius": tube.radius}
    return {"label": tube.label} | ends | {"places": _rounded(tube.places), "kelvin": kelvin}


def _air(air: MovingAir) -> dict[str, Any]:
    """Lines one after the other; pulses run along each as fast as the air, one every `period` [s]."""
    if not air.lines:
        return {"counts": [], "period": 1.0}
    points = np.concatenate([line.points for line in air.lines]).astype(np.float32)
    seconds = np.concatenate([line.seconds for line in air.lines]).astype(np.float32)
    kelvin = np.concatenate([line.kelvin for line in air.lines])
    lasts = float(np.median([line.seconds[-1] for line in air.lines]))
    counts = [len(line.points) for line in air.lines]
    named = {"points": _text(points), "seconds": _text(seconds), "kelvin": coded(kelvin)}
    return {"counts": counts, "period": max(lasts / 3.0, 1e-6)} | named


def coded(values: Array) -> dict[str, Any]:
    """Numbers as whole numbers of sixteen bits between their limits, deflated; not-a-number has its own.

    >>> sorted(coded(np.array([290.0, np.nan, 300.0])))
    ['codes', 'high', 'low']
    """
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    shares = (np.where(np.isfinite(values), values, low) - low) / max(high - low, 1e-12)
    codes = np.where(np.isfinite(values), np.round(_CODES * shares), _NOTHING).astype("<u2")
    return {"low": low, "high": high, "codes": _text(codes)}


def _text(values: npt.NDArray[Any]) -> str:
    return base64.b64encode(zlib.compress(np.ascontiguousarray(values).tobytes(), 6)).decode("ascii")


def _rounded(values: Array) -> list[float]:
    return [round(float(value), 7) for value in values]


def _rgb(colour: str) -> list[float]:
    return [round(int(colour[k : k + 2], 16) / 255.0, 4) for k in (1, 3, 5)]
