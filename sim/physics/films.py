"""Natural convection of the cavity's air: what a layer, a wall face and a tube exchange.

Radiation is not in it. Every function is an empirical law for air at one atmosphere, vectorised over faces,
continuous in the temperature difference and without a singularity at zero difference, so that an outer
iteration may use it as it is.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sim.case.constants import GRAVITY
from sim.case.fluids import Values, air_properties

RAYLEIGH_ONSET = 1708.0  # [-] rigid plates above and below: 1707.762, Reid and Harris 1958
RAYLEIGH_CYLINDER_MAX = 1e12  # [-] upper end of Churchill and Chu 1975
RAYLEIGH_MEASURED = 1e5  # [-] layers of air heated from below, Hollands et al. 1976
THICKEST_LAYER = 0.3  # [m] upper end of the layers that ISO 6946:2017 speaks of
BLEND_WINDOW = 0.05  # [K] half width of where a horizontal face passes from one law to the other

Law = tuple[Values, Values]
"""Conductance h of a layer and its gain ΔT dh/dΔT, both [W/(m² K)]: the flux h ΔT has the slope h + gain."""


def _check_positive(name: str, value: npt.ArrayLike) -> None:
    if not np.min(value) > 0.0:
        raise ValueError(f"{name}: got {np.min(value):g}; must be greater than 0")


def _air_numbers(mean_temperature: npt.ArrayLike) -> tuple[Values, Values, Values]:
    """Conductivity, Rayleigh number per kelvin and cubic metre (β = 1/T, ideal gas), Prandtl number."""
    temperature = np.asarray(mean_temperature, dtype=float)
    air = air_properties(temperature)
    diffusivity = air.diffusivity
    buoyancy = GRAVITY / (temperature * air.kinematic_viscosity * diffusivity)
    return air.conductivity, buoyancy, air.kinematic_viscosity / diffusivity


def _nusselt_heated_below(rayleigh: Values) -> tuple[Values, Values]:
    """Nusselt number of a layer heated from below and its gain Ra dNu/dRa."""
    onset = RAYLEIGH_ONSET / np.maximum(rayleigh, RAYLEIGH_ONSET)
    root = np.cbrt(np.maximum(rayleigh, 5830.0) / 5830.0)
    nusselt = root + 1.44 * (1.0 - onset)
    gain = np.where(rayleigh > 5830.0, root / 3.0, 0.0)
    return nusselt, gain + np.where(rayleigh > RAYLEIGH_ONSET, 1.44 * onset, 0.0)


def _layer_up(delta_t: Values, thickness: Values, conductivity: Values, buoyancy: Values) -> Law:
    nusselt, gain = _nusselt_heated_below(buoyancy * delta_t * thickness * thickness * thickness)
    still = conductivity / thickness
    return nusselt * still, gain * still


def _power_or_floor(factor: Values | float, exponent: float, delta_t: Values, floor: Values) -> Law:
    """The larger of factor ΔT^exponent and a floor that does not depend on ΔT."""
    power = factor * delta_t**exponent
    return np.maximum(power, floor), np.where(power > floor, exponent * power, 0.0)


def _layer_up_closed(delta_t: Values, thickness: Values, conductivity: Values, buoyancy: Values) -> Law:
    return _power_or_floor(1.14, 1.0 / 3.0, delta_t, np.maximum(1.95, conductivity / thickness))


def _layer_down(delta_t: Values, thickness: Values, conductivity: Values, buoyancy: Values) -> Law:
    scale = thickness**-0.44
    return _power_or_floor(0.09 * scale, 0.187, delta_t, np.maximum(0.12 * scale, conductivity / thickness))


def _layer_horizontal(delta_t: Values, thickness: Values, conductivity: Values, buoyancy: Values) -> Law:
    return _power_or_floor(0.73, 1.0 / 3.0, delta_t, np.maximum(1.25, conductivity / thickness))


def wall_film_and_slope(
    surface_minus_air: npt.ArrayLike,
    distance: npt.ArrayLike,
    orientation: npt.ArrayLike,
    mean_temperature: npt.ArrayLike,
    closed: npt.ArrayLike = False,
) -> tuple[Values, Values]:
    """Film h between a wall face and the cavity's air, without radiation, and the slope of its flux d(h ΔT)/dΔT.

    The cavity is taken as a layer between this face and an opposite one, split into two equal films with the bulk air
    between them: h is twice the layer's conductance Λ for 2 |ΔT| across it. With d the distance:

    up          Λ = Nu k/d,  Nu = 1 + 1.44 [1 − 1708/Ra]⁺ + [(Ra/5830)^⅓ − 1]⁺
    up, closed  Λ = max(1.95, 1.14 (2 ΔT)^⅓, k/d)
    down        Λ = max(0.12 d^−0.44, 0.09 (2 ΔT)^0.187 d^−0.44, k/d)
    horizontal  Λ = max(1.25, 0.73 (2 ΔT)^⅓, k/d)

    Parameters
    ----------
    surface_minus_air : float or array [K]
        ΔT, surface minus bulk air; either sign.
    distance : float or array [m]
        Extent of the cavity along the face's normal, greater than 0.
    orientation : int or array [-]
        +1 the face looks up, -1 it looks down, 0 it is vertical.
    mean_temperature : float or array [K]
        Of surface and air, -40 to 120 °C. One number for all faces is good enough for a cavity and halves
        the work.
    closed : bool or array of bool
        The face bounds a closed, wide layer, for which the standard has a law.

    Returns
    -------
    two floats or arrays [W/(m² K)]
        The film: by the law "up" ("up, closed") where orientation · ΔT > 0 (hot face up, cold face down: the air
        overturns), "down" where it is < 0 (stable), "horizontal" for vertical faces. The slope is the tangent for a
        Newton-like linearisation, with the air's properties held. It is positive (at least 0.7 times the film in
        cavities up to 0.5 m) and at most 2.44 times the film (just above the onset of overturning), in closed layers
        3 times (in the mixing of the two laws).

    Raises
    ------
    ValueError
        Distance not positive, orientation not -1, 0 or 1, temperature outside the air's table.

    Notes
    -----
    "up" is measured for air between wide isothermal plates with 1708 < Ra < 1e5; beyond, nothing is raised: the last
    term carries on as the turbulent one-third power, in which the thickness no longer matters (at 1e7 it lies 7 % below
    Globe and Dropkin 1959). The other laws are those of ISO 6946:2017 for unventilated layers (up to 0.3 m thick there;
    thicker ones continue the same law) with two changes: the air's own k instead of 0.025 W/(m K), and the standard's
    step at 5 K (1.3 % for "down") is avoided by changing over where its two laws cross, at 4.7 K for "down" and 5.0 K
    for the others. The standard's 1.95 W/(m² K) ignores the thickness and that thin layers stay at rest, so "up" is the
    measured law.

    The overturning and the stable law differ at ΔT → 0. Within ±0.05 K they are mixed by a smooth step in ΔT,
    so that film, flux and the flux's derivative are continuous there and a fixed-point iteration cannot hop
    between the two laws. For closed layers, whose standard law does not fade towards ΔT = 0, the mixing lies from
    0 to 0.1 K on the overturning side, since the flux of an even mixture would not rise throughout. What the
    mixing changes of the flux stays below 0.05 K times the difference of the laws, a few hundredths of a W/m².

    References
    ----------
    Hollands, Unny, Raithby, Konicek 1976, J. Heat Transfer 98, 189-193, at tilt 0, in the form of ISO 15099:2003
    eq. 42; ISO 6946:2017 annex D (from memory; it reproduces the standard's own table of layer resistances).

    Examples
    --------
    The underside of a plate in a cavity 0.2 m deep, 15 K warmer and 15 K colder than the air:

    >>> film, _ = wall_film_and_slope([15.0, -15.0], 0.2, -1, 303.15)
    >>> film.round(2).tolist()
    [0.69, 4.48]
    """
    _check_positive("distance", distance)
    facing = np.asarray(orientation)
    if np.max(np.abs(facing)) > 1:
        raise ValueError("orientation: must be -1 (faces down), 0 (vertical) or 1 (faces up)")
    excess, depth = np.asarray(surface_minus_air, dtype=float), np.asarray(distance, dtype=float)
    conductivity, buoyancy, _ = _air_numbers(mean_temperature)
    across = 2.0 * np.abs(excess)
    up = _layer_up(across, depth, conductivity, buoyancy)
    if np.any(closed):
        standard = _layer_up_closed(across, depth, conductivity, buoyancy)
        up = np.where(closed, standard[0], up[0]), np.where(closed, standard[1], up[1])
    down = _layer_down(across, depth, conductivity, buoyancy)
    upright, gain = _layer_horizontal(across, depth, conductivity, buoyancy)
    level, level_slope = _blend(facing * excess, up, down, np.where(closed, 0.0, BLEND_WINDOW))
    vertical = facing == 0
    film: Values = np.where(vertical, upright, level)
    slope: Values = np.where(vertical, upright + gain, level_slope)
    return 2.0 * film, 2.0 * slope


def beyond_measured(
    surface_minus_air: npt.ArrayLike,
    distance: npt.ArrayLike,
    orientation: npt.ArrayLike,
    mean_temperature: npt.ArrayLike,
    closed: npt.ArrayLike = False,
) -> npt.NDArray[np.bool_]:
    """Whether the law of `wall_film_and_slope` is used beyond the range that its source speaks of; same arguments.

    Air that overturns is measured up to a Rayleigh number of 1e5 of the layer; all other laws, and that of closed
    layers, are the standard's for layers up to 0.3 m.

    Examples
    --------
    A plate's upper side 15 K above the air, 20 mm and 0.2 m below the sheathing:

    >>> beyond_measured([15.0, 15.0], [0.02, 0.2], 1, 313.15).tolist()
    [False, True]
    """
    excess, depth = np.asarray(surface_minus_air, dtype=float), np.asarray(distance, dtype=float)
    overturns = (np.asarray(orientation) * excess > 0.0) & ~np.asarray(closed, dtype=bool)
    rayleigh = _air_numbers(mean_temperature)[1] * 2.0 * np.abs(excess) * depth**3
    return np.where(overturns, rayleigh > RAYLEIGH_MEASURED, depth > THICKEST_LAYER)


def _blend(unstable: Values, up_law: Law, down_law: Law, lead: Values) -> tuple[Values, Values]:
    """Film and flux slope of horizontal faces; `unstable` is ΔT, positive where the air overturns.

    The laws are mixed from `lead` [K] before 0 on, over twice the window.
    """
    (up, up_gain), (down, down_gain) = up_law, down_law
    along = np.clip((unstable + lead) / (2.0 * BLEND_WINDOW), 0.0, 1.0)
    share = along * along * (3.0 - 2.0 * along)
    share_rate = 3.0 * along * (1.0 - along) / BLEND_WINDOW
    tangent = down + down_gain + share * (up + up_gain - down - down_gain)
    return down + share * (up - down), tangent + unstable * share_rate * (up - down)


def nusselt_cylinder(rayleigh: npt.ArrayLike, prandtl: npt.ArrayLike, extrapolate: bool = False) -> Values:
    """Nusselt number of a long isothermal horizontal cylinder in quiet fluid.

    Nu = {0.60 + 0.387 Ra^⅙ / [1 + (0.559/Pr)^(9/16)]^(8/27)}²

    Parameters
    ----------
    rayleigh : float or array [-]
        Ra = g β ΔT D³/(ν α), of the diameter; 0 to 1e12.
    prandtl : float or array [-]
    extrapolate : bool
        Use it above 1e12 all the same.

    Returns
    -------
    float or array [-]
        h D / k; tends to 0.36 as Ra goes to 0.

    Raises
    ------
    ValueError
        Rayleigh number outside its range.

    References
    ----------
    Churchill and Chu 1975, Int. J. Heat Mass Transfer 18, 1049-1053.

    Examples
    --------
    Çengel, Heat Transfer, example 9-1 (hot-water pipe in a room):

    >>> round(float(nusselt_cylinder(1.8673e6, 0.7241)), 3)
    17.394
    """
    rayleigh = np.asarray(rayleigh, dtype=float)
    low, high = np.min(rayleigh), np.max(rayleigh)
    if not (low >= 0.0 and (extrapolate or high <= RAYLEIGH_CYLINDER_MAX)):
        raise ValueError(f"rayleigh of a cylinder: got {low:g} to {high:g}; must lie within 0 and 1e12")
    shape = (1.0 + (0.559 / np.asarray(prandtl)) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return (0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2


def cylinder_film(delta_t: npt.ArrayLike, diameter: npt.ArrayLike, mean_temperature: npt.ArrayLike) -> Values:
    """Film coefficient of a long horizontal tube in quiet air, without radiation.

    Parameters
    ----------
    delta_t : float or array [K]
        Surface minus air; the sign does not matter.
    diameter : float or array [m]
        Outer diameter, greater than 0.
    mean_temperature : float or array [K]
        Of surface and air, -40 to 120 °C.

    Returns
    -------
    float or array [W/(m² K)]
        k/D times `nusselt_cylinder`; continuous, 0.36 k/D at no difference.

    Raises
    ------
    ValueError
        Diameter not positive, Rayleigh number above 1e12, temperature outside the air's table.

    Examples
    --------
    A tube of 15.9 mm, 10 K above air, film at 32 °C:

    >>> round(float(cylinder_film(10.0, 0.0159, 305.15)), 2)
    5.76
    """
    _check_positive("diameter", diameter)
    across = np.asarray(diameter, dtype=float)
    conductivity, buoyancy, prandtl = _air_numbers(mean_temperature)
    rayleigh = buoyancy * np.abs(delta_t) * across * across * across
    return conductivity / across * nusselt_cylinder(rayleigh, prandtl)
