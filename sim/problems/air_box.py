"""From a case of air alone to the flow problem: grid, solids, sheets, wall temperatures and air."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import AirBox
from sim.airflow.domain import SIDES, Domain, Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow, air_like, air_of_numbers
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import WallFaces, find_walls, heat_flow
from sim.bay.grid import SNAP, fill_interval
from sim.case.blocks_air import stated_properties
from sim.case.blocks_air_rules import given_temperatures
from sim.machine.brief import Brief

if TYPE_CHECKING:
    from sim.case.blocks_air import AirSheet, BlocksAir
    from sim.case.blocks_case import BlocksCase
    from sim.case.blocks_parts import Face
    from sim.case.blocks_tube import BlockTube

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CELLS = {"coarse": 20, "normal": 32, "fine": 48, "finest": 64}
"""Per mesh word: largest cells across the shortest extent of the air."""

WALL_SHARE = 1.0 / 3.0
"""Cell at walls over the largest cell, where neither is stated."""

VOID = "void"
"""Name of what no box covers; it lets no heat through."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class NamedFaces(Brief):
    """Wall faces that a report names together.

    Attributes
    ----------
    name : str
    temperature : float [K]
    faces : (n,) bool
        Which of the box's wall faces.
    plane : bool
        Whether it is one of the outer planes of the air, not a part within.
    area : float [m²]
        Of a round tube its round one, not that of the steps it is drawn with.
    """

    name: str
    temperature: float
    faces: Mask
    plane: bool
    area: float


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class AirProblem(Brief):
    """A case of air alone made ready for the flow solver.

    Attributes
    ----------
    box : AirBox
    surfaces : tuple of NamedFaces
        Walls of stated temperature; all others are adiabatic.
    length : float [m]
        In Nusselt and Rayleigh numbers.
    difference : float [K]
        Warmest less coolest wall.
    dimensionless : bool
        Whether lengths, temperatures and times are in L, ΔT and L²/α.
    """

    box: AirBox
    surfaces: tuple[NamedFaces, ...]
    length: float
    difference: float
    dimensionless: bool

    def heat_flow(self, flow: Flow) -> Array:
        """Heat flow from every wall face into the air (n,) [W]."""
        return heat_flow(self.box.walls, self.box.wall_temperature, flow.temperature, self.box.air.conductivity)

    def towards(self, surface: NamedFaces) -> float:
        """1 for a surface in the warmer half of all temperatures, which heats the air as a rule; −1 for others."""
        given = [s.temperature for s in self.surfaces]
        return 1.0 if surface.temperature >= 0.5 * (min(given) + max(given)) else -1.0

    def nusselt(self, flows: Array, surface: NamedFaces) -> float:
        """Mean Nusselt number [-] of a surface, q L / (k ΔT), from the flow of every wall face (n,) [W].

        q is the heat flux into the air for surfaces of the warmer half, out of it for others.
        """
        flux = float(flows[surface.faces].sum()) / surface.area
        return self.towards(surface) * flux * self.length / (self.box.air.conductivity * self.difference)

    @property
    def rayleigh(self) -> float:
        """Rayleigh number [-] of length and difference."""
        return self.box.air.rayleigh(self.length, self.difference)

    def __str__(self) -> str:
        walls = ", ".join(f"{s.name} {s.temperature:.6g} K" for s in self.surfaces)
        numbers = f"Rayleigh {float(f'{self.rayleigh:.4g}'):,.0f}, Prandtl {self.box.air.prandtl:.3g}"
        return f"{self.box.domain}\n{self.box.air}\nwalls {walls}, others adiabatic\n{numbers}"


def build_grids(case: BlocksCase, refinement: float = 1.0) -> tuple[AirProblem, ...]:
    """The grids on which the flow of a case is followed one after the other, each twice as fine, its own last.

    `refinement` divides all cell sizes [-].
    """
    return tuple(build_air_problem(case, 2.0**coarser / refinement) for coarser in range(case.air.grids - 1, -1, -1))


def build_air_problem(case: BlocksCase, factor: float = 1.0) -> AirProblem:
    """Grid and flow problem of a case of air alone.

    Parameters
    ----------
    case : BlocksCase
        One whose `air_alone` is true.
    factor : float
        All cell sizes are multiplied by it [-].
    """
    edges = air_edges(case, factor)
    domain = build_domain(
        edges, sheets=[_sheet(s, n, case) for n, s in enumerate(case.sheets)], slip=case.air.symmetry,
        masks=_solids(case, edges),
    )  # fmt: skip
    walls = find_walls(domain)
    surfaces = tuple(_surfaces(case, domain, walls))
    warm = np.full(walls.count, np.nan)
    for surface in surfaces:
        warm[surface.faces] = surface.temperature
    given = given_temperatures(case) or [case.air.start_temperature]
    air = _air(case.air, 0.5 * (min(given) + max(given)))
    box = AirBox(domain, air, walls, warm, case.air.scheme, VREMAN if case.air.subgrid else 0.0, case.air.device)
    difference = (max(given) - min(given)) or 1.0
    return AirProblem(box, _totals(surfaces), case.air_length, difference, case.air.rayleigh is not None)


def _air(air: BlocksAir, middle: float) -> AirProperties:
    """Properties of air at the mean temperature, with what the case states in their place."""
    if air.rayleigh is not None:
        return air_of_numbers(air.rayleigh, air.prandtl)
    return air_like(air.mean_temperature or middle, **stated_properties(air))


def air_edges(case: BlocksCase, factor: float = 1.0) -> tuple[Array, Array, Array]:
    """Cell edges of the air on the three axes [m]: finest at walls and at the edges of parts.

    Parameters
    ----------
    factor : float
        All cell sizes are multiplied by it [-].
    """
    x, y, z = (_axis_edges(case, axis, factor) for axis in range(3))
    return x, y, z


def _sizes(case: BlocksCase, axis: int) -> tuple[float, float]:
    """Largest cell along an axis and cell at the walls across it [m]."""
    axes, air = (0, 2) if case.air.two_dimensional else (0, 1, 2), case.air
    shortest = min(case.extent[a][1] - case.extent[a][0] for a in axes)
    cell = air.cells[axis] if air.cells else air.cell or shortest / CELLS[case.mesh.fineness]
    wall = air.wall_cells[axis] if air.wall_cells else air.wall_cell or WALL_SHARE * cell
    return cell, min(wall, cell)


def _axis_edges(case: BlocksCase, axis: int, factor: float) -> Array:
    cell, wall = (factor * size for size in _sizes(case, axis))
    low, high = case.extent[axis]
    if axis == 1 and case.air.two_dimensional:
        return np.array([low, high])
    planes = _merged([low, high, *_planes(case, axis)])
    slip = [SIDES[2 * axis + upper] in case.air.symmetry for upper in (0, 1)]
    anchors = [(p, wall) for p in planes if not (slip[0] and p == planes[0]) and not (slip[1] and p == planes[-1])]
    growth = case.air.growth * factor
    pairs = zip(planes, planes[1:], strict=False)
    pieces = [fill_interval(pair, cell, anchors, 2 if len(planes) == 2 else 1, growth) for pair in pairs]
    return np.concatenate([np.array(planes[:1]), *(piece[1:] for piece in pieces)])


def _planes(case: BlocksCase, axis: int) -> list[float]:
    """Every coordinate at which something begins or ends."""
    name, found = "xyz"[axis], []
    for box in case.boxes:
        found += getattr(box, name)
    for face in case.faces:
        found += [face.at] if face.axis == name else getattr(face, name) or ()
    for sheet in case.sheets:
        found += [sheet.at] if sheet.axis == name else getattr(sheet, name) or ()
    for tube in case.tubes:
        found += _tube_span(tube, axis)
    return found


def _tube_span(tube: BlockTube, axis: int) -> tuple[float, float]:
    if "xyz"[axis] == tube.axis:
        return tube.along
    centre = tube.centre[[a for a in "xyz" if a != tube.axis].index("xyz"[axis])]
    return centre - 0.5 * tube.outer_diameter, centre + 0.5 * tube.outer_diameter


def _merged(planes: list[float]) -> list[float]:
    """Sorted coordinates without near-duplicates."""
    rising = sorted(planes)
    return [rising[0], *(b for a, b in zip(rising, rising[1:], strict=False) if b - a > SNAP)]


def _solids(case: BlocksCase, edges: tuple[Array, Array, Array]) -> dict[str, Mask]:
    """Cells of every solid part by its name, tubes first: they lie over boxes, and a later box over an earlier one."""
    x, y, z = np.meshgrid(*(0.5 * (e[1:] + e[:-1]) for e in edges), indexing="ij", sparse=True)
    body = np.full(np.broadcast_shapes(x.shape, y.shape, z.shape), -1)
    for index, box in enumerate(case.boxes):
        inside = (_within(x, box.x)) & (_within(y, box.y)) & (_within(z, box.z))
        body[inside] = index
    masks = {_tube_name(case, index): _round(tube, (x, y, z)) for index, tube in enumerate(case.tubes)}
    for index, box in enumerate(case.boxes):
        if not box.air:
            name = _box_name(case, index)
            masks[name] = masks.get(name, False) | (body == index)
    masks[VOID] = body < 0
    return {name: mask for name, mask in masks.items() if mask.any()}


def _within(values: Array, span: tuple[float, float]) -> Mask:
    inside: Mask = (values > span[0]) & (values < span[1])
    return inside


def _round(tube: BlockTube, centres: tuple[Array, Array, Array]) -> Mask:
    """Cells whose centres lie in a round tube: stepped, so its wall is up to 4/π larger than the round one."""
    axis = "xyz".index(tube.axis)
    a, b = (centres[n] for n in range(3) if n != axis)
    inside: Mask = np.hypot(a - tube.centre[0], b - tube.centre[1]) < 0.5 * tube.outer_diameter
    return inside & _within(centres[axis], tube.along)


def _box_name(case: BlocksCase, index: int) -> str:
    return case.boxes[index].name or f"box {index + 1}"


def _tube_name(case: BlocksCase, index: int) -> str:
    return case.tubes[index].name or f"tube {index + 1}"


def _sheet_name(sheet: AirSheet, index: int) -> str:
    return sheet.name or f"sheet {index + 1}"


def _sheet(sheet: AirSheet, index: int, case: BlocksCase) -> Sheet:
    """A sheet as the flow solver takes it."""
    x, y, z = (getattr(sheet, name) or span for name, span in zip("xyz", case.extent, strict=True))
    axis = "xyz".index(sheet.axis)
    return Sheet(_sheet_name(sheet, index), axis, sheet.at, (x, y, z), sheet.open_area, sheet.loss)


def _surfaces(case: BlocksCase, domain: Domain, walls: WallFaces) -> Iterator[NamedFaces]:
    """Everything that has a temperature, faces last: they may lie on what stands behind the air."""
    parts: list[tuple[str, Any]] = [(_box_name(case, n), box) for n, box in enumerate(case.boxes)]
    parts += [(_tube_name(case, n), tube) for n, tube in enumerate(case.tubes)]
    parts += [(_sheet_name(sheet, n), sheet) for n, sheet in enumerate(case.sheets)]
    for name, part in parts:
        if part.temperature is not None and name in walls.names:
            faces = walls.select(name)
            round_one = hasattr(part, "outer_diameter")
            area = _round_area(part, walls, faces) if round_one else float(walls.area[faces].sum())
            yield NamedFaces(name, part.temperature, faces, False, area)
    centres = walls.centres(domain)
    for face in (face for face in case.faces if not face.adiabatic):
        faces = _on_face(face, walls, centres)
        area = float(walls.area[faces].sum())
        yield NamedFaces(face.group or face.name or face.on, float(face.temperature or 0.0), faces, True, area)


def _totals(surfaces: tuple[NamedFaces, ...]) -> tuple[NamedFaces, ...]:
    """Surfaces of one name as one, at their mean temperature: faces of a group are reported as one total."""
    names = dict.fromkeys(surface.name for surface in surfaces)
    return tuple(_total([surface for surface in surfaces if surface.name == name]) for name in names)


def _total(own: list[NamedFaces]) -> NamedFaces:
    areas = [surface.area for surface in own]
    if len(own) == 1 or not sum(areas):
        return own[0]
    mean = float(np.average([surface.temperature for surface in own], weights=areas))
    faces = np.any([surface.faces for surface in own], axis=0)
    return NamedFaces(own[0].name, mean, faces, all(surface.plane for surface in own), sum(areas))


def _round_area(tube: BlockTube, walls: WallFaces, faces: Mask) -> float:
    """Area of a tube at the air [m²], from that of its steps: a stepped outline is as long as the square round it."""
    ends = faces & (walls.side // 2 == "xyz".index(tube.axis))
    return float(walls.area[ends].sum() + 0.25 * np.pi * walls.area[faces & ~ends].sum())


def _on_face(face: Face, walls: WallFaces, centres: Array) -> Mask:
    """Wall faces on the plane and within the rectangle of a face."""
    axis = "xyz".index(face.axis)
    found: Mask = (walls.side == SIDES.index(face.on)) & (np.abs(centres[:, axis] - face.at) < 2 * SNAP)
    for name in "xyz":
        if (span := getattr(face, name)) is not None:
            found &= _within(centres[:, "xyz".index(name)], span)
    return found


def air_outlines(case: BlocksCase) -> list[dict[str, object]]:
    """Name, kind and box [x0, x1, y0, y1, z0, z1] [m] of every solid, tube and sheet, as run folders keep them."""
    parts = [(_box_name(case, n), "block", [box.x, box.y, box.z]) for n, box in enumerate(case.boxes) if not box.air]
    for n, tube in enumerate(case.tubes):
        parts.append((_tube_name(case, n), "tube", [_tube_span(tube, axis) for axis in range(3)]))
    for n, sheet in enumerate(case.sheets):
        spans = [getattr(sheet, name) or span for name, span in zip("xyz", case.extent, strict=True)]
        spans["xyz".index(sheet.axis)] = (sheet.at, sheet.at)
        parts.append((_sheet_name(sheet, n), "sheet", spans))
    flat = [(name, kind, [float(end) for span in spans for end in span]) for name, kind, spans in parts]
    return [{"name": name, "kind": kind, "box": box} for name, kind, box in flat]
