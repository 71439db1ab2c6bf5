"""Wall faces: where air meets a solid, a sheet or a side of the domain, and the heat that passes there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import SIDES, Domain, axis_slice
from sim.machine.brief import Brief

Array = NDArray[np.float64]
Integers = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class WallFaces(Brief):
    """All wall faces of a domain, each seen from its air cell. A sheet has two faces a cell face.

    Attributes
    ----------
    cell : (n, 3) int
        Air cell in front of the wall.
    side : (n,) int
        Side of that air cell on which the wall lies (0..5 in the order of SIDES).
    area : (n,) [m²]
        Of the solid share of the face.
    distance : (n,) [m]
        From the centre of the air cell to the wall.
    group : (n,) int
        0..5 for the sides of the domain, 6 + n for part number n + 1.
    names : tuple of str
        Names of the groups.
    """

    cell: Integers
    side: Integers
    area: Array
    distance: Array
    group: Integers
    names: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of wall faces."""
        return self.area.size

    def centres(self, domain: Domain) -> Array:
        """Middle of every face (n, 3) [m]."""
        middle = np.column_stack([c[self.cell[:, a]] for a, c in enumerate(domain.centres)])
        axis, sign = self.side // 2, 2.0 * (self.side % 2) - 1.0
        middle[np.arange(self.count), axis] += sign * self.distance
        return middle

    def select(self, name: str) -> NDArray[np.bool_]:
        """Mask (n,) of the faces of one side or part."""
        if name not in self.names:
            raise ValueError(f"no wall {name!r}; there are {', '.join(self.names)}")
        return self.group == self.names.index(name)

    def temperatures(self, given: Mapping[str, object]) -> Array:
        """Temperature of every face (n,) [K], NaN where adiabatic, from values by side or part name.

        A value is a number, None (adiabatic) or an array with one entry a face of that group.
        """
        result = np.full(self.count, np.nan)
        for name, value in given.items():
            if value is not None:
                result[self.select(name)] = value
        return result


def find_walls(domain: Domain) -> WallFaces:
    """Every wall face of the domain; planes of symmetry are not walls."""
    found = [_side_walls(domain, axis, upper) for axis in range(3) for upper in (0, 1)]
    cell, side, area, distance, group = (np.concatenate(columns) for columns in zip(*found, strict=True))
    return WallFaces(cell, side, area, distance, group, (*SIDES, *domain.parts))


def _side_walls(domain: Domain, axis: int, upper: int) -> tuple[Integers, Integers, Array, Array, Integers]:
    """Wall faces on one side of the air cells."""
    faces = axis_slice(axis, slice(1, None) if upper else slice(None, -1))
    border = axis_slice(axis, slice(-1, None) if upper else slice(None, 1))
    group = 5 + _part_behind(domain, axis, upper) + domain.sheet[axis][faces].astype(np.intp)
    group[border] = 2 * axis + upper
    closed = 1.0 - domain.openness[axis][faces]
    if domain.slip[2 * axis + upper]:
        closed[border] = 0.0
    cell = np.argwhere(domain.air & (closed > 0.0))
    at = tuple(cell.T)
    width = domain.widths[axis][cell[:, axis]]
    area = closed[at] * domain.volumes[at] / width
    return cell, np.full(len(cell), 2 * axis + upper), area, 0.5 * width, group[at]


def _part_behind(domain: Domain, axis: int, upper: int) -> Integers:
    """Number of the solid part beyond one side of every cell, 0 where there is none."""
    behind = np.zeros(domain.shape, np.intp)
    here, beyond = axis_slice(axis, slice(None, -1)), axis_slice(axis, slice(1, None))
    if upper:
        behind[here] = domain.solid[beyond]
    else:
        behind[beyond] = domain.solid[here]
    return behind


def heat_flow(walls: WallFaces, wall_temperature: Array, temperature: Array, conductivity: float) -> Array:
    """Heat flow from every wall face into the air (n,) [W]: the half cell's conductance times the difference.

    Zero where the wall is adiabatic. The flow solver heats its cells by exactly these flows.
    """
    conductance = conductivity * walls.area / walls.distance
    difference = wall_temperature - temperature[tuple(walls.cell.T)]
    return conductance * np.where(np.isnan(difference), 0.0, difference)
