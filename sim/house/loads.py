"""The heat loss of a room on the design day, as given or as a steady sum in the manner of EN 12831.

    Φ = Σ A (U + ΔU) (T_room − T_behind) + 0.34 n V (T_room − T_outdoor) + extra

Only walls, windows and roof and the outdoor air: neither sun nor people, and not the heated floor, whose own loss
downwards is counted at the source. A simple sum, not the standard's whole procedure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.case.errors import CaseError, Problem
from sim.case.quantities import format_value

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.case.house_parts import HeatedRoom, Losses

AIR = 0.34
"""Heat that a cubic metre of air carries for each kelvin and hour [Wh/(m³ K)] (EN 12831-1)."""


@dataclass(frozen=True, slots=True)
class Load:
    """Heat loss of a room on the design day [W], with its parts where it was computed: (name, W)."""

    total: float
    parts: tuple[tuple[str, float], ...] = ()


def design_load(house: House, room: HeatedRoom) -> Load:
    """Heat loss of a room on the design day.

    Raises
    ------
    CaseError
        A computed loss below 0.
    """
    if room.losses is None:
        return Load(float(room.load or 0.0))
    parts = tuple(_parts(room.losses, room.temperature, house.design.outdoor))
    total = sum(watts for _, watts in parts)
    if total < 0.0:
        number = house.rooms.index(room)
        rule = "must be at least 0: what is behind the surfaces is warmer than the room"
        problem = Problem(f"room[{number}].losses", format_value(total, "heat flow"), rule, "check the temperatures")
        raise CaseError(house.path or house.name, [problem])
    return Load(total, parts)


def _parts(losses: Losses, room: float, outdoor: float) -> list[tuple[str, float]]:
    """Every part by name [W]."""
    parts = []
    for number, surface in enumerate(losses.surfaces, start=1):
        behind = outdoor if surface.temperature is None else surface.temperature
        conductance = surface.area * (surface.u_value + losses.thermal_bridges)
        parts.append((surface.name or f"surface {number}", conductance * (room - behind)))
    if losses.volume is not None:
        parts.append(("outdoor air", AIR * losses.air_changes * losses.volume * (room - outdoor)))
    if losses.extra:
        parts.append(("allowance", losses.extra))
    return parts
