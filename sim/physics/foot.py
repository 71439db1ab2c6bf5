"""What a foot feels of a floor: the temperature at which a bare sole and the floor meet, and how many mind in shoes."""

from __future__ import annotations

import math

SKIN_EFFUSIVITY = 1100.0
"""Thermal effusivity √(k ρ c) of human flesh [W s½/(m² K)]: Çengel, Heat and Mass Transfer, section 4-3 (from memory).

On forearms Vendrik and Vos measured k ρ c = 1.4 ± 0.2 · 10⁻³ cal²/(cm⁴ s K²), which is 1450 to 1680 (J. Appl. Physiol.
11, 1957, p. 211, abstract); soles have thicker, drier skin with less blood.
"""

SOLE = 31.0
"""Temperature of a bare sole before it meets the floor [°C]: 29 to 33 in a warm room (common practice, no source)."""

_FLOOR = (-1.387, 0.118, -0.0025)


def effusivity(conductivity: float, density: float, specific_heat: float) -> float:
    """Thermal effusivity b = √(k ρ c) [W s½/(m² K)] from k [W/(m K)], ρ [kg/m³] and c [J/(kg K)]."""
    return math.sqrt(conductivity * density * specific_heat)


def contact_temperature(skin: float, floor: float, floor_effusivity: float, skin_effusivity: float) -> float:
    """Temperature at which skin and floor meet, T = (b_s T_s + b_f T_f)/(b_s + b_f), in the unit of both.

    Two half-spaces of uniform temperature that are brought together: the value appears at once and stays, until heat
    has passed through the thinner of the two (`passing_time`). ISO/TS 13732-2:2001 assesses bare feet by it (from
    memory); derivation: Carslaw and Jaeger 1959, 2.15.

    Parameters
    ----------
    skin, floor : temperatures before they meet.
    floor_effusivity, skin_effusivity : of both [W s½/(m² K)].

    Examples
    --------
    >>> round(contact_temperature(35.0, 15.0, 24000.0, 1100.0), 1)  # a hand on aluminium: 15.9 °C in Çengel's example
    15.9
    """
    return (skin_effusivity * skin + floor_effusivity * floor) / (skin_effusivity + floor_effusivity)


def passing_time(thickness: float, conductivity: float, density: float, specific_heat: float) -> float:
    """Time after which a layer's far side is felt [s]: L²/(π a), when √(π a t), its depth, is L."""
    return thickness**2 * density * specific_heat / (math.pi * conductivity)


def dissatisfied_by_floor(celsius: float) -> float:
    """People dissatisfied by a cold or warm floor [%], PD = 100 − 94 exp(−1.387 + 0.118 t − 0.0025 t²).

    ISO 7730:2005, 6.4: for people in indoor shoes, t the floor temperature [°C]; least 5.5 % at 23.6 °C.

    Examples
    --------
    >>> round(dissatisfied_by_floor(29.0), 2)
    12.14
    """
    constant, linear, square = _FLOOR
    return 100.0 - 94.0 * math.exp(constant + linear * celsius + square * celsius**2)


def satisfying_range(percent: float) -> tuple[float, float]:
    """Floor temperatures [°C] between which no more than a share of people in shoes is dissatisfied.

    Parameters
    ----------
    percent : more than 5.5 [%], the least that the formula knows.

    Raises
    ------
    ValueError : no floor satisfies so many.

    Examples
    --------
    >>> [round(celsius, 1) for celsius in satisfying_range(10.0)]
    [19.2, 28.0]
    """
    constant, linear, square = _FLOOR
    inside = linear**2 - 4.0 * square * (constant - math.log((100.0 - percent) / 94.0))
    if inside < 0.0:
        raise ValueError(f"{percent:g} %: even the best floor dissatisfies {dissatisfied_by_floor(23.6):.1f} %")
    root = math.sqrt(inside)
    return (linear - root) / (-2.0 * square), (linear + root) / (-2.0 * square)
