"""What is walked on at a spot of the floor, and the report's numbers of what a foot feels there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.physics.foot import (
    SKIN_EFFUSIVITY,
    SOLE,
    contact_temperature,
    dissatisfied_by_floor,
    effusivity,
    passing_time,
)

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.layers import Layer

FIRST_MOMENT = 1.0
"""A layer that heat passes sooner than this is not what a sole feels [s]: what lies beneath it is."""


@dataclass(frozen=True, slots=True)
class Underfoot:
    """What a bare sole meets at a spot: the layer that counts, and those over and beneath it.

    Attributes
    ----------
    material : str
        Of the layer whose effusivity counts.
    effusivity : float
        [W s½/(m² K)].
    felt_through : float
        Time after which what lies beneath that layer is felt too [s].
    beneath : str
        Its material; empty where nothing lies beneath.
    thin : tuple of str
        Layers above it that heat passes in less than a second.
    """

    material: str
    effusivity: float
    felt_through: float
    beneath: str
    thin: tuple[str, ...]

    def contact(self, floor_C: float) -> float:
        """Temperature [°C] at which a bare sole and a floor of some temperature [°C] meet."""
        return contact_temperature(SOLE, floor_C, self.effusivity, SKIN_EFFUSIVITY)


def underfoot(case: Case, x: float, y: float) -> Underfoot:
    """What is walked on at a place on the plan, x across and y along the bay [m]."""
    layers = _stack(case, x, y)
    times = [_time(layer) for layer in layers]
    counts = next((place for place, time in enumerate(times) if time >= FIRST_MOMENT), len(layers) - 1)
    layer, deeper = layers[counts], layers[counts + 1 :]
    solid = layer.solid
    own = effusivity(solid.conductivity[2], solid.density, solid.specific_heat)
    thin = tuple(str(above.material) for above in layers[:counts])
    return Underfoot(str(layer.material), own, times[counts], str(deeper[0].material) if deeper else "", thin)


def foot_values(case: Case, floor: Mapping[str, float]) -> dict[str, float]:
    """Report numbers at the warmest and coolest spot: of a bare sole [°C], and of people in shoes who mind [%].

    `floor` holds the report's numbers of the floor surface.
    """
    values: dict[str, float] = {}
    for spot, name in (("peak", "warmest"), ("trough", "coolest")):
        at = underfoot(case, 1e-3 * floor[f"{spot}_x_mm"], 1e-3 * floor[f"{spot}_y_mm"])
        values[f"bare_{name}_C"] = at.contact(floor[f"surface_{spot}_C"])
        values[f"shod_{name}_percent"] = dissatisfied_by_floor(floor[f"surface_{spot}_C"])
    return values


def _stack(case: Case, x: float, y: float) -> list[Layer]:
    """Layers at a place from the top: a rug that lies there, coverings, sheathing."""
    rugs = [rug for rug in case.floor.rugs if _inside(x, rug.x) and _inside(y, rug.y)]
    return [*rugs, *case.floor.coverings, case.floor.sheathing]


def _inside(place: float, reach: tuple[float, float] | None) -> bool:
    return reach is None or reach[0] <= place <= reach[1]


def _time(layer: Layer) -> float:
    solid = layer.solid
    return passing_time(float(layer.thickness), solid.conductivity[2], solid.density, solid.specific_heat)
