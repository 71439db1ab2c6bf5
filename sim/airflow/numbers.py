"""What tables of natural convection list, read off a flow: wall fluxes, peaks on middle lines, stream function."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import AirBox
from sim.airflow.domain import Domain
from sim.airflow.flow import Flow

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Peak:
    """A value and where it is.

    Attributes
    ----------
    value : float
    place : (3,) tuple [m]
    """

    value: float
    place: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class WallNumbers:
    """Heat from some wall faces into the air.

    Attributes
    ----------
    area : float [m²]
    heat_flow : float [W]
    highest, lowest : Peak
        Heat flux [W/m²] into the air: of the walls' faces, or along them where they form one line.
    """

    area: float
    heat_flow: float
    highest: Peak
    lowest: Peak

    @property
    def heat_flux(self) -> float:
        """Mean heat flux into the air [W/m²]."""
        return self.heat_flow / self.area


def wall_flux(box: AirBox, temperature: Array) -> Array:
    """Heat flux from every wall face into the air (n,) [W/m²], as closely as it can be known locally.

    By a x + c x³ through the wall and the two cells in front of it: beside a wall of even temperature air is at rest
    and ∂²T/∂x² vanishes in the mean. By the half cell alone where the second cell is not air. Zero where the wall is
    adiabatic. Its sum differs a little from `AirBox.heat_flow`, which is the heat that the cells receive.
    """
    walls, domain = box.walls, box.domain
    first = temperature[tuple(walls.cell.T)]
    near, far, beyond = walls.distance, *_second_cell(box, temperature)
    given = np.where(np.isnan(box.wall_temperature), first, box.wall_temperature)
    half = (given - first) / near
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = ((given - first) * far**3 - (given - beyond) * near**3) / (near * far * (far**2 - near**2))
    return box.air.conductivity * np.where(np.isfinite(slope) & domain.air[tuple(walls.cell.T)], slope, half)


def _second_cell(box: AirBox, temperature: Array) -> tuple[Array, Array]:
    """(distance from the wall [m], temperature [K]) of the second cell in front of every wall face, NaN if not air."""
    walls, domain = box.walls, box.domain
    axis, inward = walls.side // 2, 1 - 2 * (walls.side % 2)
    cell = walls.cell.copy()
    rows = np.arange(walls.count)
    cell[rows, axis] += inward
    inside = (cell[rows, axis] >= 0) & (cell[rows, axis] < np.array(domain.shape)[axis])
    clipped = np.clip(cell, 0, np.array(domain.shape) - 1)
    # no sheet may lie between the two cells
    face = np.maximum(walls.cell, clipped)
    open_way = np.array([domain.openness[a][tuple(f)] == 1.0 for a, f in zip(axis, face, strict=True)], bool)
    usable = inside & domain.air[tuple(clipped.T)] & open_way
    width = np.array([domain.widths[a][c] for a, c in zip(axis, clipped[rows, axis], strict=True)])
    far = np.where(usable, 2.0 * walls.distance + 0.5 * width, np.nan)
    return far, np.where(usable, temperature[tuple(clipped.T)], np.nan)


def wall_numbers(box: AirBox, temperature: Array, heat_flow: Array, faces: Mask) -> WallNumbers:
    """Area, heat and extremes of flux of some wall faces.

    Parameters
    ----------
    temperature : (nx, ny, nz) [K]
    heat_flow : (n,) [W]
        Of every wall face, from the same flow.
    faces : (n,) bool
        Which of them.
    """
    flux, centres = wall_flux(box, temperature)[faces], box.walls.centres(box.domain)[faces]
    along = _line_axis(box, faces)
    if along is None:
        highest, lowest = _extreme(flux, centres), _extreme(-flux, centres)
    else:
        order = np.argsort(centres[:, along])
        ends = box.domain.edges[along][[0, -1]]
        highest, lowest = (_along_line(sign * flux[order], centres[order], along, ends) for sign in (1.0, -1.0))
    lowest = Peak(-lowest.value, lowest.place)
    return WallNumbers(float(box.walls.area[faces].sum()), float(heat_flow[faces].sum()), highest, lowest)


def symmetry_line(box: AirBox, temperature: Array, faces: Mask) -> float | None:
    """Mean heat flux into the air [W/m²] on the line in which an x or z wall meets a y plane of symmetry.

    By the even parabola through the two rows of faces beside that plane, if there is one and the flow is
    three-dimensional; else None.
    """
    domain, side = box.domain, box.walls.side[faces]
    upper = next((u for u in (1, 0) if domain.slip[2 + u]), None)
    if upper is None or domain.shape[1] < 3 or np.unique(side).size != 1 or side[0] // 2 == 1:
        return None
    cell, flux, length = box.walls.cell[faces], wall_flux(box, temperature)[faces], box.walls.area[faces]
    rows = (-1, -2) if upper else (0, 1)
    plane = domain.edges[1][-1 if upper else 0]
    means = []
    for row in rows:
        at = cell[:, 1] == row % domain.shape[1]
        means.append(float(np.average(flux[at], weights=length[at])))
    near, far = ((domain.centres[1][row] - plane) ** 2 for row in rows)
    return means[0] + (means[0] - means[1]) * near / (far - near)


def _extreme(flux: Array, centres: Array) -> Peak:
    x, y, z = map(float, centres[flux.argmax()])
    return Peak(float(flux.max()), (x, y, z))


def _line_axis(box: AirBox, faces: Mask) -> int | None:
    """The axis along which faces of one plane form a single line of at least three, if they do."""
    cells, sides = box.walls.cell[faces], box.walls.side[faces]
    moving = [axis for axis in range(3) if np.ptp(cells[:, axis]) > 0]
    one_line = len(moving) == 1 and np.unique(sides).size == 1 and moving[0] != sides[0] // 2
    return moving[0] if one_line and len(cells) >= 3 else None


def _along_line(flux: Array, centres: Array, along: int, ends: Array) -> Peak:
    """The largest flux along a line: between cells by a parabola, at the ends of the domain by an even one.

    The profile has no slope where the line meets an adiabatic or symmetric side, which is what stands at its ends here.
    """
    places, best = centres[:, along], int(flux.argmax())
    point = centres[best].copy()
    if 0 < best < len(flux) - 1:
        value, point[along] = peak(places, flux)
    else:
        value, end = flux[best], ends[0] if best == 0 else ends[1]
        second = 1 if best == 0 else -2
        near, far = (places[best] - end) ** 2, (places[second] - end) ** 2
        if near < far and abs(places[best] - end) < abs(places[second] - places[best]):
            value += (flux[best] - flux[second]) * near / (far - near)
            point[along] = end
    x, y, z = map(float, point)
    return Peak(float(value), (x, y, z))


def peak(places: Array, values: Array) -> tuple[float, float]:
    """(value, place) of the largest of some values, by the parabola through it and its two neighbours.

    Examples
    --------
    >>> peak(np.array([0.0, 1.0, 3.0]), np.array([0.0, 3.0, 3.0]))
    (4.0, 2.0)
    """
    i = min(max(int(np.argmax(values)), 1), len(values) - 2)
    below, above = places[i - 1] - places[i], places[i + 1] - places[i]
    rise, fall = (values[i - 1] - values[i]) / below, (values[i + 1] - values[i]) / above
    bend = (rise - fall) / (below - above)
    slope = rise - bend * below
    if bend >= 0.0:
        return float(values[i]), float(places[i])
    top = -0.5 * slope / bend
    return float(values[i] + top * (slope + bend * top)), float(places[i] + top)


def middle_line(domain: Domain, flow: Flow, component: int, along: int) -> tuple[Array, Array]:
    """(places [m], velocities [m/s]) of one component on the line through the domain's middle along an axis.

    Interpolated linearly between the lines of the grid beside it; the walls at both ends are included at rest.
    """
    field = flow.velocity[component]
    for axis in (a for a in range(3) if a != along):
        lines = domain.edges[axis] if axis == component else domain.centres[axis]
        middle = 0.5 * (domain.edges[axis][0] + domain.edges[axis][-1])
        at = float(np.interp(middle, lines, np.arange(lines.size)))
        low = min(int(at), max(lines.size - 2, 0))
        share = at - low
        beside = np.take(field, [min(low + 1, lines.size - 1)], axis)
        field = (1.0 - share) * np.take(field, [low], axis) + share * beside
    places, values = domain.centres[along], field.reshape(-1)
    if component == along:
        return domain.edges[along], values
    ends = domain.edges[along]
    at_walls = [0.0 if not domain.slip[2 * along + upper] else values[-upper] for upper in (0, 1)]
    return np.concatenate([ends[:1], places, ends[-1:]]), np.concatenate([at_walls[:1], values, at_walls[1:]])


def fastest(domain: Domain, flow: Flow) -> Peak:
    """Largest speed at cell centres of the air."""
    speed = np.where(domain.air, flow.speed, 0.0)
    i, j, k = np.unravel_index(speed.argmax(), speed.shape)
    x, y, z = domain.centres
    return Peak(float(speed[i, j, k]), (float(x[i]), float(y[j]), float(z[k])))


def mean_speed(domain: Domain, flow: Flow) -> float:
    """Mean speed of the air by volume [m/s]."""
    return float(np.average(flow.speed, weights=domain.volumes * domain.air))


def stream_function(domain: Domain, flow: Flow) -> Array:
    """ψ (nx+1, nz+1) [m²/s] at the corners of a two-dimensional flow: u = ∂ψ/∂z, w = −∂ψ/∂x, 0 at the floor."""
    u = flow.velocity[0][:, 0] * domain.widths[2]
    return np.concatenate([np.zeros((u.shape[0], 1)), np.cumsum(u, axis=1)], axis=1)


def relative_divergence(domain: Domain, flow: Flow) -> float:
    """Largest divergence of the air's cells over the largest velocity gradient along its own axis [-]."""
    slopes = [
        np.diff(f, axis=a) / domain.widths[a].reshape([-1 if b == a else 1 for b in range(3)])
        for a, f in enumerate(flow.velocity)
    ]
    steepest = max(float(np.abs(s[domain.air]).max()) for s in slopes)
    return float(np.abs(sum(slopes))[domain.air].max()) / steepest if steepest > 0.0 else 0.0
