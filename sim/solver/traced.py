"""Exchange areas of cavities, traced once for each shape.

To trace the rays of a cavity takes as long as to solve its bay twice, and many bays differ in what leaves the cavity's
shape alone, as their water or the resistance of a layer. A process therefore remembers what it traced last.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.physics.view_factors import trace_exchange

Traced = tuple[NDArray[np.float64], NDArray[np.float64]]

MOST = 32
"""Cavities remembered, so that all spacings of a house's rooms are at hand: a bay of usual mesh has 180 to 440 patches,
hence some 50 MB at the most."""

_remembered: OrderedDict[str, Traced] = OrderedDict()


def traced_exchange(scene: Sequence[NDArray], rays_per_patch: int, seed: int) -> Traced:
    """`trace_exchange` between symmetry planes, remembered; what it gives is not to be written to.

    Parameters
    ----------
    scene : grid lines of the axes (nx+1,), (ny+1,), (nz+1,) [m], opaque cells (nx, ny, nz), and of every wall face its
        cell, its side and its patch, each (n,).
    rays_per_patch, seed : how many rays leave a patch, and where the random numbers begin.
    """
    key = _key(scene, rays_per_patch, seed)
    if key in _remembered:
        _remembered.move_to_end(key)
        return _remembered[key]
    *edges, opaque, cell, side, patch = scene
    found = trace_exchange(
        edges, opaque, cell, side, patch, mirror=(True,) * 6, rays_per_patch=rays_per_patch, seed=seed
    )
    for values in found:
        values.flags.writeable = False
    _remembered[key] = found
    if len(_remembered) > MOST:
        _remembered.popitem(last=False)
    return found


def _key(scene: Sequence[NDArray], rays_per_patch: int, seed: int) -> str:
    """All that the rays depend on."""
    digest = hashlib.sha256(repr((rays_per_patch, seed)).encode())
    for values in scene:
        digest.update(repr((values.shape, values.dtype.str)).encode())
        digest.update(np.ascontiguousarray(values).tobytes())
    return digest.hexdigest()
