"""Water that comes down exponentially along a circuit: from its mean to its supply and back, all above the room [K].

With e the excess at the supply and d the drop, the mean is m = d / ln[e/(e − d)], so e = d / (1 − exp(−d/m)).
"""

from __future__ import annotations

import math


def mean_excess(entering: float, drop: float) -> float:
    """Mean water above the room [K] from that at the supply and the drop [K]; 0 where it is no warmer than the room.

    Raises
    ------
    ValueError : a drop to the room's temperature or below it.

    Examples
    --------
    30 K coming down by 5.5 K: 5.5/ln(30/24.5)

    >>> round(mean_excess(30.0, 5.5), 4)
    27.1572
    """
    if entering <= 0.0:
        return 0.0
    if drop >= entering:
        raise ValueError(f"water {entering:.1f} K above the room cannot fall by {drop:.1f} K")
    return drop / math.log(entering / (entering - drop)) if drop > 0.0 else entering


def entering_excess(mean: float, drop: float) -> float:
    """Water above the room at the supply from its mean and the drop, all [K]; the inverse of `mean_excess`.

    Examples
    --------
    >>> round(entering_excess(mean_excess(30.0, 5.5), 5.5), 9)
    30.0
    """
    if mean <= 0.0:
        return drop
    return drop / -math.expm1(-drop / mean) if drop > 0.0 else mean
