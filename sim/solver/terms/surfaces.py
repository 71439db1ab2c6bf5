"""Heat through outer surfaces: the half cell behind each face in series with the law in front of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief
from sim.physics.surroundings import SurfaceLaw
from sim.solver.state import State
from sim.solver.terms.term import Term

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, repr=False)
class Surface(Brief):
    """Outer faces under one law.

    `cell` flat index, half-cell `conductance` [W/K], `area` [m²] and `centre` [m], all over the faces (n,); they
    all look to one `side`.
    """

    path: str
    side: int
    cell: NDArray[np.int64]
    conductance: Array
    area: Array
    law: SurfaceLaw
    centre: Array

    @property
    def ambient(self) -> float | None:
        """Temperature of what the faces look at [K]; None where the flux is stated."""
        return self.law.beyond

    def towards(self, ambient: float) -> Surface:
        """The same faces towards surroundings of another temperature [K]."""
        return replace(self, law=self.law.towards(ambient))


@dataclass(frozen=True, slots=True, repr=False)
class SurfaceHeat(Brief):
    """Surface temperature [K], heat leaving [W] and its slope with the cell's temperature [W/K], all (n,)."""

    temperature: Array
    flow: Array
    slope: Array


def settle_surface(surface: Surface, cell_temperature: Array) -> SurfaceHeat:
    """Surface temperatures at which conduction to the surface equals what the law takes away.

    G (T_c − T_s) = A q(T_s), by Newton's method from the cells' temperatures (n,) [K] to 1e-10 K; with G [W/K] half
    the cell, A [m²] and q [W/m²] the law of the surface.
    """
    conductance, law = surface.conductance, surface.law
    if law.held is not None:
        held = np.full_like(cell_temperature, law.held)
        return SurfaceHeat(held, conductance * (cell_temperature - held), conductance)
    temperature = cell_temperature.copy()
    for _ in range(60):
        excess = conductance * (cell_temperature - temperature) - surface.area * law.flux(temperature)
        step = excess / (conductance + surface.area * law.slope(temperature))
        temperature = temperature + step
        if np.max(np.abs(step), initial=0.0) < 1e-10:
            break
    slope = surface.area * law.slope(temperature)
    flow = surface.area * law.flux(temperature)
    return SurfaceHeat(temperature, flow, conductance * slope / (conductance + slope))


@dataclass(frozen=True, slots=True, repr=False)
class SurfacesHeat(Brief):
    """Heat of every surface, in their order."""

    parts: tuple[SurfaceHeat, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Surfaces(Brief, Term[SurfacesHeat]):
    """Heat from outer faces to what they face: room, space below, edges."""

    parts: tuple[Surface, ...]

    def settle(self, state: State) -> SurfacesHeat:
        """Temperatures and flows of all surfaces."""
        return SurfacesHeat(tuple(settle_surface(part, state.temperature[part.cell]) for part in self.parts))

    def flow(self, heat: SurfacesHeat, state: State) -> Array:
        """Heat that leaves the cells for the surroundings [W] (cells,)."""
        flow = np.zeros(len(state.temperature))
        for part, own in zip(self.parts, heat.parts, strict=True):
            np.add.at(flow, part.cell, own.flow)
        return flow

    def add_slope(self, heat: SurfacesHeat, diagonal: Array) -> None:
        """Half cell and law in series, linearised."""
        for part, own in zip(self.parts, heat.parts, strict=True):
            np.add.at(diagonal, part.cell, own.slope)

    def paths(self, heat: SurfacesHeat) -> Mapping[str, float]:
        """Heat delivered by path [W]; surfaces may share one."""
        found: dict[str, float] = {}
        for part, own in zip(self.parts, heat.parts, strict=True):
            found[part.path] = found.get(part.path, 0.0) + float(own.flow.sum())
        return found

    def reservoirs(self) -> list[float]:
        """What the surfaces face [K], where it has a temperature."""
        return [part.ambient for part in self.parts if part.ambient is not None]

    def lines(self) -> list[str]:
        """One line a surface."""
        return [f"surface {part.path}: {len(part.cell):,} faces, {part.law}" for part in self.parts]
