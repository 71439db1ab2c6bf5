"""The two kinds of build-up, a joist bay and free blocks: what the chain asks of each.

A third kind is a case in `sim.case`, one more class here, and its problem in `sim.problems`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from sim.bay.geometry import BayPath, Geometry
from sim.bay.grid import Fineness, fineness_from_word
from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.taught import uses_learned_films

if TYPE_CHECKING:
    from sim.airflow.flow import AirProperties
    from sim.bay.cells import Cells
    from sim.case.load import AnyCase
    from sim.resolved.domain import AirSizes
    from sim.resolved.suited import CavityOutlook
    from sim.resolved.thinner import FilmBound
    from sim.solver.steady import Solution


USUAL_AIR = 300.0
"""Mean temperature of air where a case states none [K]."""


class BuildUp(Protocol):
    """A case as the chain sees it, whatever its kind."""

    def said_of_fields(self) -> Mapping[str, object]:
        """What its stored fields say of the case: "span", and of a room above the floor "room" [K]."""
        ...

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces."""
        ...

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Sides of the cavity air that are such planes instead of walls."""
        ...

    def mirrors(self) -> tuple[int, ...]:
        """Axes across which its two halves may mirror each other, so that means of computed air use both."""
        ...

    def starts(self) -> int:
        """How many starts of its computed air, unlike in their random warmth, are averaged."""
        ...

    def floor_path(self) -> str:
        """Path of the surface whose ripple people feel; empty where there is none."""
        ...

    def air(self, mean: float) -> AirProperties:
        """Properties of its cavity air at a mean temperature [K]."""
        ...

    def takes_learned_films(self) -> bool:
        """Whether the air in its cavity follows the learned films."""
        ...

    def film_loss(self) -> FilmBound:
        """Bound on what the mesh of its computed air may do to films, see `sim.resolved.thinner`."""
        ...

    def unseen_ripple(self) -> float:
        """Share of the floor's ripple that layers at walls do not see of what the mesh costs."""
        ...

    def scheme(self) -> str:
        """Advection of heat in its computed air, "bounded" or "central"."""
        ...

    def air_sizes(self, plane: bool) -> AirSizes:
        """Cells of its cavity air when that is resolved; `plane`: the flow has two dimensions."""
        ...

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """Report values of a solution."""
        ...

    def films(self, cells: Cells, solution: Solution, air: float) -> Mapping[str, float]:
        """Report values of its bodies' films against computed air of a mean temperature [K]."""
        ...


@dataclass(frozen=True, slots=True)
class BayBuildUp:
    """A joist bay, or one pitch of it."""

    case: Case

    def said_of_fields(self) -> Mapping[str, object]:
        """One pitch or the whole bay, and the room above."""
        return {"span": self.case.span, "room": float(self.case.room.temperature)}

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces of the bay."""
        from sim.bay.bay_geometry import build_bay_geometry

        return build_bay_geometry(self.case)

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Both ends of a pitch; of a bay only an open far end."""
        if self.case.span == "pitch":
            return ("y-", "y+")
        return ("y+",) if self.case.bay.far_end == "open" else ()

    def mirrors(self) -> tuple[int, ...]:
        """Across and along; whether the halves are alike is looked at."""
        return (0, 1)

    def starts(self) -> int:
        """Two: plumes wander slowly, and neither start knows of the other."""
        return 2

    def floor_path(self) -> str:
        """The floor's."""
        return BayPath.UP

    def air(self, mean: float) -> AirProperties:
        """Those of real air."""
        from sim.airflow.flow import air_at

        return air_at(mean)

    def takes_learned_films(self) -> bool:
        """Where it lies within what they were taught."""
        return uses_learned_films(self.case)

    def film_loss(self) -> FilmBound:
        """That of bays."""
        from sim.resolved.thinner import IN_BAYS

        return IN_BAYS

    def unseen_ripple(self) -> float:
        """By how wide the cells near walls are, where tubes or plates hang in the air or no plate spreads the heat.

        None where a batt lies tight against the subfloor: then no air lies between tube and floor.
        """
        from sim.resolved.domain import GROWTH
        from sim.resolved.unseen import unseen_share

        plates, cavity = self.case.plates, self.case.cavity
        if cavity.insulation is not None and cavity.air_gap == 0.0:
            return 0.0
        sizes = self.air_sizes(False)
        fastened = plates is not None and not plates.hung
        return unseen_share(sizes.wall * sizes.growth / GROWTH, fastened, self._hung_flat())

    def scheme(self) -> str:
        """What keeps thin plumes in bounds."""
        return "bounded"

    def air_sizes(self, plane: bool) -> AirSizes:
        """As they suit the cavity, as far as not stated."""
        from sim.resolved.domain import air_sizes
        from sim.resolved.suited import bay_sizes

        word, air = self.case.mesh.fineness, self.case.air
        suited = bay_sizes(word, self._cavity(), air_sizes(word))
        stated = air_sizes(word, air.cell or suited.cell, air.wall_cell or suited.wall)
        return replace(suited, cell=stated.cell, wall=stated.wall)

    def _hung_flat(self) -> bool:
        """Whether plates hang flat in the air."""
        plates = self.case.plates
        return plates is not None and plates.hung and plates.orientation == "flat"

    def _cavity(self) -> CavityOutlook:
        """What is known of the air before anything is solved."""
        from sim.bay.bay_frame import build_frame
        from sim.resolved.suited import CavityOutlook

        case, frame = self.case, build_frame(self.case)
        low, high = frame.insulation or (-frame.depth, -frame.depth)
        height = -high if high < 0.0 else frame.depth + low
        water, room, plates = case.water.supply, case.room.temperature, case.plates
        gap = plates.drop if plates and plates.hung and plates.drop else None
        plate = min(plates.width, plates.length) if plates else None
        extent = (frame.clear[1] - frame.clear[0], frame.along[1] - frame.along[0], height or frame.depth)
        air = self.air(0.5 * (water + room))
        return CavityOutlook(extent, abs(water - room) or 1.0, air, gap, plate, self._hung_flat())

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """What a person wants to know of a bay."""
        from sim.results.bay_report import bay_values

        return bay_values(self.case, geometry, cells, solution)

    def films(self, cells: Cells, solution: Solution, air: float) -> Mapping[str, float]:
        """None: its walls are told by where they lie."""
        return {}


@dataclass(frozen=True, slots=True)
class BlocksBuildUp:
    """Any rectilinear build-up of boxes whose solids conduct."""

    case: BlocksCase

    def said_of_fields(self) -> Mapping[str, object]:
        """That they are of blocks."""
        return {"span": "blocks"}

    def geometry(self) -> Geometry:
        """Boxes, tubes and surfaces as stated."""
        from sim.bay.blocks_geometry import build_blocks_geometry

        return build_blocks_geometry(self.case)

    def planes_of_symmetry(self) -> tuple[str, ...]:
        """Those that the case states; the air of blocks ends in walls."""
        return tuple(self.case.air.symmetry)

    def mirrors(self) -> tuple[int, ...]:
        """None: a flow among blocks may lean to one side for good, and both halves are wanted as they are."""
        return ()

    def starts(self) -> int:
        """One: most such flows become steady, and where several patterns are stable their mean is none of them."""
        return 1

    def floor_path(self) -> str:
        """None."""
        return ""

    def air(self, mean: float) -> AirProperties:
        """Properties that the case states, those of real air in place of what it does not state."""
        from sim.airflow.flow import air_like
        from sim.case.blocks_air import stated_properties

        stated = self.case.air
        return air_like(stated.mean_temperature or mean, **stated_properties(stated))

    def takes_learned_films(self) -> bool:
        """They were taught by bays alone."""
        return False

    def film_loss(self) -> FilmBound:
        """That of squares with layers at rest."""
        from sim.resolved.thinner import free_bound

        return free_bound(self.scheme())

    def unseen_ripple(self) -> float:
        """None: blocks have no floor."""
        return 0.0

    def scheme(self) -> str:
        """As stated."""
        return self.case.air.scheme

    def air_sizes(self, plane: bool) -> AirSizes:
        """As they suit the cavity, as far as not stated."""
        from sim.resolved.domain import air_sizes

        word, air = self.case.mesh.fineness, self.case.air
        usual = air_sizes(word)
        if not (air.cell and air.wall_cell):
            usual = self._suited(word, plane, usual)
        return air_sizes(word, air.cell or usual.cell, air.wall_cell or usual.wall)

    def _suited(self, word: str, plane: bool, usual: AirSizes) -> AirSizes:
        from sim.resolved.suited import CavityOutlook, stated_difference, suited_sizes

        x, y, z = self.case.air_extent
        start = self.case.time and self.case.time.start_temperature
        warmths = (*self.case.stated_temperatures, *([start] if start else []))
        properties = self.air(0.5 * (min(warmths) + max(warmths)) if warmths else USUAL_AIR)
        cavity = CavityOutlook((x, 0.0 if plane else y, z), stated_difference(warmths), properties)
        return suited_sizes(word, cavity, usual)

    def values(self, geometry: Geometry, cells: Cells, solution: Solution) -> Mapping[str, float]:
        """Flows, surfaces and probes."""
        from sim.results.blocks_report import blocks_values

        return blocks_values(geometry, cells, solution)

    def films(self, cells: Cells, solution: Solution, air: float) -> Mapping[str, float]:
        """That of every body at the air."""
        from sim.results.blocks_report import film_values

        return film_values(cells, solution, air)


def build_up(case: AnyCase) -> BuildUp:
    """The build-up that a case describes."""
    return BayBuildUp(case) if isinstance(case, Case) else BlocksBuildUp(case)


def build_geometry(case: AnyCase) -> Geometry:
    """Boxes, tubes and surfaces of a bay case or a blocks case."""
    return build_up(case).geometry()


def mesh_fineness(case: AnyCase) -> Fineness:
    """The mesh sizes that a case asks for: its word, with any stated size in place of the word's."""
    mesh, base = case.mesh, fineness_from_word(case.mesh.fineness)
    stated = (mesh.across, mesh.along, mesh.through)
    across, along, through = (own or usual for own, usual in zip(stated, base.largest, strict=True))
    focus = min([base.focus, *(own / 4 for own in stated if own)])
    layer_cells = mesh.layer_cells or base.layer_cells
    return replace(base, largest=(across, along, through), focus=focus, layer_cells=layer_cells)
