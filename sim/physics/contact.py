"""Contact of a round tube with a flat surface."""

from __future__ import annotations

import math


def line_contact_conductance(radius: float, contact: float, chord: float, filling: float) -> float:
    """Conductance per metre of tube across the wedge between a tube and the plane that it touches.

    G' = ∫ dx / (R'' + g(x)/k),  g(x) = x²/(2 r),  over −c/2 ≤ x ≤ c/2
       = 2 √(2 r k / R'') arctan[ (c/2) / √(2 r k R'') ]

    Parameters
    ----------
    radius : outer radius r of the tube [m].
    contact : contact resistance R'' where they touch [m² K/W], greater than 0.
    chord : width c that the wedge is taken over [m]; the parabola is within 15 % of the circle's gap for c ≤ 1.2 r.
    filling : conductivity k of what fills the wedge [W/m K].

    Returns
    -------
    Conductance [W/m K] for one metre of tube. For a wide chord it tends to π √(2 r k / R'').

    Notes
    -----
    Derived: heat crosses the wedge straight, through the contact and the filling in series.

    Examples
    --------
    >>> round(line_contact_conductance(0.0079, 0.0037, 0.008, 0.026), 3)
    0.848
    """
    scale = math.sqrt(2.0 * radius * filling)
    return 2.0 * scale / math.sqrt(contact) * math.atan(0.5 * chord / (scale * math.sqrt(contact)))
