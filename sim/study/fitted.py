"""The band of a number from meshes that are too near each other, or its values too much moved by chance, for an order.

The values are fitted by φ = φ₀ + α h^p with p stated, least squares with the chance of each mesh in its weight, and

    U = 1.25 |α h₁^p| + |φ₁ − φ_fit(h₁)| + σ,  σ² = Σ w (φ − φ_fit)² / (n − 2),  Σ w = n

as L. Eça and M. Hoekstra 2014, "A procedure for the estimation of the numerical uncertainty of CFD calculations based
on grid refinement studies", J. Comput. Phys. 262, 104, do with fits of order 1 and 2 where the observed one is no good
(form from memory). So meshes that do not follow the fit, as where the flow changes its pattern, widen the band.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from sim.study.grid_convergence import SAFETY

ORDER = 1.3
"""Order of the fit over the sizes that are asked for. Where cells cost a heat flow or Nusselt number of the
verification folders of computed air 1 % or more, half of them cost less by that order or a higher one
(`docs/air-mesh-convergence.md`; but for a square heated from below at Rayleigh number 1e6, where two errors cancel, and
one number that was measured to 1 %). Of what cells twice as large as asked change it leaves open 0.7, as a companion
does (`sim.results.air_errors.LEFT_OPEN`), whose bands held in every bay that was computed on cells half as large."""


def fitted_band(values: Sequence[float], sizes: Sequence[float], errors: Sequence[float]) -> float:
    """Half width that meshes leave open of the first one's number, in the number's unit.

    Parameters
    ----------
    values : of three meshes or more, the first of the finest.
    sizes : of their cells as asked for, in any unit.
    errors : standard errors of the values; where one is not known (not finite) none has a weight of its own.

    Examples
    --------
    Errors that go with the order, 1 of them on the finest: five quarters of it.

    >>> sizes = (1.0, 1.2, 1.5)
    >>> round(fitted_band([10.0 + size**ORDER for size in sizes], sizes, (0.1, 0.2, 0.1)), 6)
    1.25
    """
    value, grown = np.array(values), np.array(sizes) ** ORDER
    weight = _weights(np.array(errors))
    apart, off = grown - np.average(grown, weights=weight), value - np.average(value, weights=weight)
    slope = float(np.sum(weight * apart * off) / np.sum(weight * apart**2))
    missed = off - slope * apart
    misfit = float(np.sqrt(np.sum(weight * missed**2) / (value.size - 2)))
    return SAFETY * abs(slope) * float(grown[0]) + abs(float(missed[0])) + misfit


def _weights(errors: np.ndarray) -> np.ndarray:
    """Weights that sum to the number of meshes; none is so well known that it counts for more than a few others."""
    squares = errors**2 if all(map(isfinite, errors)) else np.zeros(errors.size)
    mean = float(np.mean(squares))
    weight = 1.0 / (squares + mean) if mean > 0.0 else np.ones(errors.size)
    return weight * errors.size / float(np.sum(weight))
