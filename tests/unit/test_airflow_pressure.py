"""Projection: against a dense solution, divergence at round-off, obstacles of every kind."""

from dataclasses import replace

import numpy as np
import pytest
from airflow_cases import divergence, inner, random_planes

from sim.airflow.cuts import _closed_faces, connected_regions
from sim.airflow.domain import Obstacle, Sheet, build_domain
from sim.airflow.face_influence import face_influence
from sim.airflow.momentum import Fields
from sim.airflow.nested import Leaf
from sim.airflow.nested_product import lay_flat
from sim.airflow.pressure import build_pressure
from sim.airflow.row_lists import velocity_lists
from sim.machine.threads import SMALLEST_SHARED_LOOP, single_threaded_blas

ALL = ((0.0, 1.0), (0.0, 1.0), (0.0, 1.0))


def thirds(x=(0, 3), y=(0, 3), z=(0, 3)):
    return tuple((a / 3.0, b / 3.0) for a, b in (x, y, z))


OBSTACLES = {
    "none": {},
    "block": {"blocks": [Obstacle("b", thirds((1, 2), (1, 2), (1, 2)))]},
    "block on the floor": {"blocks": [Obstacle("b", thirds((1, 2), (0, 2), (0, 1)))]},
    "two blocks that touch": {
        "blocks": [Obstacle("b", thirds((1, 2), (0, 1), (1, 2))), Obstacle("c", thirds((0, 1), (0, 2), (1, 2)))]
    },
    "sheet": {"sheets": [Sheet("s", 2, 1 / 3, thirds((0, 2), (1, 3)))]},
    "sheet that parts the air": {"sheets": [Sheet("s", 0, 2 / 3, ALL)]},
    "sheets across and a block": {
        "sheets": [Sheet("s", 2, 1 / 3, thirds((0, 2))), Sheet("t", 1, 2 / 3, thirds((1, 3), z=(1, 3)))],
        "blocks": [Obstacle("b", thirds((1, 2), (1, 2), (0, 1)))],
    },
    "closed cell": {"sheets": [Sheet("s", 2, 1 / 3, ALL), Sheet("t", 0, 1 / 3, thirds(z=(1, 3)))]},
    "porous sheet": {"sheets": [Sheet("s", 2, 1 / 3, ALL, open_area=0.3)]},
}  # fmt: skip


def make(rng, name, cells=3):
    edges = [random_planes(rng, cells) for _ in range(3)]
    return build_domain(edges, **OBSTACLES[name])


def random_velocity(rng, domain):
    """Anything, but at rest on every closed face."""
    fields = [rng.standard_normal(o.shape) * (o > 0.0) for o in domain.openness]
    return Fields(*fields, np.zeros(domain.shape))


def solver(domain):
    return build_pressure(domain, tuple(velocity_lists(domain, c) for c in range(3)))


def dense_operator(domain):
    """Volume-weighted Poisson operator of the open faces, face by face."""
    number = np.arange(domain.cells).reshape(domain.shape)
    matrix = np.zeros((domain.cells, domain.cells))
    for axis in range(3):
        width, centre = domain.widths[axis], domain.centres[axis]
        for place in np.argwhere(domain.openness[axis] > 0.0):
            above, below = tuple(place), tuple(place - np.eye(3, dtype=int)[axis])
            i = place[axis]
            a, b = number[below], number[above]
            g = domain.volumes[below] / width[i - 1] / (centre[i] - centre[i - 1])
            matrix[a, a] += g
            matrix[b, b] += g
            matrix[a, b] -= g
            matrix[b, a] -= g
    return matrix


@pytest.mark.parametrize("name", OBSTACLES)
def test_divergence_is_at_round_off(rng, name):
    """Wanted: at most 1e-10 of the scale of the velocity gradient, in every cell."""
    domain = make(rng, name)
    velocity = random_velocity(rng, domain)
    scale = np.abs(divergence(domain, velocity)).max()
    solver(domain).project(velocity)
    np.testing.assert_allclose(divergence(domain, velocity), 0.0, rtol=0.0, atol=1e-11 * scale)
    for field, openness in zip(velocity[:3], domain.openness, strict=True):
        assert not field[openness == 0.0].any()


@pytest.mark.parametrize("name", OBSTACLES)
def test_pressure_is_that_of_the_dense_operator(rng, name):
    domain = make(rng, name, cells=2)
    velocity = random_velocity(rng, domain)
    source = -(divergence(domain, velocity) * domain.volumes).ravel()
    projector = solver(domain)
    projector.project(velocity)
    expected = np.linalg.lstsq(dense_operator(domain), source, rcond=1e-12)[0].reshape(domain.shape)
    found = projector.field()
    regions = connected_regions(domain)
    for region in np.unique(regions[domain.air]):
        inside = regions == region
        difference = (found - expected)[inside]
        np.testing.assert_allclose(difference, difference[0], rtol=0.0, atol=1e-10 * np.abs(expected).max() + 1e-15)


def test_projection_is_orthogonal(rng):
    """It only takes kinetic energy away, and a second projection changes nothing."""
    domain = make(rng, "sheets across and a block")
    velocity = random_velocity(rng, domain)
    before = [f.copy() for f in velocity[:3]]
    projector = solver(domain)
    projector.project(velocity)
    once = [f.copy() for f in velocity[:3]]
    projector.project(velocity)
    for a, b in zip(once, velocity[:3], strict=True):
        np.testing.assert_allclose(a, b, rtol=0.0, atol=1e-11)
    removed = inner(domain, once, [b - a for b, a in zip(before, once, strict=True)])
    np.testing.assert_allclose(removed, 0.0, rtol=0.0, atol=1e-11)


@pytest.mark.parametrize("long_axis", [0, 1])
@pytest.mark.parametrize("name", ["none", "block", "sheet"])
def test_long_grids_and_shared_loops(rng, long_axis, name):
    """Lines run along the longer lateral axis; a grid above the sharing limit takes the threaded path."""
    cells = [12, 12, 12]
    cells[long_axis] = 14
    domain = build_domain([random_planes(rng, n) for n in cells], **OBSTACLES[name])
    assert domain.cells > SMALLEST_SHARED_LOOP
    velocity = random_velocity(rng, domain)
    scale = np.abs(divergence(domain, velocity)).max()
    with single_threaded_blas():
        solver(domain).project(velocity)
    np.testing.assert_allclose(divergence(domain, velocity), 0.0, rtol=0.0, atol=1e-11 * scale)


def test_flat_domain(rng):
    """One cell along y."""
    edges = [random_planes(rng, 5), np.array([0.0, 1.0]), random_planes(rng, 4)]
    domain = build_domain(edges, blocks=[Obstacle("b", thirds((1, 2), (0, 3), (1, 2)))])
    velocity = random_velocity(rng, domain)
    scale = np.abs(divergence(domain, velocity)).max()
    solver(domain).project(velocity)
    np.testing.assert_allclose(divergence(domain, velocity), 0.0, rtol=0.0, atol=1e-11 * scale)


def long_bay(rng, along):
    """A long box with two rods from end to end, sheets of every direction, a block at a side and a closed corner."""
    planes = [random_planes(rng, 4), 4.0 * random_planes(rng, 40), 0.4 * random_planes(rng, 3)]
    x, y, z = planes
    whole = (0.0, 4.0)
    rods = [
        ((x[3], x[4]), whole, (z[6], z[9])), ((x[8], x[9]), whole, (z[4], z[5])),
        ((0.0, x[2]), (y[50], y[70]), (z[0], z[4])),
    ]  # fmt: skip
    sheets = [
        (2, z[3], ((x[2], x[10]), (y[5], y[35]), (0, 0))), (0, x[6], ((0, 0), (y[40], y[90]), (z[1], z[7]))),
        (1, y[80], ((x[2], x[12]), (0, 0), (z[0], z[8]))), (1, y[100], ((x[0], x[12]), (0, 0), (z[0], z[9]))),
    ]  # fmt: skip
    turned = (0, 1, 2) if along == 1 else (1, 0, 2)

    def turn(box):
        return tuple(box[turned[a]] for a in range(3))

    blocks = [Obstacle(f"rod {n}", turn(box)) for n, box in enumerate(rods)]
    parts = [Sheet(f"sheet {n}", turned.index(axis), at, turn(box)) for n, (axis, at, box) in enumerate(sheets)]
    return build_domain(turn(planes), blocks, parts)


@pytest.mark.parametrize("along", [0, 1])
def test_thousands_of_closed_faces_along_a_bay(rng, along):
    """Their inverse is nested; divergence stays at round-off, and the flow is that of the dense inverse."""
    domain = long_bay(rng, along)
    projector = solver(domain)
    cuts = projector.tools.cuts
    count = cuts.jump.size
    assert count > 2000 and cuts.inverse.answer_at.size > 3
    velocity = random_velocity(rng, domain)
    before = [f.copy() for f in velocity[:3]]
    scale = np.abs(divergence(domain, velocity)).max()
    projector.project(velocity)
    np.testing.assert_allclose(divergence(domain, velocity), 0.0, rtol=0.0, atol=1e-11 * scale)
    faces = _closed_faces(domain, along == 1)
    matrix, _ = face_influence(faces.below, faces.above, faces.conductance, faces.loose, projector.tools.modes)
    dense = cuts._replace(inverse=lay_flat(Leaf(0, count, np.linalg.inv(matrix.dense(0, count)))))
    again = Fields(*before, np.zeros(domain.shape))
    replace(projector, tools=projector.tools._replace(cuts=dense)).project(again)
    for a, b in zip(velocity[:3], again[:3], strict=True):
        np.testing.assert_allclose(a, b, rtol=0.0, atol=1e-11)
