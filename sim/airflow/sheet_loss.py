"""Pressure loss of air that passes the holes of a thin perforated sheet."""

from __future__ import annotations

import math


def perforated_plate_loss(open_area: float) -> float:
    """Loss coefficient K [-] of a thin sharp-edged perforated plate: Δp = K ρ u²/2 with the approach speed u.

    K = [0.707 √(1 − σ) + 1 − σ]² / σ² (Idelchik, Handbook of Hydraulic Resistance, section 8, plane grids with
    sharp-edged holes; from memory).

    Parameters
    ----------
    open_area : float [-]
        σ, holes over plate; 0 < σ ≤ 1. Idealises holes well apart from walls at hole Reynolds numbers above
        some 1e3; slower flow loses more, which this law leaves out.

    Raises
    ------
    ValueError
        Outside 0 < σ ≤ 1.

    Examples
    --------
    >>> round(perforated_plate_loss(0.5), 2)
    4.0
    """
    if not 0.0 < open_area <= 1.0:
        raise ValueError(f"open_area is {open_area}; must be in 0 < open_area ≤ 1")
    closed = 1.0 - open_area
    return (0.707 * math.sqrt(closed) + closed) ** 2 / open_area**2
