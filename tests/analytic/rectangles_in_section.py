"""Conduction in a section drawn by rectangles: plain finite volumes on a graded grid, solved directly.

The section stands in `cases/verification/rectangles-bay/case.toml`; its boxes, films and held sides are read here by a
reader of their own ("203.2 mm", "0.12 W/(m*K)"), so that nothing of the program has a part in it.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.linalg import spsolve

Array = NDArray[np.float64]
ROOM = 20.0
FILM_UP, FILM_DOWN = 10.8, 1.0 / 0.17


def number(text: str) -> float:
    """The number of a text, lengths from mm to m."""
    value, unit = text.split(maxsplit=1)
    return float(value) * (1e-3 if unit == "mm" else 1.0)


def edges(planes: list[float], size: float) -> Array:
    """Cell edges: from every plane on widths grow by 1.3 from `size` to the middle between two planes."""
    found = [planes[0]]
    for low, high in zip(planes, planes[1:], strict=False):
        half, widths = 0.5 * (high - low), [size]
        while sum(widths) < half and len(widths) < 400:
            widths.append(min(1.3 * widths[-1], 12.0 * size))
        steps = np.array(widths) * half / sum(widths)
        found += [*(low + np.cumsum(np.concatenate([steps, steps[::-1]])))[:-1], high]
    return np.array(found)


def solve_section(case: Path, size: float) -> dict[str, float]:
    """The numbers of the folder from one grid, its finest cells `size` [m] wide."""
    boxes = [
        (*map(number, box["x"]), *map(number, box["z"]), number(box["conductivity"]))
        for box in tomllib.loads(case.read_text("utf-8"))["box"]
    ]
    x = edges(sorted({value for box in boxes for value in box[:2]}), size)
    z = edges(sorted({value for box in boxes for value in box[2:4]}), size)
    xc, zc = 0.5 * (x[1:] + x[:-1]), 0.5 * (z[1:] + z[:-1])
    k = np.zeros((xc.size, zc.size))  # 0: the tube, which is held at 50 °C
    for x0, x1, z0, z1, conductivity in boxes:
        k[np.ix_((xc > x0) & (xc < x1), (zc > z0) & (zc < z1))] = conductivity
    dx, dz = np.diff(x)[:, None] + 0 * k, np.diff(z)[None, :] + 0 * k
    matrix, right = _equations(k, dx, dz)
    excess = spsolve(matrix, right).reshape(k.shape)
    return _numbers(excess + ROOM, k, dx, dz, (xc, zc), z)


def _equations(k: Array, dx: Array, dz: Array) -> tuple[csr_matrix, Array]:
    """G (T − T_neighbour) = 0 for every cell of a solid, as excess over the rooms; the tube is at 30 K."""
    number, tube = np.arange(k.size).reshape(k.shape), k == 0.0
    rows, columns, values, right = [], [], [], np.zeros(k.size)
    for axis, (along, wide) in enumerate(((dx, dz), (dz, dx))):
        half = np.where(tube, 0.0, along / 2.0 / np.where(tube, 1.0, k))
        low, high = ([slice(None)] * 2 for _ in range(2))
        low[axis], high[axis] = slice(None, -1), slice(1, None)
        one, other = tuple(low), tuple(high)
        resistance = half[one] + half[other]
        g = np.where(resistance > 0.0, wide[one] / np.where(resistance > 0.0, resistance, 1.0), 0.0).ravel()
        i, j = number[one].ravel(), number[other].ravel()
        rows += [i, j, i, j]
        columns += [i, j, j, i]
        values += [g, g, -g, -g]
    for end, film in ((-1, FILM_UP), (0, FILM_DOWN)):
        g = dx[:, end] / (1.0 / film + dz[:, end] / 2.0 / k[:, end])
        rows, columns, values = [*rows, number[:, end]], [*columns, number[:, end]], [*values, g]
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tolil()
    for cell in np.flatnonzero(tube):
        matrix.rows[cell], matrix.data[cell] = [cell], [1.0]
        right[cell] = 30.0
    return matrix.tocsr(), right


def _numbers(t: Array, k: Array, dx: Array, dz: Array, centres: tuple[Array, Array], z: Array) -> dict[str, float]:
    """Fluxes, what the tube gives, and surface temperatures."""
    xc, zc = centres
    up = (t[:, -1] - ROOM) / (1.0 / FILM_UP + dz[:, -1] / 2.0 / k[:, -1])
    down = (t[:, 0] - ROOM) / (1.0 / FILM_DOWN + dz[:, 0] / 2.0 / k[:, 0])
    wide, surface = dx[:, 0], ROOM + up / FILM_UP
    level = t[:, np.abs(zc + 0.25e-3).argmin()][k[:, np.abs(zc + 0.25e-3).argmin()] == 200.0]  # along the plate
    heat = float((up + down) @ wide)
    return {
        "heat_flux_up_W_m2": float(up @ wide / wide.sum()),
        "heat_flux_down_W_m2": float(down @ wide / wide.sum()),
        "heat_flow_tube_W": -heat,
        "surface_up_highest_C": float(surface.max()),
        "surface_up_lowest_C": float(surface.min()),
        "surface_up_mean_C": float(surface @ wide / wide.sum()),
        "probe_over_the_joist_C": float(surface[0]),
        "probe_bay_centre_C": float(surface[-1]),
        "probe_plate_edge_joist_side_C": float(level[0]),
        "probe_plate_edge_bay_side_C": float(level[-1]),
    }
