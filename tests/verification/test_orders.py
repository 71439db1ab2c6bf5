"""Manufactured three-dimensional fields: the conduction operator and solver converge at second order.

Oracle: the field itself. With T = X(x) Y(y) Z(z) the heat source is −∇·(k∇T), integrated over each cell by
its midpoint; the boundary is held at T, half a cell away from the outermost centres.
"""

from dataclasses import dataclass
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.physics.conduction import face_conductance
from sim.solver.linear import solve_linear
from sim.solver.multigrid import build_multigrid
from sim.solver.stencil import StencilOperator

SIZE = (0.4, 0.7, 0.3)
CONDUCTIVITY = (0.13, 0.35, 0.05)


@dataclass(frozen=True)
class Field:
    """A field of one factor per axis, each with its own second derivative over itself."""

    order: tuple[int, int, int] = (0, 1, 2)

    def value(self, x, y, z):
        """Temperature above an arbitrary zero [K]."""
        place = dict(zip(self.order, (x, y, z), strict=True))
        return 10.0 * np.sin(5.0 * place[0] + 0.3) * np.cos(3.0 * place[1] - 0.5) * np.exp(4.0 * place[2])

    def source(self, conductivity, x, y, z):
        """Heat source [W/m³]."""
        bend = np.array([25.0, 9.0, -16.0])[list(self.order)]
        return float(np.dot(conductivity, bend)) * self.value(x, y, z)


def uniform(length, cells, rng):
    return np.linspace(0.0, length, cells + 1)


def graded(length, cells, rng):
    # Widths grow by the same total ratio of 8 on every mesh.
    widths = np.exp(np.linspace(0.0, np.log(8.0), cells))
    return length * np.concatenate([[0.0], np.cumsum(widths) / widths.sum()])


def random(length, cells, rng):
    widths = rng.uniform(0.4, 1.6, cells)
    return length * np.concatenate([[0.0], np.cumsum(widths) / widths.sum()])


def solve(edges, conductivity, field, cells_conductivity=None):
    """Numerical minus exact temperatures at the centres [K], and the cell volumes [m³]."""
    widths = [np.diff(e) for e in edges]
    centres = np.meshgrid(*(0.5 * (e[1:] + e[:-1]) for e in edges), indexing="ij")
    shape = centres[0].shape
    spread = np.meshgrid(*widths, indexing="ij")
    volume = np.prod(spread, axis=0)
    tensor = cells_conductivity or [np.full(shape, k) for k in conductivity]
    faces, sink = [], np.zeros(shape)
    flow = field.source(conductivity, *centres) * volume
    for axis in range(3):
        area = volume / spread[axis]
        inner = np.take(area, range(shape[axis] - 1), axis)
        faces.append(face_conductance(tensor[axis], widths[axis], inner, axis))
        for end in (0, -1):
            here = tuple(end if a == axis else slice(None) for a in range(3))
            held = [c[here] for c in centres]
            held[axis] = np.full_like(held[axis], edges[axis][end])
            link = (tensor[axis] * area / (0.5 * spread[axis]))[here]
            sink[here] += link
            flow[here] += link * field.value(*held)
    operator = StencilOperator(*faces, sink)
    found = solve_linear(operator.apply, flow, None, build_multigrid(operator), 1e-11, 60)
    assert found.converged
    return found.x - field.value(*centres), volume


def norm(error, volume):
    """Root of the volume mean of the square [K]."""
    return float(np.sqrt(np.average(error**2, weights=volume)))


def errors(make, sizes, rng, order=(0, 1, 2)):
    """Error on meshes of so many cells along each axis, axes permuted by `order`."""
    size, conductivity = [SIZE[a] for a in order], [CONDUCTIVITY[a] for a in order]
    return [norm(*solve([make(length, n, rng) for length in size], conductivity, Field(order))) for n in sizes]


@pytest.mark.parametrize(("make", "least"), [(uniform, 1.95), (graded, 1.9), (random, 1.6)])
def test_second_order(make, least, rng):
    rough, middle, fine = errors(make, (8, 16, 32), rng)
    assert np.log2(rough / middle) > least
    assert np.log2(middle / fine) > least
    assert fine < 2e-3 * 10.0 * np.exp(4.0 * SIZE[2])  # 0.2 % of the field's largest value


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_axes_are_alike(order, rng):
    first = errors(graded, (12,), rng)
    assert_allclose(errors(graded, (12,), rng, order), first, rtol=1e-6, atol=0)


@dataclass(frozen=True)
class Layers:
    """Two materials that meet at z = 0.1 m: the field bends there, its flux does not."""

    low: float
    high: float
    at: float = 0.1

    def conductivity(self, z):
        return np.where(z < self.at, self.low, self.high)

    def value(self, x, y, z):
        rise = np.where(z < self.at, z / self.low, self.at / self.low + (z - self.at) / self.high)
        return np.cos(4.0 * x) * np.cos(3.0 * y) * rise

    def source(self, conductivity, x, y, z):
        return 25.0 * self.conductivity(z) * self.value(x, y, z)


@pytest.mark.parametrize(("make", "least"), [(uniform, 1.95), (graded, 1.9), (random, 1.65)])
@pytest.mark.parametrize("contrast", [3.0, 1e4])
def test_second_order_across_an_interface(make, least, contrast, rng):
    field = Layers(0.05, 0.05 * contrast)
    found = []
    for n in (32, 64):
        x, y = make(SIZE[0], n, rng), make(SIZE[1], n, rng)
        z = np.concatenate([make(field.at, n // 2, rng), field.at + make(0.2, n // 2, rng)[1:]])
        middle = 0.5 * (z[1:] + z[:-1])
        tensor = np.broadcast_to(field.conductivity(middle), (n, n, n)).copy()
        found.append(norm(*solve([x, y, z], None, field, [tensor] * 3)))
    assert np.log2(found[0] / found[1]) > least
    assert found[1] < 1e-4 * field.value(0.0, 0.0, 0.3)
