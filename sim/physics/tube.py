"""Water in a tube: film and friction inside, the tube's wall, and the water's own energy balance along it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

from sim.case.fluids import Fluid, Values

LAMINAR_END, TURBULENT_START = 2300.0, 4000.0  # [-] Reynolds numbers of the transition, Gnielinski 2013
STEADY_END = 2000.0  # [-] below, flow in a tube stays laminar whatever disturbs it: textbooks, from memory
REYNOLDS_MAX = 5e6  # [-] upper end of Gnielinski 1976
PRANDTL_TURBULENT = (0.5, 2000.0)  # [-] range of Gnielinski 1976
ROUGHNESS = 1.5e-6  # [m] drawn plastic tube, from memory

FEW_SEGMENTS = 64
"""So few are marched without compiled code."""

Array = npt.NDArray[np.float64]
_OfArrays = Callable[..., Values]
"""Laws of a library that says it takes floats, and takes arrays as well."""


def _positive(name: str, value: npt.ArrayLike) -> Values:
    """The value as an array of floats; raises unless all of it is greater than 0."""
    if isinstance(value, float):  # NumPy's way with one number costs ten times as much
        least, given = value, np.float64(value)
    else:
        least, given = np.min(value), np.asarray(value, dtype=float)
    if not least > 0.0:
        raise ValueError(f"{name}: got {least:g}; must be greater than 0")
    return given  # type: ignore[return-value]  # a scalar of NumPy, see `Values`


def turbulent_share(reynolds: npt.ArrayLike) -> Values:
    """How far flow in a tube is turbulent: 0 up to Re 2300, 1 from 4000 on, linear between [-]."""
    share = (np.asarray(reynolds, dtype=float) - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    return np.minimum(np.maximum(share, 0.0), 1.0)


def reynolds_tube(mass_flow: npt.ArrayLike, inner_diameter: npt.ArrayLike, fluid: Fluid) -> Values:
    """Reynolds number 4 ṁ/(π d μ) [-] of a mass flow [kg/s] in a tube of inner diameter d [m].

    Raises `ValueError` unless flow and diameter are greater than 0.
    """
    bore = _positive("inner_diameter", inner_diameter)
    return 4.0 * _positive("mass_flow", mass_flow) / (np.pi * bore * fluid.viscosity)


def nusselt_tube(
    reynolds: npt.ArrayLike,
    prandtl: npt.ArrayLike,
    diameter: npt.ArrayLike,
    length: npt.ArrayLike,
    extrapolate: bool = False,
) -> Values:
    """Mean Nusselt number over a smooth round tube.

    Re ≤ 2300        3.66 + 0.0668 Gz / (1 + 0.04 Gz^⅔),  Gz = Re Pr D/L
    Re ≥ 4000        (f/8)(Re − 1000) Pr / [1 + 12.7 (f/8)^½ (Pr^⅔ − 1)],  f = (0.79 ln Re − 1.64)^−2
    between          linear in Re from the one at 2300 to the other at 4000

    Parameters
    ----------
    reynolds, prandtl : float or array [-]
    diameter, length : float or array [m]
        Inner diameter, and the length from the inlet over which the mean is taken.
    extrapolate : bool
        Use the turbulent law outside its range all the same.

    Returns
    -------
    float or array [-]
        h D / k, at least 3.66, continuous in the Reynolds number.

    Raises
    ------
    ValueError
        An argument not greater than 0; Re above 5e6; turbulent flow of a Prandtl number outside 0.5 to 2000.

    Notes
    -----
    Laminar: uniform wall temperature, velocity profile developed, temperature profile developing. Turbulent:
    no entrance factor. The true course of the transition depends on the inlet and is not known.

    References
    ----------
    Hausen 1943, Z. VDI Beiheft Verfahrenstechnik 4, 91-98; Gnielinski 1976, Int. Chem. Eng. 16, 359-368;
    Gnielinski 2013, Int. J. Heat Mass Transfer 63, 134-140 (transition). The first two are evaluated by the
    library ht, which agrees with them.

    Examples
    --------
    Water at 45 °C, 1.5 l/min in a tube of 12.3 mm:

    >>> round(float(nusselt_tube(4301.0, 3.92, 0.0123, 10.0)), 1)
    28.0
    """
    from ht.conv_internal import laminar_entry_thermal_Hausen, turbulent_Gnielinski

    number, fluid_number = _positive("reynolds", reynolds), _positive("prandtl", prandtl)
    bore, run = _positive("diameter", diameter), _positive("length", length)
    share = turbulent_share(number)
    if not extrapolate:
        _check_turbulent_range(number, fluid_number, share)
    of_laminar: _OfArrays = laminar_entry_thermal_Hausen  # type: ignore[assignment]
    of_turbulent: _OfArrays = turbulent_Gnielinski  # type: ignore[assignment]
    slow = np.minimum(number, LAMINAR_END)
    laminar = of_laminar(Re=slow, Pr=fluid_number, L=run, Di=bore)
    fast = np.maximum(number, TURBULENT_START)
    turbulent = of_turbulent(Re=fast, Pr=fluid_number, fd=(0.79 * np.log(fast) - 1.64) ** -2)
    return laminar + share * (turbulent - laminar)


def _check_turbulent_range(reynolds: Values, prandtl: Values, share: Values) -> None:
    """Raise where the turbulent law is used outside its range."""
    low, high = PRANDTL_TURBULENT
    outside = (share > 0.0) & ((prandtl < low) | (prandtl > high))
    if np.max(reynolds) > REYNOLDS_MAX or np.any(outside):
        raise ValueError(
            f"turbulent flow in a tube: got Reynolds number up to {np.max(reynolds):.4g}, Prandtl number "
            f"{np.min(prandtl):.4g} to {np.max(prandtl):.4g}; the law holds to 5e6 and from 0.5 to 2000"
        )


def nusselt_spread(mass_flow: float, inner_diameter: float, length: float, fluid: Fluid) -> float:
    """How unsure the film is between laminar and turbulent flow [-]: what the two laws differ by, halved, over it.

    Full half-way between Reynolds numbers 2300 and 4000, none at either end and beyond.

    Parameters
    ----------
    mass_flow, inner_diameter, length, fluid : as in `tube_film`.

    Raises
    ------
    ValueError
        As `nusselt_tube`.

    Examples
    --------
    >>> from sim.case.fluids import water_properties
    >>> water = water_properties(318.15)
    >>> [round(nusselt_spread(flow, 0.0123, 60.0, water), 2) for flow in (0.01, 0.018, 0.03)]
    [0.0, 0.76, 0.0]
    """
    number = float(reynolds_tube(mass_flow, inner_diameter, fluid))
    share = float(turbulent_share(number))
    ends = [float(nusselt_tube(at, fluid.prandtl, inner_diameter, length)) for at in (LAMINAR_END, TURBULENT_START)]
    own = ends[0] + share * (ends[1] - ends[0])
    return 2.0 * share * (1.0 - share) * (ends[1] - ends[0]) / own


def tube_film(
    mass_flow: npt.ArrayLike, inner_diameter: npt.ArrayLike, length: npt.ArrayLike, fluid: Fluid
) -> Values:
    """Film coefficient between the water and the inside of the tube.

    Parameters
    ----------
    mass_flow : float or array [kg/s]
        Greater than 0.
    inner_diameter, length : float or array [m]
        Of the tube; the film is the mean over the length.
    fluid : Fluid
        At the water's mean temperature.

    Returns
    -------
    float or array [W/(m² K)]
        k/d times `nusselt_tube`, on the inner surface.

    Raises
    ------
    ValueError
        As `nusselt_tube`.

    Examples
    --------
    2 l/min of water at 45 °C in a tube of 12.3 mm:

    >>> from sim.case.fluids import water_properties
    >>> water = water_properties(318.15)
    >>> round(float(tube_film(2e-3 / 60 * water.density, 0.0123, 10.0, water)), -1)
    1940.0
    """
    reynolds = reynolds_tube(mass_flow, inner_diameter, fluid)
    nusselt = nusselt_tube(reynolds, fluid.prandtl, inner_diameter, length)
    return nusselt * fluid.conductivity / np.asarray(inner_diameter)


def film_resistance(film_coefficient: npt.ArrayLike, inner_diameter: npt.ArrayLike) -> Values:
    """Resistance of the water film for one metre of tube, 1/(π d h) [m K/W].

    `film_coefficient` [W/(m² K)] on the inner surface of diameter d [m]; raises `ValueError` unless both are
    greater than 0.
    """
    bore = _positive("inner_diameter", inner_diameter)
    return 1.0 / (np.pi * bore * _positive("film_coefficient", film_coefficient))


def wall_resistance(outer: npt.ArrayLike, inner: npt.ArrayLike, conductivity: npt.ArrayLike) -> Values:
    """Resistance of the tube's wall for one metre of tube, ln(outer/inner)/(2π k).

    Parameters
    ----------
    outer, inner : float or array [m]
        Diameters, outer > inner > 0.
    conductivity : float or array [W/(m K)]
        Greater than 0.

    Returns
    -------
    float or array [m K/W]

    Raises
    ------
    ValueError
        Diameters or conductivity out of order.

    Examples
    --------
    SDR-9 tube of nominal 1/2 in, k = 0.41 W/(m K):

    >>> round(float(wall_resistance(0.015875, 0.012319, 0.41)), 6)
    0.098444
    """
    ratio = np.asarray(outer) / _positive("inner", inner)
    if not np.min(ratio) > 1.0:
        raise ValueError("outer: must be greater than inner")
    return np.log(ratio) / (2.0 * np.pi * _positive("conductivity", conductivity))


def friction_factor(reynolds: npt.ArrayLike, relative_roughness: npt.ArrayLike = 0.0) -> Values:
    """Darcy friction factor of a round tube, without a jump, on the safe side of the transition.

    Re ≤ 2000        64/Re
    Re ≥ 2300        Colebrook: f^−½ = −2 log₁₀[ε/(3.7 D) + 2.51/(Re f^½)]
    between          linear in Re from the one at 2000 to the other at 2300

    From Re 2300 to 4000 real flow may be laminar for a while and lose less, never more.

    Parameters
    ----------
    reynolds : float or array [-]
        Greater than 0.
    relative_roughness : float or array [-]
        ε/D, from 0 (smooth) to 0.05.

    Returns
    -------
    float or array [-]

    Raises
    ------
    ValueError
        Reynolds number not greater than 0, roughness outside its range.

    References
    ----------
    Colebrook 1939, J. Inst. Civil Eng. 11, 133-156, solved by the library fluids after Clamond 2009. (That
    library's own door, `friction_factor`, jumps by half at Re 2040.)

    Examples
    --------
    >>> round(float(friction_factor(1e4, 1.2195e-4)), 5)
    0.03107
    """
    from fluids.friction import Clamond

    number, roughness = _positive("reynolds", reynolds), np.asarray(relative_roughness, dtype=float)
    if not (np.min(roughness) >= 0.0 and np.max(roughness) <= 0.05):
        raise ValueError(f"relative_roughness: got {np.max(roughness):g}; must lie within 0 and 0.05")
    laminar = 64.0 / np.minimum(number, STEADY_END)
    turbulent = np.vectorize(Clamond, otypes=[float])(np.maximum(number, LAMINAR_END), roughness)
    share = np.clip((number - STEADY_END) / (LAMINAR_END - STEADY_END), 0.0, 1.0)
    return laminar + share * (turbulent - laminar)


def pressure_gradient(
    mass_flow: npt.ArrayLike, inner_diameter: npt.ArrayLike, fluid: Fluid, roughness: float = ROUGHNESS
) -> Values:
    """Pressure lost to friction per metre of straight tube, f/d · ρ V²/2.

    Parameters
    ----------
    mass_flow : float or array [kg/s]
        Greater than 0.
    inner_diameter : float or array [m]
        Greater than 0.
    fluid : Fluid
        At the water's mean temperature.
    roughness : float [m]
        Of the inner surface; the default is that of plastic tube.

    Returns
    -------
    float or array [Pa/m]

    Raises
    ------
    ValueError
        As `friction_factor`.

    Examples
    --------
    2 l/min of water at 45 °C in a tube of 12.3 mm:

    >>> from sim.case.fluids import water_properties
    >>> water = water_properties(318.15)
    >>> round(float(pressure_gradient(2e-3 / 60 * water.density, 0.0123, water)))
    114
    """
    diameter = np.asarray(inner_diameter, dtype=float)
    reynolds = reynolds_tube(mass_flow, diameter, fluid)
    speed = 4.0 * np.asarray(mass_flow) / (np.pi * diameter * diameter * fluid.density)
    return friction_factor(reynolds, roughness / diameter) / diameter * fluid.density * speed * speed / 2.0


def water_march(
    inlet: float, capacity_flow: float, conductance: npt.ArrayLike, surface_temperature: npt.ArrayLike
) -> tuple[Array, float]:
    """Water temperature along a run of tube whose surroundings have a given temperature, segment by segment.

    In a segment of conductance U to a surface at T_s the water approaches T_s exponentially,

        T_out = T_s + (T_in − T_s) e^(−N),  N = U/C,

    with C the capacity flow, and the segment's mean water temperature is the one that gives the heat exactly:
    U (T_mean − T_s) = C (T_in − T_out), so T_mean − T_s is the logarithmic mean difference.

    Parameters
    ----------
    inlet : float [K]
    capacity_flow : float [W/K]
        C = ṁ c, greater than 0.
    conductance : array (segments,) [W/K]
        From the water to the surface of each segment, in flow order, 0 or greater.
    surface_temperature : array (segments,) [K]

    Returns
    -------
    water_temperature : array (segments,) [K]
        Mean over each segment.
    outlet : float [K]
        C (inlet − outlet) equals the sum of conductance · (water − surface) to round-off.

    Raises
    ------
    ValueError
        No flow, a negative conductance, or arrays of unequal length.

    Examples
    --------
    One segment of N = 1 from 40 to surroundings of 20 °C:

    >>> water, outlet = water_march(313.15, 100.0, [100.0], [293.15])
    >>> round(outlet - 273.15, 4), round(float(water[0]) - 273.15, 4)
    (27.3576, 32.6424)
    """
    _positive("capacity_flow", capacity_flow)
    links = np.ascontiguousarray(conductance, dtype=float)
    surface = np.ascontiguousarray(surface_temperature, dtype=float)
    if links.shape != surface.shape or links.ndim != 1:
        raise ValueError(f"got {links.shape} conductances, {surface.shape} surfaces; must be equal lists")
    if links.size and not np.min(links) >= 0.0:
        raise ValueError(f"conductance: got {np.min(links):g} W/K; must be 0 or greater")
    follow = _march if links.size <= FEW_SEGMENTS else compiled_march()
    water, outlet = follow(float(inlet), links / capacity_flow, surface)
    return water, float(outlet)


@cache
def compiled_march() -> Callable[..., tuple[Array, float]]:
    """The march for long runs, compiled when first wanted: a compiler takes longer to load than a circuit to march."""
    from sim.machine.compiling import njit

    return njit(cache=True)(_march)


def _march(inlet: float, transfer_units: Array, surface: Array) -> tuple[Array, float]:
    water = np.empty_like(surface)
    entering = inlet
    for segment in range(surface.size):
        units = transfer_units[segment]
        excess = entering - surface[segment]
        lost = -np.expm1(-units) * excess
        water[segment] = surface[segment] + (lost / units if units > 0.0 else excess)
        entering -= lost
    return water, entering
