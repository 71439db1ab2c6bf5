"""What an opening between two zones of air exchanges."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sim.case.constants import GRAVITY
from sim.case.fluids import Values, air_properties

DISCHARGE = 0.65  # [-] from 0.6 to 1 in the measurements of Brown and Solvason 1962


def opening_conductance(
    area: npt.ArrayLike,
    height: npt.ArrayLike,
    delta_t: npt.ArrayLike,
    mean_temperature: npt.ArrayLike,
) -> Values:
    """Heat carried both ways through a vertical opening between two air zones, per kelvin between them.

    G = ρ c (C/3) A √(g H |ΔT| / T): warm air leaves through the upper half, cold air comes back below it. C: DISCHARGE.

    Parameters
    ----------
    area, height : float or array [m²], [m]
        Of the opening, 0 or greater.
    delta_t : float or array [K]
        Difference between the mean temperatures of the zones; the sign does not matter.
    mean_temperature : float or array [K]
        Mean of the zones, -40 to 120 °C.

    Returns
    -------
    float or array [W/K]
        0 at no difference: conduction through the opening is not in it.

    Raises
    ------
    ValueError
        Negative area or height, temperature outside the air's table.

    Notes
    -----
    Geometry: rectangular opening in a thin partition, each zone at one temperature (not stratified). Measured
    with doors and windows of building size (Grashof number of the height about 1e6 to 1e8, from memory); in
    lower cavities it overstates the exchange, since friction is not in it. Nothing is raised.

    References
    ----------
    Brown and Solvason 1962, Int. J. Heat Mass Transfer 5, 859-868 (form and coefficient from memory).

    Examples
    --------
    A doorway 1 m wide and 2 m high, 1 K between rooms at 20 °C:

    >>> round(float(opening_conductance(2.0, 2.0, 1.0, 293.15)))
    136
    """
    if not (np.min(area) >= 0.0 and np.min(height) >= 0.0):
        raise ValueError("opening: area and height must be 0 or greater")
    air = air_properties(mean_temperature)
    speed = np.sqrt(GRAVITY * np.asarray(height) * np.abs(delta_t) / np.asarray(mean_temperature))
    return air.density * air.specific_heat * DISCHARGE / 3.0 * np.asarray(area) * speed
