"""Water that cools along a tube whose surroundings have one temperature: T_out = T₀ + (T_in − T₀) exp(−L / (R C)).

Turbulent film by V. Gnielinski, Int. Chem. Eng. 16 (1976) 359, with the friction factor of Filonenko; laminar mean film
by H. Hausen 1943; all at the mean of the water's temperature along the tube (forms from memory). Shape factor of a pipe
in the middle of a square: 2π / ln(1.08 w/D) a metre (Incropera, table 4.1).
"""

from __future__ import annotations

import numpy as np

OUTER, INNER, WALL = 15.875e-3, 12.3e-3, 0.41
BLOCK, SIDE = 5000.0, 0.1
ROOM, SUPPLY, PRESSURE = 293.15, 318.15, 2e5
LITRE_A_MINUTE = 1e-3 / 60.0


def water(name: str, temperature: float) -> float:
    """A property of water at 2 bar."""
    from CoolProp.CoolProp import PropsSI  # takes a second to load

    return float(PropsSI(name, "T", temperature, "P", PRESSURE, "Water"))


def nusselt(reynolds: float, prandtl: float, length: float) -> float:
    """Mean Nusselt number of a tube."""
    if reynolds < 2300.0:
        graetz = INNER / length * reynolds * prandtl
        return 3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2.0 / 3.0))
    f = (0.79 * np.log(reynolds) - 1.64) ** -2
    heat = f / 8.0 * (reynolds - 1000.0) * prandtl
    return float(heat / (1.0 + 12.7 * np.sqrt(f / 8.0) * (prandtl ** (2.0 / 3.0) - 1.0)))


def cooled(litres: float, length: float) -> tuple[float, float]:
    """Outlet [°C] and heat given [W] of a flow [l/min, at the supply's density] after a length [m]."""
    mass, out = litres * LITRE_A_MINUTE * water("D", SUPPLY), 0.5 * (SUPPLY + ROOM)
    for _ in range(50):
        mean = ROOM + (SUPPLY - out) / float(np.log((SUPPLY - ROOM) / (out - ROOM)))
        viscosity, conductivity, heat = (water(name, mean) for name in ("V", "L", "C"))
        number = nusselt(4.0 * mass / (np.pi * INNER * viscosity), viscosity * heat / conductivity, length)
        resistance = 1.0 / (np.pi * number * conductivity)
        resistance += np.log(OUTER / INNER) / (2.0 * np.pi * WALL) + np.log(1.08 * SIDE / OUTER) / (2.0 * np.pi * BLOCK)
        out = ROOM + (SUPPLY - ROOM) * float(np.exp(-length / (resistance * mass * heat)))
    return out - 273.15, mass * heat * (SUPPLY - out)
