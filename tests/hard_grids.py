"""Conduction problems that are hard for an iterative solver, as plain conductance arrays.

Each function returns ``(gx, gy, gz, sink)`` in W/K for a rectilinear grid of at least the size asked
for. They are used by the solver's unit tests (iteration ceilings) and by the solver benchmark.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from sim.solver.stencil import StencilOperator

WOOD, BATT, ALUMINIUM, PLASTIC = 0.12, 0.04, 160.0, 0.4


def conductances(edges, conductivity, active=None):
    """Half cells in series between cell centres; inactive cells are cut off with a unit sink."""
    k = np.broadcast_to(conductivity, (3, *(len(e) - 1 for e in edges))).astype(float).copy()
    if active is not None:
        k[:, ~active] = 0.0
    widths = [np.diff(e) for e in edges]
    faces = []
    for axis in range(3):
        shape = [1, 1, 1]
        shape[axis] = -1
        half = np.zeros(k.shape[1:])
        np.divide(0.5 * widths[axis].reshape(shape), k[axis], out=half, where=k[axis] > 0)
        low, high = (np.take(half, range(a, half.shape[axis] - 1 + a), axis) for a in (0, 1))
        others = [a for a in range(3) if a != axis]
        area = np.ones((1, 1, 1))
        for a in others:
            s = [1, 1, 1]
            s[a] = -1
            area = area * widths[a].reshape(s)
        g = np.zeros(low.shape)
        area = np.broadcast_to(area, low.shape)
        np.divide(area, low + high, out=g, where=(low > 0) & (high > 0))
        faces.append(g)
    sink = np.zeros(k.shape[1:])
    if active is not None:
        sink[~active] = 1.0
    return (*faces, sink)


def areas(edges):
    """Horizontal area of each column [m2]."""
    return np.outer(np.diff(edges[0]), np.diff(edges[1]))


def film(system, edges, top=8.0, bottom=None):
    """The same system with films on the top and bottom faces (active cells only)."""
    gx, gy, gz, sink = system
    sink = sink.copy()
    for level, h in ((-1, top), (0, bottom)):
        if h is not None:
            sink[:, :, level] += np.where(sink[:, :, level] == 1.0, 0.0, h * areas(edges))
    return gx, gy, gz, sink


def graded(lengths_and_counts):
    """Edges made of pieces, each of equal cells."""
    edges = [0.0]
    for length, count in lengths_and_counts:
        edges.extend(edges[-1] + length * np.arange(1, count + 1) / count)
    return np.array(edges)


def uniform(nx, ny, nz, size=(0.4, 0.4, 0.3)):
    """One material, almost cubic cells, a film on top."""
    edges = [np.linspace(0, length, n + 1) for length, n in zip(size, (nx, ny, nz), strict=True)]
    return film(conductances(edges, np.full((3, nx, ny, nz), WOOD)), edges)


def layered(nx, ny, nz):
    """Thin layers of very different conductivity: flat cells of up to 100:1."""
    edges = [np.linspace(0, 0.4, nx + 1), np.linspace(0, 4.0, ny + 1), None]
    parts = [(0.1, nz // 4), (0.0005, nz // 4), (0.018, nz // 4), (0.008, nz - 3 * (nz // 4))]
    edges[2] = graded([p for p in parts if p[1] > 0])
    k = np.full((3, nx, ny, nz), BATT)
    mid = 0.5 * (edges[2][1:] + edges[2][:-1])
    k[:, :, :, mid > 0.1] = ALUMINIUM
    k[:, :, :, mid > 0.1005] = WOOD
    return film(conductances(edges, k), edges, bottom=5.9)


def flat_sheets(nx, ny, nz, contrast=1.0e4):
    """Islands of a one-cell-thick conducting sheet lying flat in a poor conductor."""
    edges = [np.linspace(0, 0.4, nx + 1), np.linspace(0, 4.0, ny + 1), None]
    low = max(nz // 2, 1)
    edges[2] = graded([(0.15, low), (0.0005, 1), (0.03, max(nz - low - 1, 1))])
    k = np.full((3, nx, ny, len(edges[2]) - 1), WOOD)
    x, y = (0.5 * (e[1:] + e[:-1]) for e in edges[:2])
    on = ((np.abs(x % 0.2 - 0.1) < 0.065)[:, None]) & ((y % 0.5) < 0.4)[None, :]
    k[:, :, :, low][:, on] = WOOD * contrast
    return film(conductances(edges, k), edges, bottom=1.0)


def upright_sheets(nx, ny, nz, contrast=1.0e4, height=0.5):
    """Sheets one thin cell wide in x, standing in a poor conductor; broken along y."""
    n = max((nx - 2) // 3, 1)
    edges = [graded([(0.13, n), (0.0005, 1), (0.14, nx - 2 - 2 * n), (0.0005, 1), (0.13, n)])]
    edges += [np.linspace(0, 4.0, ny + 1), np.linspace(0, 0.25, nz + 1)]
    k = np.full((3, len(edges[0]) - 1, ny, nz), WOOD)
    y = 0.5 * (edges[1][1:] + edges[1][:-1])
    tall = np.arange(nz) >= nz * (1 - height)
    thin = np.flatnonzero(np.diff(edges[0]) < 0.0006)
    for i in thin:
        k[:, i, ((y % 0.5) < 0.4)[:, None] & tall[None, :]] = WOOD * contrast
    return film(conductances(edges, k), edges, bottom=1.0)


def stretched(n_total, thin, pieces, growth=1.35):
    """Edges over [0, pieces[-1]] with cells growing away from each named station."""
    stations = np.asarray(pieces)
    out = [0.0]
    share = max(n_total // (len(stations) - 1), 1)
    for a, b in zip(stations[:-1], stations[1:], strict=True):
        n = share
        t = np.minimum(np.arange(n), np.arange(n)[::-1])
        w = np.minimum(thin * growth ** t, thin * 300)
        out.extend(a + (b - a) * np.cumsum(w) / w.sum())
    return np.array(out)


def graded_corners(nx, ny, nz):
    """Cells graded towards stations in x and in y: every mixture of thin and wide cells."""
    edges = [stretched(nx, 0.0005, (0, 0.1, 0.13, 0.27, 0.3, 0.4)), stretched(ny, 0.0005, (0, 0.2, 0.4)),
             stretched(nz, 0.0005, (0, 0.1, 0.12, 0.14))]
    shape = [len(e) - 1 for e in edges]
    k = np.full((3, *shape), WOOD)
    return film(conductances(edges, k), edges)


def bay(nx, ny, nz, hung=False, upright=False, length=0.8):
    """A joist bay: joists, batt, empty cavity, tube and plate islands, sheathing and covering."""
    sx = nx // 6
    xs = [(0.019, max(sx // 3, 1)), (0.1, sx), (0.0005, 1), (0.064, sx), (0.0005, 1), (0.04, sx)]
    used = sum(c for _, c in xs)
    xs += [(0.1634, max(nx - used - max(sx // 3, 1), 1)), (0.019, max(sx // 3, 1))]
    sz = max(nz // 6, 1)
    zs = [(0.09, 2 * sz), (0.10, 2 * sz), (0.0005, 1), (0.02, sz), (0.0005, 1), (0.018, sz), (0.008, sz)]
    edges = [graded(xs), np.linspace(0, length, ny + 1), graded(zs)]
    x, y, z = (0.5 * (e[1:] + e[:-1]) for e in edges)
    X, Y, Z = np.meshgrid(x, y, z, indexing="ij")
    joist = ((X < 0.019) | (edges[0][-1] - 0.019 < X)) & (Z < 0.211)
    cavity = (Z > 0.09) & (Z < 0.211) & ~joist
    k = np.where(Z > 0.211, WOOD, np.where(joist, WOOD, BATT))
    active = ~cavity
    on = (Y % 0.4) < 0.3
    level = (Z > 0.19) & (Z < 0.1905) if hung else (Z > 0.2105) & (Z < 0.211)
    plate = level & cavity & on & (X > 0.1) & (X < 0.23)
    if upright:
        thin = np.repeat((np.diff(edges[0]) < 0.0006), 1)[:, None, None]
        plate = thin & cavity & on & (Z > 0.15)
    tube = cavity & (np.abs(X - 0.15) < 0.008) & (Z > 0.19)
    k = np.where(plate, ALUMINIUM, np.where(tube, PLASTIC, k))
    active |= plate | tube
    gx, gy, gz, sink = conductances(edges, np.broadcast_to(k, (3, *k.shape)), active)
    gx, gy, gz, sink = film((gx, gy, gz, sink), edges, bottom=5.9)
    volume = areas(edges)[:, :, None] * np.diff(edges[2])
    # films on the cavity's walls, spread over the cells that bound it
    sink = sink + np.where(active & (plate | tube), 8.0 * volume / 0.0005 * 0.05, 0.0)
    return gx, gy, gz, sink


def random_field(nx, ny, nz, spread=1.0e4, seed=3):
    """Independent conductivity in every cell, spread evenly over the decades."""
    r = np.random.default_rng(seed)
    edges = [np.linspace(0, s, n + 1) for s, n in zip((0.4, 0.8, 0.3), (nx, ny, nz), strict=True)]
    k = WOOD * spread ** r.random((nx, ny, nz))
    return film(conductances(edges, np.broadcast_to(k, (3, *k.shape))), edges)


def random_blocks(nx, ny, nz, spread=1.0e4, seed=4, block=5):
    """Conductivity in blocks of several cells, spread evenly over the decades."""
    r = np.random.default_rng(seed)
    edges = [np.linspace(0, s, n + 1) for s, n in zip((0.4, 0.8, 0.3), (nx, ny, nz), strict=True)]
    raw = WOOD * spread ** r.random([n // block + 1 for n in (nx, ny, nz)])
    k = raw
    for axis, n in enumerate((nx, ny, nz)):
        k = np.take(np.repeat(k, block, axis), range(n), axis)
    return film(conductances(edges, np.broadcast_to(k, (3, *k.shape))), edges)


def near_singular(nx, ny, nz):
    """Everything adiabatic but a poor film on one small part of one side."""
    gx, gy, gz, sink = uniform(nx, ny, nz)
    sink = np.zeros_like(sink)
    sink[0, : max(ny // 4, 1), : max(nz // 3, 1)] = 1.0e-3 * max(g.max() for g in (gx, gy, gz) if g.size)
    return gx, gy, gz, sink


def one_side(nx, ny, nz):
    """Layered and adiabatic but for one strong side face."""
    gx, gy, gz, sink = layered(nx, ny, nz)
    sink = np.zeros_like(sink)
    sink[-1] = 2 * gx[-1] if nx > 1 else 1.0
    return gx, gy, gz, sink


def orthotropic(nx, ny, nz, k=(0.1, 10.0, 0.01)):
    """One material with three very different conductivities."""
    edges = [np.linspace(0, s, n + 1) for s, n in zip((0.4, 0.4, 0.4), (nx, ny, nz), strict=True)]
    field = np.broadcast_to(np.asarray(k).reshape(3, 1, 1, 1), (3, nx, ny, nz))
    return film(conductances(edges, field), edges)


def turned(system):
    """The same system with x and y exchanged."""
    gx, gy, gz, sink = (np.ascontiguousarray(a.transpose(1, 0, 2)) for a in system)
    return gy, gx, gz, sink


SMALL = [(6, 5, 4), (1, 7, 5), (7, 1, 5), (7, 5, 1), (1, 1, 9), (9, 1, 1), (1, 9, 1), (1, 1, 1), (2, 2, 2)]
"""Grid sizes at which a dense matrix is no trouble, one cell thick each way among them."""


def random_stencil(rng, shape, decades=2.0, holes=0.0):
    """Random conductances over some decades; a share of cells takes no part."""
    nx, ny, nz = shape
    sizes = ((nx - 1, ny, nz), (nx, ny - 1, nz), (nx, ny, nz - 1))
    g = [10.0 ** rng.uniform(-decades, decades, s) for s in sizes]
    sink = 10.0 ** rng.uniform(-decades, 0, shape)
    out = rng.random(shape) < holes
    sink[out] = 1.0
    for axis in range(3):
        n = shape[axis]
        cut = np.take(out, range(n - 1), axis) | np.take(out, range(1, n), axis)
        g[axis][cut] = 0.0
    return StencilOperator(*g, sink)


FAMILY = {
    "uniform": partial(uniform, 40, 36, 32),
    "layers, 100:1 cells": partial(layered, 40, 60, 24),
    "flat sheets": partial(flat_sheets, 60, 80, 20),
    "flat sheets, prime sizes": partial(flat_sheets, 37, 41, 13),
    "upright sheets": partial(upright_sheets, 50, 64, 24),
    "upright sheets, full height": partial(upright_sheets, 50, 64, 24, height=1.0),
    "upright sheets, across y": lambda: turned(upright_sheets(50, 64, 24)),
    "graded corners": partial(graded_corners, 60, 50, 40),
    "bay, plates fastened": partial(bay, 60, 60, 40),
    "bay, plates hung": partial(bay, 60, 60, 40, hung=True),
    "bay, plates upright": partial(bay, 60, 60, 40, upright=True),
    "bay, whole length": partial(bay, 48, 200, 30, hung=True, length=4.0),
    "bay, one cell along": partial(bay, 60, 1, 40),
    "random blocks": partial(random_blocks, 40, 36, 32),
    "random cells": partial(random_field, 40, 36, 32),
    "adiabatic but a weak spot": partial(near_singular, 40, 36, 32),
    "adiabatic but one face": partial(one_side, 40, 60, 24),
    "strong along x": partial(orthotropic, 32, 32, 32, k=(10.0, 0.1, 0.01)),
    "strong along y": partial(orthotropic, 32, 32, 32, k=(0.01, 10.0, 0.1)),
    "weak along z": partial(orthotropic, 32, 32, 32, k=(10.0, 10.0, 0.01)),
    "weak along y": partial(orthotropic, 32, 32, 32, k=(10.0, 0.01, 10.0)),
    "weak along x": partial(orthotropic, 32, 32, 32, k=(0.01, 10.0, 10.0)),
    "one cell in x": partial(uniform, 1, 97, 31),
    "one cell in y": partial(uniform, 97, 1, 31),
    "one cell in z, random blocks": partial(random_blocks, 53, 47, 1),
    "one column": partial(uniform, 1, 1, 31),
    "one row": partial(uniform, 31, 1, 1),
}
"""Every kind of difficulty at a size that solves in a fraction of a second."""
