"""Conduction between neighbouring cells, and the heat that their matter stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Box, Tube
from sim.case.fluids import air_properties
from sim.machine.brief import Brief
from sim.solver.state import State
from sim.solver.stencil import StencilOperator
from sim.solver.terms.term import Term

Array = NDArray[np.float64]

AIR_TEMPERATURE = 300.15
"""At which the density and specific heat of cavity air are taken [K]."""


@dataclass(frozen=True, slots=True, repr=False)
class Conduction(Brief, Term[None]):
    """Face conductances [W/K] on the three axes and the cells that take part."""

    gx: Array
    gy: Array
    gz: Array
    active: NDArray[np.bool_]

    @property
    def faces(self) -> tuple[Array, Array, Array]:
        """The three arrays of conductances [W/K], in axis order."""
        return self.gx, self.gy, self.gz

    def settle(self, state: State) -> None:
        """Nothing to be found beforehand: the law is linear."""

    def flow(self, heat: None, state: State) -> Array:
        """Heat that leaves each cell for its neighbours [W] (cells,)."""
        return self.operator().apply(state.temperature.reshape(self.active.shape)).reshape(-1)

    def operator(self, sink: Array | None = None) -> StencilOperator:
        """Conduction with a sink in each cell [W/K], flat (cells,); None for none."""
        sink = np.zeros(self.active.size) if sink is None else sink
        return StencilOperator(*self.faces, sink.reshape(self.active.shape))

    def add_slope(self, heat: None, diagonal: Array) -> None:
        """Nothing: its slope is the stencil."""

    def paths(self, heat: None) -> Mapping[str, float]:
        """None: what leaves one cell enters the next."""
        return {}

    def storage(self, cells: Cells) -> Array:
        """ρ c V of the matter of each cell [J/K]; a tube's is the water's term, that of stirred air the cavity's."""
        volumes = np.broadcast_to(cells.grid.volumes(), cells.grid.shape)
        per_volume = np.append([_per_volume(body) for body in cells.bodies], 0.0)
        still = self.active | ~cells.air
        return np.where(still, per_volume[cells.body] * volumes, 0.0).reshape(-1)


def _per_volume(body: Box | Tube) -> float:
    """ρ c of a body's matter [J/(m³ K)]; a tube's is set apart, and what is held at a temperature has none."""
    if isinstance(body, Tube) or body.temperature is not None:
        return 0.0
    if body.material is None:
        return air_capacity()
    density, specific_heat = body.material.density, body.material.specific_heat
    if not (density and specific_heat):
        raise ValueError(f"{body.name}: density and specific heat are needed for heat flow in time")
    return density * specific_heat


def air_capacity() -> float:
    """ρ c of cavity air [J/(m³ K)]."""
    air = air_properties(AIR_TEMPERATURE)
    return float(air.density * air.specific_heat)
