"""Closed plane air layers: the resistance that ISO 6946 gives them, and where it does not speak that of Hollands.

ISO 6946:2017, annex D (form from memory): R = 1 / (h_a + h_r), h_r = 4 σ T_m³ / (1/ε₁ + 1/ε₂ − 1), h_a for up to
5 K as in `CONVECTION`. Hollands and others 1976, J. Heat Transfer 98, 189, for level layers that are warm below.
"""

from __future__ import annotations

SIGMA = 5.670374e-8
MEAN = 283.15
"""Mean temperature of the layers [K]."""

CONVECTION = {
    "up": lambda d: max(1.95, 0.025 / d),
    "horizontal": lambda d: max(1.25, 0.025 / d),
    "down": lambda d: max(0.12 * d**-0.44, 0.025 / d),
}
"""h_a [W/(m² K)] by thickness [m], for 5 K between the plates and less."""


def radiation(near: float, far: float) -> float:
    """h_r between two plates by their emissivities [W/(m² K)]."""
    return 4.0 * SIGMA * MEAN**3 / (1.0 / near + 1.0 / far - 1.0)


def resistance(direction: str, thickness: float, emissivity: float) -> float:
    """R of a layer between 0.9 and an emissivity [m² K/W], as the standard has it."""
    return 1.0 / (CONVECTION[direction](thickness) + radiation(0.9, emissivity))


def hollands(thickness: float, emissivity: float, difference: float = 5.0) -> float:
    """R of a level layer warm below [m² K/W], with the same h_r: Nu = 1 + 1.44 [1 − 1708/Ra]⁺ + [(Ra/5830)^⅓ − 1]⁺."""
    from CoolProp.CoolProp import PropsSI  # takes a second to load

    density, viscosity, conductivity, heat, expansion = (
        PropsSI(name, "T", MEAN, "P", 101325.0, "Air")
        for name in ("D", "V", "L", "C", "ISOBARIC_EXPANSION_COEFFICIENT")
    )
    diffusivity = conductivity / (density * heat)
    rayleigh = 9.80665 * expansion * difference * thickness**3 / (viscosity / density * diffusivity)
    nusselt = 1.0 + 1.44 * max(0.0, 1.0 - 1708.0 / rayleigh) + max(0.0, (rayleigh / 5830.0) ** (1.0 / 3.0) - 1.0)
    return 1.0 / (nusselt * conductivity / thickness + radiation(0.9, emissivity))
