"""What the floor makes of a pattern of heat below its sheathing, for the weights of the fit.

The floor is taken as layers of one extent from joist to joist with planes of symmetry all round. A pattern of heat flux
cos(mπa/A) cos(nπb/B) then makes one of floor temperature, smaller the finer it is: the layers spread it sideways.
"""

from __future__ import annotations

from typing import Any

import numpy as np

TOP, BOTTOM = 10.0, 8.0
"""Films of floor and sheathing, radiation among them, about [W/m²K]."""

FINEST = 0.03
"""Patterns of which the floor shows less than this share of an even one are left out."""

MOST = 40
"""Half waves along an axis at most."""


def shown(number: Any, layers: list[tuple[float, float]]) -> Any:
    """Floor temperature for each W/m² of a pattern [m²K/W] by its wave number [1/m].

    Parameters
    ----------
    layers : thickness [m] and conductivity [W/mK], from below.

    Examples
    --------
    An even pattern meets the resistance of the layers, a fine one is spread out:

    >>> even, fine = shown(np.array([1e-3, 400.0]), [(0.02, 0.12)])
    >>> round(float(even), 4), bool(fine < 0.01 * even)
    (0.0319, True)
    """
    wave = np.maximum(number, 1e-3)
    product = np.eye(2).reshape(2, 2, *[1] * wave.ndim)
    for thickness, conductivity in layers:
        cosh, sinh = np.cosh(wave * thickness), np.sinh(wave * thickness)
        layer = np.array([[cosh, -sinh / (conductivity * wave)], [-conductivity * wave * sinh, cosh]])
        product = np.einsum("ij...,jk...->ik...", layer, product)
    (a, b), (c, d) = product
    below = (TOP * b - d) / (c - BOTTOM * d - TOP * (a - BOTTOM * b))
    return a * below + b * (1.0 - BOTTOM * below)


def floor_modes(case: Any, edges: tuple[Any, Any], places: Any, area: Any) -> tuple[Any, float]:
    """What turns heat flux of sheathing faces into the floor's uneven temperature, and what an even flux makes of it.

    Parameters
    ----------
    edges : of the grid across and along the floor, their ends in planes of symmetry
    places, area : of the faces, (n, 2) and (n,)

    Returns
    -------
    matrix (modes, n) [m²K/W], whose products' squares add up to the variance of the floor; the even share [m²K/W]
    """
    layers = [(case.floor.sheathing.thickness, _across(case.floor.sheathing))]
    layers += [(layer.thickness, _across(layer)) for layer in reversed(case.floor.coverings)]
    lengths = [float(e[-1] - e[0]) for e in edges]
    waves = np.arange(MOST + 1) * np.pi
    both = np.hypot(waves[:, None] / lengths[0], waves[None, :] / lengths[1])
    share = shown(both, layers)
    own = np.argwhere((share > FINEST * share[0, 0]) & (both > 0.0))
    cosines = [np.cos(np.outer(waves, places[:, n] - edges[n][0]) / lengths[n]) for n in (0, 1)]
    often = np.where(own > 0, 2.0, 1.0).prod(axis=1)
    factor = np.sqrt(often) * share[own[:, 0], own[:, 1]] / (lengths[0] * lengths[1])
    return factor[:, None] * cosines[0][own[:, 0]] * cosines[1][own[:, 1]] * area, float(share[0, 0])


def _across(layer: Any) -> float:
    own = layer.conductivity
    return float(min(own) if isinstance(own, tuple) else own)
