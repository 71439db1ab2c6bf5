"""What a thermal camera reads from an opaque surface: its own radiation and the room's that it reflects.

A gray surface at T with emissivity ε sends to a near camera, all powers of radiation taken together,

    σ T_app⁴ = ε σ T⁴ + (1 − ε) σ T_refl⁴

where T_refl is the radiant temperature of what it mirrors, and air in between neither takes nor gives. T_app is
what a camera shows whose emissivity is set to 1: "apparent temperature" in ISO 18434-1:2008 and in M. Vollmer and
K.-P. Möllmann, Infrared Thermal Imaging, 2nd ed. 2018, ch. 2 (both from memory). A camera sees 8 to 14 µm only;
by Planck's law in that band T_app differs by less than 0.1 K for floors from 10 °C to 45 °C in rooms from 15 °C
to 25 °C and ε from 0.8 up, which the tests integrate.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def apparent_temperature(surface: ArrayLike, emissivity: ArrayLike, reflected: ArrayLike) -> NDArray[np.float64]:
    """Temperature [K] that a camera set to emissivity 1 reads.

    Parameters
    ----------
    surface : array of surface temperatures [K]; NaN stays NaN
    emissivity : array [-], 0 to 1
    reflected : radiant temperature of what is mirrored [K]

    Examples
    --------
    >>> round(float(apparent_temperature(303.15, 0.9, 293.15)), 2)
    302.19
    """
    own, mirrored = np.asarray(surface, dtype=float) ** 4, np.asarray(reflected, dtype=float) ** 4
    share = np.asarray(emissivity, dtype=float)
    return np.asarray((share * own + (1.0 - share) * mirrored) ** 0.25)
