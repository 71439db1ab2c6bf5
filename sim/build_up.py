"""The two kinds of build-up, a joist bay and free blocks: what the chain asks of each.

A third kind is a case in `sim.case`, one more class here, and its problem in `sim.problems`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from sim.bay.geometry import Geometry
from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase

if TYPE_CHECKING:
    from sim.airflow.flow import AirProperties
    from sim.bay.cells import Cells
    from sim.case.load import AnyCase
    from sim.solve.steady import Solution


class BuildUp(Protocol):
    """A case as the chain sees it, whatever its kind."""

    @property
    def span(self) -> str:
        """What is modelled, as fields name it."""
        ...

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces."""
        ...

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Sides of the cavity air that are such planes instead of walls."""
        ...

    def air(self, mean: float) -> AirProperties:
        """Properties of its cavity air at a mean temperature [K]."""
        ...

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """Report values of a solution."""
        ...


@dataclass(frozen=True, slots=True)
class BayBuildUp:
    """A joist bay, or one pitch of it."""

    case: Case

    @property
    def span(self) -> str:
        """ "pitch" or "bay"."""
        return self.case.span

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces of the bay."""
        from sim.bay.bay_geometry import build_bay_geometry

        return build_bay_geometry(self.case)

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Both ends of a pitch; of a bay only an open far end."""
        if self.case.span == "pitch":
            return ("y-", "y+")
        return ("y+",) if self.case.bay.far_end == "open" else ()

    def air(self, mean: float) -> AirProperties:
        """Those of real air."""
        from sim.airflow.flow import air_at

        return air_at(mean)

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """What a person wants to know of a bay."""
        from sim.results.bay_report import bay_values

        return bay_values(self.case, geometry, cells, solution)


@dataclass(frozen=True, slots=True)
class BlocksBuildUp:
    """Any rectilinear build-up of boxes whose solids conduct."""

    case: BlocksCase

    @property
    def span(self) -> str:
        """Always "blocks"."""
        return "blocks"

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces as stated."""
        from sim.bay.blocks_geometry import build_blocks_geometry

        return build_blocks_geometry(self.case)

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Those that the case states; the air of blocks ends in walls."""
        return tuple(self.case.air.symmetry)

    def air(self, mean: float) -> AirProperties:
        """Properties that the case states, those of real air in place of what it does not state."""
        from sim.airflow.flow import air_like
        from sim.case.blocks_air import stated_properties

        stated = self.case.air
        return air_like(stated.mean_temperature or mean, **stated_properties(stated))

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """Flows, surfaces and probes."""
        from sim.results.blocks_report import blocks_values

        return blocks_values(geometry, cells, solution)


def build_up(case: AnyCase) -> BuildUp:
    """The build-up that a case describes."""
    return BayBuildUp(case) if isinstance(case, Case) else BlocksBuildUp(case)
