"""Heat conduction between cell centres in conservation form.

A face conductance is the two half cells in series, with a contact resistance between them where one is
stated:  1/G = (w₁/2)/(k₁ A) + R''/A + (w₂/2)/(k₂ A).  This is exact for plane layers.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def face_conductance(
    conductivity: Array, widths: Array, areas: Array, axis: int, resistance: Array | None = None
) -> Array:
    """Conductance of every inner face normal to `axis`.

    Parameters
    ----------
    conductivity : (nx, ny, nz) [W/m K]; a face with 0 on either side conducts nothing.
    widths : (n,) cell widths along the axis [m].
    areas : face areas, broadcastable to the faces [m²].
    axis : 0, 1 or 2.
    resistance : contact resistance on each face [m² K/W], shape of the result; None means none.

    Returns
    -------
    Conductances [W/K], one fewer than the cells along `axis`.
    """
    shape = [1, 1, 1]
    shape[axis] = -1
    half = 0.5 * widths.reshape(shape)
    low, high = _pair(conductivity, axis)
    half_low, half_high = _pair(np.broadcast_to(half, conductivity.shape), axis)
    open_face = (low > 0.0) & (high > 0.0)
    series = np.zeros_like(low)
    np.divide(half_low, low, out=series, where=open_face)
    series += np.divide(half_high, high, out=np.zeros_like(high), where=open_face)
    if resistance is not None:
        series += resistance
    return np.divide(np.broadcast_to(areas, series.shape), series, out=np.zeros_like(series), where=open_face)


def _pair(values: Array, axis: int) -> tuple[Array, Array]:
    """The values on the low and on the high side of every inner face."""
    count = values.shape[axis]
    return np.take(values, range(count - 1), axis), np.take(values, range(1, count), axis)
