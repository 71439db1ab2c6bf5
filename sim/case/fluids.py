"""Properties of the water (with or without propylene glycol) or air in a tube, and of the air in the cavity.

Three small tables lie beside this file, made with CoolProp by `tests/tools/make_fluid_tables.py`. Between
their points a cubic Hermite curve is drawn (slopes from the neighbouring points), which stays within 0.05 %
of CoolProp. Outside the tables nothing is guessed: a `ValueError` names the range.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from sim.case.constants import ATMOSPHERE

ZERO_CELSIUS = 273.15
ROUNDING = 1e-6  # [K] how far outside a table a temperature may lie by conversion from Celsius alone

Array = npt.NDArray[np.float64]
Values = npt.NDArray[np.float64]
"""Numbers of the shape of what was asked for; of a float a scalar of NumPy, which has the methods of an array."""


def _span(value: npt.ArrayLike, scale: float = 1.0, shift: float = 0.0) -> str:
    """One number, or the two ends of an array of them."""
    low, high = scale * np.min(value) + shift, scale * np.max(value) + shift
    return f"{low:.4g}" if low == high else f"{low:.4g} to {high:.4g}"


@dataclass(frozen=True, slots=True)
class Fluid:
    """What flows in a tube, at one temperature or at each of an array of temperatures.

    Attributes
    ----------
    density : float or array [kg/m³]
    specific_heat : float or array [J/(kg K)]
    conductivity : float or array [W/(m K)]
    viscosity : float or array [Pa s]
        Dynamic viscosity.
    """

    density: Values
    specific_heat: Values
    conductivity: Values
    viscosity: Values

    @property
    def prandtl(self) -> Values:
        """Prandtl number μ c / k [-]."""
        return self.viscosity * self.specific_heat / self.conductivity

    def __str__(self) -> str:
        return "\n".join([
            "fluid",
            f"├─ density        {_span(self.density)} kg/m³",
            f"├─ specific heat  {_span(self.specific_heat)} J/(kg K)",
            f"├─ conductivity   {_span(self.conductivity)} W/(m K)",
            f"├─ viscosity      {_span(self.viscosity, 1e3)} mPa s",
            f"└─ Prandtl        {_span(self.prandtl)}",
        ])


@dataclass(frozen=True, slots=True)
class DryAir:
    """Dry air at 101325 Pa, at one temperature or at each of an array of temperatures.

    Attributes
    ----------
    conductivity : float or array [W/(m K)]
    density : float or array [kg/m³]
    specific_heat : float or array [J/(kg K)]
        At constant pressure.
    kinematic_viscosity : float or array [m²/s]
    """

    conductivity: Values
    density: Values
    specific_heat: Values
    kinematic_viscosity: Values

    @property
    def diffusivity(self) -> Values:
        """Thermal diffusivity k / (ρ c) [m²/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def prandtl(self) -> Values:
        """Prandtl number ν / α [-]."""
        return self.kinematic_viscosity / self.diffusivity

    def __str__(self) -> str:
        return "\n".join([
            "air",
            f"├─ conductivity         {_span(self.conductivity)} W/(m K)",
            f"├─ density              {_span(self.density)} kg/m³",
            f"├─ specific heat        {_span(self.specific_heat)} J/(kg K)",
            f"├─ kinematic viscosity  {_span(self.kinematic_viscosity, 1e6)} mm²/s",
            f"├─ diffusivity          {_span(self.diffusivity, 1e6)} mm²/s",
            f"└─ Prandtl              {_span(self.prandtl)}",
        ])


@dataclass(frozen=True, slots=True)
class _Curves:
    """Cubics through equally spaced points: `coefficients` is (quantities, 4 powers, intervals)."""

    start: float
    step: float
    coefficients: Array

    @classmethod
    def through(cls, points: Array, values: Array) -> _Curves:
        """Hermite cubics through `values` (quantities, points), slopes by central differences."""
        slopes = np.gradient(values, axis=1, edge_order=2)
        left, right, slope, end = values[:, :-1], values[:, 1:], slopes[:, :-1], slopes[:, 1:]
        rise = right - left
        cubics = np.stack([left, slope, 3.0 * rise - 2.0 * slope - end, slope + end - 2.0 * rise], axis=1)
        cubics.setflags(write=False)
        return cls(float(points[0]), float(points[1] - points[0]), cubics)

    @property
    def stop(self) -> float:
        """The last point."""
        return self.start + self.step * self.coefficients.shape[2]

    def at(self, point: npt.ArrayLike) -> Array:
        """Values (quantities, *shape of point); the caller has checked the range."""
        position = (np.asarray(point, dtype=float) - self.start) / self.step
        interval = np.clip(position.astype(np.intp), 0, self.coefficients.shape[2] - 1)
        along = position - interval
        c0, c1, c2, c3 = (self.coefficients[:, power, interval] for power in range(4))
        return np.asarray(c0 + along * (c1 + along * (c2 + along * c3)))


def _read(name: str) -> Array:
    """A shipped table, one row per column of the file; viscosity, the last one, as its logarithm."""
    text = files("sim.case").joinpath(name).read_text(encoding="utf-8")
    table = np.loadtxt(text.splitlines()[2:], delimiter=",", unpack=True)
    table[-1] = np.log(table[-1])
    return table


@lru_cache(maxsize=1)
def _air_curves() -> _Curves:
    temperature, *values = _read("fluids_air.csv")
    return _Curves.through(temperature, np.array(values))


@lru_cache(maxsize=32)
def _liquid_curves(glycol: float) -> _Curves:
    """Curves over temperature at one mass fraction of glycol."""
    temperature, *water = _read("fluids_water.csv")
    fraction, _, *mixture = _read("fluids_propylene_glycol.csv")
    fractions = np.unique(fraction)
    table = np.reshape(mixture, (4, fractions.size, temperature.size))
    along_fraction = _Curves.through(fractions, table.swapaxes(1, 2).reshape(-1, fractions.size))
    values = along_fraction.at(glycol).reshape(4, temperature.size)
    # The mixture's fit at zero glycol misses pure water by up to 1 %: fade that difference out over the
    # first step of the table, so that a trace of glycol does not make the properties jump.
    fade = max(0.0, 1.0 - glycol / along_fraction.step)
    return _Curves.through(temperature, values + fade * (np.array(water) - table[:, 0]))


def _check_range(curves: _Curves, temperature: npt.ArrayLike, of: str) -> None:
    """Raise if a temperature [K] lies outside the table (also if it is not a number)."""
    if isinstance(temperature, float):  # of one number NumPy's way costs ten times as much
        low = high = temperature
    else:
        low, high = np.min(temperature), np.max(temperature)
    if not (curves.start - ROUNDING <= low and high <= curves.stop + ROUNDING):
        raise ValueError(
            f"temperature of {of}: got {_span(temperature, shift=-ZERO_CELSIUS)} °C; must lie within "
            f"{curves.start - ZERO_CELSIUS:.0f} and {curves.stop - ZERO_CELSIUS:.0f} °C, "
            "the range of the property table"
        )


def water_properties(temperature: npt.ArrayLike, glycol: float = 0.0) -> Fluid:
    """Properties of water, or of propylene glycol in water, at 2 bar.

    Parameters
    ----------
    temperature : float or array [K]
        0 to 95 °C.
    glycol : float [-]
        Mass fraction of propylene glycol, 0 to 0.5.

    Returns
    -------
    Fluid
        Density, specific heat, conductivity, viscosity and Prandtl number in the shape of `temperature`;
        within 0.05 % of CoolProp (water: IAPWS-95; mixtures from 5 % up: its incompressible fluid MPG,
        after Melinder 2010). From 0 to 5 % they pass smoothly from the one source to the other.

    Raises
    ------
    ValueError
        Outside 0 to 95 °C or 0 to 50 % glycol.

    Examples
    --------
    >>> round(float(water_properties(313.15).conductivity), 4)
    0.6285
    >>> round(float(water_properties(313.15, glycol=0.3).viscosity * 1e3), 3)
    1.573
    """
    if not 0.0 <= glycol <= 0.5:
        raise ValueError(f"glycol: got a mass fraction of {glycol:g}; must lie within 0 and 0.5")
    curves = _liquid_curves(float(glycol))
    _check_range(curves, temperature, "the water" if glycol == 0.0 else "the water with glycol")
    density, specific_heat, conductivity, log_viscosity = curves.at(temperature)
    return Fluid(density, specific_heat, conductivity, np.exp(log_viscosity))


def air_properties(temperature: npt.ArrayLike) -> DryAir:
    """Properties of dry air at 101325 Pa.

    Parameters
    ----------
    temperature : float or array [K]
        -40 to 120 °C.

    Returns
    -------
    DryAir
        Conductivity, density, specific heat, kinematic viscosity, diffusivity and Prandtl number in the
        shape of `temperature`; within 0.05 % of CoolProp (Lemmon et al. 2000; Lemmon and Jacobsen 2004).

    Raises
    ------
    ValueError
        Outside -40 to 120 °C.

    Examples
    --------
    >>> round(float(air_properties(303.15).conductivity), 5)
    0.02662
    """
    curves = _air_curves()
    _check_range(curves, temperature, "the air")
    density, specific_heat, conductivity, log_viscosity = curves.at(temperature)
    return DryAir(conductivity, density, specific_heat, np.exp(log_viscosity) / density)


def air_in_tube(temperature: npt.ArrayLike, pressure: float = ATMOSPHERE) -> Fluid:
    """Properties of dry air that flows in a tube.

    Parameters
    ----------
    temperature : float or array [K]
        -40 to 120 °C.
    pressure : float [Pa]
        Absolute. The density follows it as an ideal gas's does; nothing else depends on it.

    Returns
    -------
    Fluid
        In the shape of `temperature`. From 0.5 to 5 bar within 0.8 % of CoolProp (1.5 % below -20 °C).

    Raises
    ------
    ValueError
        Outside -40 to 120 °C.

    Examples
    --------
    >>> round(float(air_in_tube(353.15).density), 4), round(float(air_in_tube(353.15, 2e5).density), 3)
    (0.9995, 1.973)
    """
    air = air_properties(temperature)
    viscosity: Values = air.kinematic_viscosity * air.density
    return Fluid(air.density * (pressure / ATMOSPHERE), air.specific_heat, air.conductivity, viscosity)


def tube_fluid(name: str, temperature: npt.ArrayLike, glycol: float = 0.0, pressure: float = ATMOSPHERE) -> Fluid:
    """What flows in a tube, "water" with a mass share of glycol or "air" at a pressure [Pa], at a temperature [K].

    Raises `ValueError` outside the fluid's table.

    Examples
    --------
    >>> [round(float(tube_fluid(name, 323.15).density), 3) for name in ("water", "air")]
    [988.078, 1.092]
    """
    return air_in_tube(temperature, pressure) if name == "air" else water_properties(temperature, glycol)
