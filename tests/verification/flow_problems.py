"""Classical problems of natural convection, and how their published numbers are read off a flow.

All are dimensionless: lengths in the height, velocities in α/L, heat flows in k ΔT L, Prandtl number 0.71.
"""

from dataclasses import dataclass

import numpy as np

from sim.airflow.box import build_box, march
from sim.airflow.flow import Flow, air_of_numbers, transfer_flow

PRANDTL = 0.71


def graded(cells, strength, length=1.0):
    """Planes from 0 to length, finer towards both ends (hyperbolic tangent); strength 0 is uniform."""
    x = np.linspace(-1.0, 1.0, cells + 1)
    return length * 0.5 * (1.0 + (np.tanh(strength * x) / np.tanh(strength) if strength else x))


@dataclass(frozen=True)
class Grid:
    """Cells along each side, and how strongly they are drawn to the walls."""

    cells: int
    strength: float

    @property
    def planes(self):
        return graded(self.cells, self.strength)


def continued(make, grids, steady):
    """(box, flow) on the last of some grids, each started from the one before; only the last is run to the end."""
    box = flow = None
    for number, grid in enumerate(grids):
        finer = make(grid)
        start = transfer_flow(flow, box.domain, finer.domain) if flow else finer.start()
        tolerance = steady if number == len(grids) - 1 else 10.0 * steady
        box, flow = finer, march(finer, start, until=start.time + 5.0, steady=tolerance)
    return box, flow


def square_heated_from_the_side(rayleigh, scheme="central"):
    """Maker of boxes: hot wall x = 0, cold wall x = 1, the other two adiabatic."""
    air = air_of_numbers(rayleigh, PRANDTL)

    def make(grid):
        return build_box((grid.planes, [0.0, 1.0], grid.planes), air, {"x-": 1.0, "x+": 0.0}, scheme=scheme)

    return make


def half_cube(rayleigh):
    """Maker of boxes: hot wall x = 0, cold wall x = 1, from the wall y = 0 to the plane of symmetry y = 1/2."""
    air = air_of_numbers(rayleigh, PRANDTL)

    def make(grid):
        half = grid.planes[: grid.cells // 2 + 1]
        return build_box((grid.planes, half, grid.planes), air, {"x-": 1.0, "x+": 0.0}, slip=["y+"])

    return make


def square_heated_from_below(rayleigh):
    """Maker of boxes: hot floor, cold ceiling, adiabatic sides."""
    air = air_of_numbers(rayleigh, PRANDTL)

    def make(grid):
        return build_box((grid.planes, [0.0, 1.0], grid.planes), air, {"z-": 1.0, "z+": 0.0})

    return make


def roll_cell(rayleigh, across, up, wave_number=3.117):
    """Half a wavelength of a layer heated from below, between two planes of symmetry."""
    edges = (np.linspace(0.0, np.pi / wave_number, across + 1), [0.0, 1.0], up)
    return build_box(edges, air_of_numbers(rayleigh, PRANDTL), {"z-": 1.0, "z+": 0.0}, slip=("x-", "x+"))


def one_roll(box, amplitude) -> Flow:
    """Conduction upwards with the seed of a single roll."""
    x, _, z = box.domain.centres
    length = box.domain.edges[0][-1]
    return box.start(1.0 - z + amplitude * np.cos(np.pi * x / length)[:, None, None] * np.sin(np.pi * z))


def peak(places, values):
    """(value, place) of the largest value, by the parabola through it and its two neighbours."""
    i = min(max(int(np.argmax(values)), 1), len(values) - 2)
    near = slice(i - 1, i + 2)
    scale = places[i + 1] - places[i - 1]
    a, b, c = np.polyfit((places[near] - places[i]) / scale, values[near], 2)
    top = -0.5 * b / a
    return c + top * (b + a * top), places[i] + scale * top


def hot_wall_profile(box, flow):
    """(heights, local Nusselt numbers) on x = 0 of a square, by the parabola through wall and two cells."""
    x, _, z = box.domain.centres
    first, second = flow.temperature[0, 0], flow.temperature[1, 0]
    slope = ((first - 1.0) * x[1] ** 2 - (second - 1.0) * x[0] ** 2) / (x[0] * x[1] * (x[1] - x[0]))
    return z, -slope


def side_heated_numbers(box, flow):
    """What tables of the side-heated square list, by name; velocities on the middle lines, walls included."""
    x, _, z = box.domain.centres
    middle = box.domain.shape[0] // 2
    heights, local = hot_wall_profile(box, flow)
    ends = np.array([0.0])
    one = np.array([1.0])
    u = np.concatenate([ends, flow.velocity[0][middle, 0], ends])
    w = np.concatenate([ends, flow.velocity[2][:, 0, middle], ends])
    # at the adiabatic ceiling the profile is even: the parabola through the last two cells with no slope there
    near, far = (1.0 - heights[-1]) ** 2, (1.0 - heights[-2]) ** 2
    top = local[-1] - (local[-2] - local[-1]) * near / (far - near)
    largest, u_peak, w_peak = peak(heights, local), peak(np.concatenate([ends, z, one]), u), peak(
        np.concatenate([ends, x, one]), w
    )  # fmt: skip
    return {
        "Nu": box.heat_flow(flow, "x-"),
        "Nu max": largest[0], "Nu max at": largest[1], "Nu min": top,
        "u max": u_peak[0], "u max at": u_peak[1], "w max": w_peak[0], "w max at": w_peak[1],
    }  # fmt: skip


def cube_numbers(box, flow):
    """Mean Nusselt number of the hot wall and that of the wall's line in the plane of symmetry."""
    depth = box.domain.edges[1][-1]
    first = (1.0 - flow.temperature[0]) / box.domain.centres[0][0]
    # even about the plane of symmetry: parabola through the last two rows
    y = depth - box.domain.centres[1][-2:]
    line = first[-1] + (first[-1] - first[-2]) * y[1] ** 2 / (y[0] ** 2 - y[1] ** 2)
    return box.heat_flow(flow, "x-") / depth, float(np.sum(line * box.domain.widths[2]))
