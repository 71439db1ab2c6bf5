"""The discrete problem: conduction between cells plus the terms that feed and drain them.

Everything is a plain array or a frozen value made of arrays, so the solvers know nothing of bays. Terms:

    surfaces   heat from outer faces to what they face          (room, below, edges)
    cavity     heat between cavity walls, zone air and patches  (None without cavity)
    water      heat from the water in tubes to the tube cells
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from sim.physics.cavity import Openings, Patches, Walls
from sim.physics.surroundings import SurfaceLaw

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Conduction:
    """Face conductances [W/K] on the three axes and the cells that take part."""

    gx: Array
    gy: Array
    gz: Array
    active: NDArray[np.bool_]

    @property
    def faces(self) -> tuple[Array, Array, Array]:
        """The three arrays, in axis order."""
        return self.gx, self.gy, self.gz


@dataclass(frozen=True, slots=True)
class Surface:
    """Outer faces under one law.

    `cell` flat index, half-cell `conductance` [W/K], `area` [m²] and `centre` [m], all over the faces (n,); they
    all look to one `side` at something of `ambient` temperature [K] (None: a stated flux).
    """

    path: str
    side: int
    cell: Indices
    conductance: Array
    area: Array
    law: SurfaceLaw
    ambient: float | None
    centre: Array


@dataclass(frozen=True, slots=True)
class Cavity:
    """Walls, their feet as a matrix (faces, cells), zones, openings and patches.

    `cell` (n, 3), `body`, `side` and `centre` [m] tell which solid face each wall is; `lost_rays` is the share of
    traced radiation that met no wall.
    """

    walls: Walls
    foot: sparse.csr_array
    zone_names: tuple[str, ...]
    openings: Openings
    patches: Patches
    cell: NDArray[np.int32]
    body: NDArray[np.int16]
    side: NDArray[np.int8]
    centre: Array
    lost_rays: float

    @property
    def zone_count(self) -> int:
        """How many zones the air is divided into (0 with still air)."""
        return len(self.zone_names) if np.any(self.walls.zone >= 0) else 0


@dataclass(frozen=True, slots=True)
class Supply:
    """Water for one or more runs in series: [K], [kg/s] or circuit drop [K], [m], glycol share."""

    supply: float
    flow: float | None
    drop: float | None
    circuit_length: float
    glycol: float


@dataclass(frozen=True, slots=True)
class Run:
    """One straight tube: its cells and how they divide the tube's outer surface.

    `cell` flat index (m,), `segment` (m,) numbers the slices in flow direction, `share` (m,) sums to 1 in each
    segment, `length` (s,) of each segment [m], `position` (s,) along the axis [m]. A `temperature` marks an
    isothermal tube; otherwise `supply` feeds it after the run numbered `after` (None: first).
    """

    name: str
    cell: Indices
    segment: Indices
    share: Array
    length: Array
    position: Array
    outer_diameter: float
    inner_diameter: float | None
    conductivity: float
    temperature: float | None
    supply: Supply | None
    after: int | None


@dataclass(frozen=True, slots=True)
class System:
    """Conduction and its terms, with reservoir temperatures to start from [K]."""

    shape: tuple[int, int, int]
    conduction: Conduction
    surfaces: tuple[Surface, ...]
    cavity: Cavity | None
    runs: tuple[Run, ...]

    def reservoirs(self) -> list[float]:
        """Every fixed temperature in the problem [K]."""
        known = [surface.ambient for surface in self.surfaces if surface.ambient is not None]
        known += [run.temperature for run in self.runs if run.temperature is not None]
        return known + [run.supply.supply for run in self.runs if run.supply is not None]

    def __str__(self) -> str:
        cells = int(self.conduction.active.sum())
        lines = [f"System: {cells:,} unknown temperatures on {' × '.join(map(str, self.shape))} cells"]
        lines += [f"├── surface {s.path}: {len(s.cell):,} faces, {s.law}" for s in self.surfaces]
        if self.cavity is not None:
            patches = len(self.cavity.patches.emitting_area)
            lines.append(
                f"├── cavity: {len(self.cavity.walls.area):,} wall faces in {patches} radiation patches, "
                f"{self.cavity.zone_count} air zones"
            )
        lines.append(f"└── {len(self.runs)} tube runs")
        return "\n".join(lines)
