"""Every flow of a system at a state, and what is left over: the balance as one signed sum over the terms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief
from sim.physics.cavity import WallHeat
from sim.solver.balance import Balance
from sim.solver.state import State
from sim.solver.system import System
from sim.solver.terms.cavity import CavityHeat
from sim.solver.terms.surfaces import SurfaceHeat, SurfacesHeat
from sim.solver.terms.term import FEEDS
from sim.solver.terms.water import RunWater, WaterHeat

Array = NDArray[np.float64]
Kind = TypeVar("Kind")


@dataclass(frozen=True, slots=True, repr=False)
class Flows(Brief):
    """What every term tells at a state, and what is left over in cells [W], zones [W] and patches [W].

    `heats` stand in the order of the system's terms.
    """

    heats: tuple[Any, ...]
    cells: Array
    zones: Array
    patches: Array
    balance: Balance

    @property
    def surfaces(self) -> tuple[SurfaceHeat, ...]:
        """Heat of the outer surfaces, in the order of the system's."""
        found = _find(self.heats, SurfacesHeat)
        return () if found is None else found.parts

    @property
    def waters(self) -> tuple[RunWater, ...]:
        """Water of the runs, in the order of the system's."""
        found = _find(self.heats, WaterHeat)
        return () if found is None else found.runs

    @property
    def walls(self) -> WallHeat | None:
        """Heat of the cavity's walls; None without a cavity."""
        found = _find(self.heats, CavityHeat)
        return None if found is None else found.walls

    @property
    def opening_slope(self) -> Array:
        """Slopes of the openings between air zones [W/K]."""
        found = _find(self.heats, CavityHeat)
        return np.empty(0) if found is None else found.opening_slope

    @property
    def left(self) -> float:
        """Σ|left over| [W]."""
        return sum(float(np.abs(part).sum()) for part in (self.cells, self.zones, self.patches))

    @property
    def net(self) -> float:
        """|Σ left over| of the bay as a whole, or of its radiation alone if that is more [W]."""
        radiation = float(self.patches.sum())
        return max(abs(float(self.cells.sum() + self.zones.sum()) + radiation), abs(radiation))

    @property
    def residual(self) -> float:
        """Σ|left over| as a share of the heat supplied."""
        return self.left / max(self.balance.heat_in, 1e-9)


def _find(heats: Sequence[Any], kind: type[Kind]) -> Kind | None:
    return next((heat for heat in heats if isinstance(heat, kind)), None)


def evaluate(system: System, state: State) -> Flows:
    """Every flow at a state: conduction + surfaces + cavity − water is what is left over in each cell."""
    heats = tuple(term.settle(state) for term in system.terms)
    cells = np.zeros(len(state.temperature))
    for term, heat in zip(system.terms, heats, strict=True):
        cells += term.sign * term.flow(heat, state)
    cavity = _find(heats, CavityHeat)
    zones, patches = (np.empty(0), np.empty(0)) if cavity is None else (cavity.zones, cavity.patches)
    return Flows(heats, cells, zones, patches, _balance(system, heats))


def _balance(system: System, heats: tuple[Any, ...]) -> Balance:
    """Heat by path: what feeds is supplied, what drains is delivered."""
    supplied: dict[str, float] = {}
    delivered: dict[str, float] = {}
    for term, heat in zip(system.terms, heats, strict=True):
        book = supplied if term.sign == FEEDS else delivered
        for path, flow in term.paths(heat).items():
            book[path] = book.get(path, 0.0) + flow
    return Balance(supplied, delivered)
