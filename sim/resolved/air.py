"""The air that belongs to a solution, as a value: its means, the evidence for them, and its companion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.frames import Frames
from sim.airflow.layers import cell_shares, plume_shares
from sim.airflow.walls import WallFaces
from sim.resolved.contact import FaceOverlaps
from sim.resolved.means import NO_MIRROR, Evidence, Round
from sim.resolved.mirror import Mirror
from sim.solver.steady import Solution

Array = NDArray[np.float64]

RoundListener = Callable[[Round, Evidence, float], None]
"""Hears of every round: the round, the evidence so far and the seconds spent."""


@dataclass(frozen=True, slots=True, eq=False)
class ResolvedAir:
    """The air that belongs to a solution: its grid, its mean and last flow, and the evidence.

    `starts`: the rounds of every start of the flow; `now` and `frames` are the first one's, means those of all.
    `heat` (air faces,) [W] and `wall` (air faces,) [K] are means over the window and, where the build-up is its own
    mirror image, over both halves; `lopsided` is what the solids answer without the latter. `batches` are what they
    answer to the means of the window's pieces, whose spread is the standard error of any number; `thinner` what they
    answer to films without what the mesh may have added, `other_rays` to view factors by other rays; `coarser` is the
    same on larger cells, without which a share `unseen` of a floor's ripple stays open; `too_coarse`: they are too few.
    `mirror`: its images.
    """

    domain: Domain
    walls: WallFaces
    contact: FaceOverlaps
    properties: AirProperties
    mean: Flow
    now: Flow
    heat: Array
    wall: Array
    starts: tuple[tuple[Round, ...], ...]
    frames: Frames
    evidence: Evidence
    stop_reason: str
    seconds: float
    batches: tuple[Solution, ...] = ()
    thinner: Solution | None = None
    lopsided: Solution | None = None
    other_rays: tuple[Solution, ...] = ()
    coarser: Companion | None = None
    unseen: float = 0.0
    too_coarse: bool = False
    mirror: Mirror = NO_MIRROR

    @property
    def rounds(self) -> tuple[Round, ...]:
        """Those of the first start."""
        return self.starts[0]

    @property
    def mean_temperature(self) -> float:
        """Volume mean of the air's mean temperature [K]."""
        inside = self.domain.air
        return float(np.average(self.mean.temperature[inside], weights=self.domain.volumes[inside]))

    @property
    def cell_shares(self) -> Array:
        """Cell over layer thickness at every wall face (n,) [-]; see `sim.airflow.layers`."""
        mean, k = self.mean.temperature, self.properties.conductivity
        return cell_shares(self.domain, self.walls, self.heat, self.wall, mean, k)

    @property
    def plume_shares(self) -> Array:
        """Share of the carried heat that wider cells would lose, of wall faces that send plumes (n,) [-], else 0."""
        return plume_shares(self.domain, self.walls, self.heat, self.mean)

    def __str__(self) -> str:
        return (
            f"Resolved air: {self.stop_reason} after {self.now.steps:,} steps, {self.seconds:.0f} s\n"
            f"{self.domain}\n{self.evidence}"
        )


@dataclass(frozen=True, slots=True, eq=False)
class Companion:
    """The companion's solids and air."""

    solution: Solution
    air: ResolvedAir
