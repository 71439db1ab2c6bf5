"""What a surface exchanges with its surroundings: room, space below, fixed fluxes and temperatures.

Each law is a small type of its own with two methods: `flux`, the heat leaving the solid through its surface [W/m²],
and `slope`, its derivative with the surface temperature [W/(m² K)], for the outer iteration's tangent.
Temperatures are in kelvin; surface temperatures may be arrays of any shape.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, fields, replace
from typing import ClassVar, Self

import numpy as np
import numpy.typing as npt

from sim.case.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from sim.case.fluids import Values

FIXED_TEMPERATURE_FILM = 1e9  # [W/(m² K)] stands for no resistance: 1 MW/m² moves the surface by 1 mK
SMALLEST_DIFFERENCE = 0.01  # [K] below it the standard floor law's slope is held


class SurfaceLaw(ABC):
    """Heat leaving a solid through its surface, as a function of the surface temperature.

    `faces` names the value that holds the temperature of what the surface looks at; None where it looks at nothing.
    """

    __slots__ = ()
    faces: ClassVar[str | None] = None

    @abstractmethod
    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the solid [W/m²] at a surface temperature [K]."""

    @abstractmethod
    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """Derivative of `flux` with the surface temperature [W/(m² K)], 0 or greater."""

    @property
    def beyond(self) -> float | None:
        """Temperature of what the surface looks at [K]; None where it looks at nothing."""
        return None if self.faces is None else float(getattr(self, self.faces))

    @property
    def held(self) -> float | None:
        """Temperature that the surface is held at, whatever heat that takes [K]; None under every other law."""
        return None

    def towards(self, ambient: float) -> Self:
        """The same law towards surroundings of another temperature [K].

        Raises
        ------
        ValueError
            The law looks at nothing.
        """
        if self.faces is None:
            raise ValueError(f"a surface under {self} faces nothing whose temperature could change")
        return replace(self, **{self.faces: ambient})  # type: ignore[type-var]


def _check(law: object) -> None:
    """Raise if a temperature is not positive, a coefficient negative or an emissivity above 1."""
    values = {field.name: getattr(law, field.name) for field in fields(law)}  # type: ignore[arg-type]
    for name, value in values.items():
        if name in ("room", "ambient", "air", "radiant", "temperature") and not 0.0 < value < np.inf:
            raise ValueError(f"{name}: got {value:g} K; must be greater than 0")
        if name in ("coefficient", "convective") and not 0.0 <= value < np.inf:
            raise ValueError(f"{name}: got {value:g} W/(m² K); must be 0 or greater")
        if name == "emissivity" and not 0.0 <= value <= 1.0:
            raise ValueError(f"emissivity: got {value:g}; must lie within 0 and 1")


def _radiation(surface: Values, radiant: float, emissivity: float) -> Values:
    """ε σ (T_s⁴ − T_r⁴), factored so that nothing cancels when the two are close."""
    sum_of_squares = surface * surface + radiant * radiant
    return emissivity * STEFAN_BOLTZMANN * sum_of_squares * (surface + radiant) * (surface - radiant)


def _radiation_slope(surface: Values, emissivity: float) -> Values:
    return 4.0 * emissivity * STEFAN_BOLTZMANN * surface * surface * surface


def _celsius(temperature: float) -> str:
    return f"{temperature - ZERO_CELSIUS:.2f} °C"


@dataclass(frozen=True, slots=True)
class StandardFloor(SurfaceLaw):
    """The standard floor-heating characteristic, q = 8.92 |T_s − T_i|^1.1 with the sign of the difference.

    EN 1264-2:2008 and ISO 11855-2:2021: convection and radiation together from a heated floor to a room, used
    there up to 15 K above it; beyond, and for floors colder than the room, the same curve is continued.

    Attributes
    ----------
    room : float [K]
        Operative temperature of the room.

    Examples
    --------
    29 °C in a room of 20 °C, the standard's 100 W/m²:

    >>> round(float(StandardFloor(293.15).flux(302.15)), 2)
    100.01
    """

    faces = "room"
    room: float

    def __post_init__(self) -> None:
        _check(self)

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the floor [W/m²]; negative where the floor is colder than the room."""
        difference = np.asarray(surface_temperature, dtype=float) - self.room
        return 8.92 * np.sign(difference) * np.abs(difference) ** 1.1

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """Derivative of the flux [W/(m² K)]; within 0.01 K of the room held at 6.2 instead of going to 0."""
        difference = np.abs(np.asarray(surface_temperature, dtype=float) - self.room)
        return 1.1 * 8.92 * np.maximum(difference, SMALLEST_DIFFERENCE) ** 0.1

    def __str__(self) -> str:
        return f"standard floor law, 8.92 ΔT^1.1 W/m², to {_celsius(self.room)}"


@dataclass(frozen=True, slots=True)
class FixedFilm(SurfaceLaw):
    """A constant film coefficient to an ambient temperature, q = h (T_s − T_a).

    Attributes
    ----------
    ambient : float [K]
    coefficient : float [W/(m² K)]
        0 or greater.
    """

    faces = "ambient"
    ambient: float
    coefficient: float

    def __post_init__(self) -> None:
        _check(self)

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the solid [W/m²]."""
        return self.coefficient * (np.asarray(surface_temperature, dtype=float) - self.ambient)

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """The coefficient [W/(m² K)], in the shape of the temperature."""
        return np.full(np.shape(surface_temperature), self.coefficient)

    def __str__(self) -> str:
        return f"film {self.coefficient:.4g} W/(m² K) to {_celsius(self.ambient)}"


@dataclass(frozen=True, slots=True)
class SplitFloor(SurfaceLaw):
    """Convection to the air and radiation to the surroundings kept apart.

    q = h_c (T_s − T_air) + ε σ (T_s⁴ − T_r⁴)

    Attributes
    ----------
    air, radiant : float [K]
        Air temperature, and mean radiant temperature of what the surface sees (seen entirely).
    convective : float [W/(m² K)]
        Convective coefficient; ISO 6946:2017 has 5.0 for a heated floor, 2.5 for a wall, 0.7 for a heated
        ceiling.
    emissivity : float [-]
        Effective emissivity between surface and surroundings.
    """

    faces = "air"
    air: float
    radiant: float
    convective: float
    emissivity: float

    def __post_init__(self) -> None:
        _check(self)

    def towards(self, ambient: float) -> SplitFloor:
        """The same law towards air of another temperature [K]; radiant surroundings move with it."""
        return replace(self, air=ambient, radiant=self.radiant + ambient - self.air)

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the solid [W/m²], both parts together."""
        surface = np.asarray(surface_temperature, dtype=float)
        return self.convective * (surface - self.air) + _radiation(surface, self.radiant, self.emissivity)

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """Derivative of the flux [W/(m² K)]."""
        surface = np.asarray(surface_temperature, dtype=float)
        return self.convective + _radiation_slope(surface, self.emissivity)

    def __str__(self) -> str:
        return (f"convection {self.convective:.4g} W/(m² K) to {_celsius(self.air)}, "
                f"radiation (emissivity {self.emissivity:.3g}) to {_celsius(self.radiant)}")


@dataclass(frozen=True, slots=True)
class RadiantOnly(SurfaceLaw):
    """Radiation to surroundings that the surface sees entirely, q = ε σ (T_s⁴ − T_a⁴).

    Attributes
    ----------
    ambient : float [K]
    emissivity : float [-]
    """

    faces = "ambient"
    ambient: float
    emissivity: float

    def __post_init__(self) -> None:
        _check(self)

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the solid [W/m²]."""
        return _radiation(np.asarray(surface_temperature, dtype=float), self.ambient, self.emissivity)

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """Derivative of the flux [W/(m² K)]."""
        return _radiation_slope(np.asarray(surface_temperature, dtype=float), self.emissivity)

    def __str__(self) -> str:
        return f"radiation (emissivity {self.emissivity:.3g}) to {_celsius(self.ambient)}"


@dataclass(frozen=True, slots=True)
class FixedFlux(SurfaceLaw):
    """A prescribed heat flux, whatever the temperature.

    Attributes
    ----------
    out : float [W/m²]
        Positive out of the solid, like every law's `flux`; heating the solid takes a negative one.
    """

    out: float

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """The prescribed heat flux [W/m²], in the shape of the temperature."""
        return np.full(np.shape(surface_temperature), self.out)

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """Zero [W/(m² K)], in the shape of the temperature."""
        return np.zeros(np.shape(surface_temperature))

    def __str__(self) -> str:
        return f"{self.out:.4g} W/m² out of the solid"


@dataclass(frozen=True, slots=True)
class FixedTemperature(SurfaceLaw):
    """A surface held at a temperature, written as a film of 1e9 W/(m² K) to it.

    In series with the half cell behind the surface that is no resistance at all: 1 MW/m² moves the surface by
    1 mK.

    Attributes
    ----------
    temperature : float [K]
    """

    faces = "temperature"
    temperature: float

    def __post_init__(self) -> None:
        _check(self)

    @property
    def held(self) -> float:
        """The temperature itself [K]."""
        return self.temperature

    def flux(self, surface_temperature: npt.ArrayLike) -> Values:
        """Heat flux out of the solid [W/m²] of the film that stands for the fixed temperature."""
        return FIXED_TEMPERATURE_FILM * (np.asarray(surface_temperature, dtype=float) - self.temperature)

    def slope(self, surface_temperature: npt.ArrayLike) -> Values:
        """1e9 W/(m² K), in the shape of the temperature."""
        return np.full(np.shape(surface_temperature), FIXED_TEMPERATURE_FILM)

    def __str__(self) -> str:
        return f"held at {_celsius(self.temperature)}"
