"""Domains and measures that the tests of the flow solver share."""

import numpy as np

from sim.airflow.domain import Obstacle, Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.step import build_stepper
from sim.airflow.walls import find_walls


def graded(cells, strength=1.5, length=1.0):
    """Planes from 0 to length, finer towards both ends (hyperbolic tangent); strength 0 is uniform."""
    x = np.linspace(-1.0, 1.0, cells + 1)
    inner = np.tanh(strength * x) / np.tanh(strength) if strength else x
    return length * 0.5 * (1.0 + inner)


def random_planes(rng, cells):
    """Planes 0 to 1 with widths that differ up to threefold; the thirds are planes."""
    widths = [rng.uniform(1.0, 3.0, cells) for _ in range(3)]
    return np.concatenate([[0.0], *((np.cumsum(w) / w.sum() + p) / 3.0 for p, w in enumerate(widths))])


def furnished(rng, cells=3, open_area=0.0, **more):
    """A box with a block and a sheet on a random grid."""
    third, two, one = 1.0 / 3.0, 2.0 / 3.0, 1.0
    block = Obstacle("block", ((third, two), (third, two), (third, two)))
    sheet = Sheet("sheet", 0, two, ((0.0, 1.0), (0.0, two), (two, one)), open_area=open_area)
    return build_domain([random_planes(rng, cells) for _ in range(3)], [block], [sheet], **more)


def control_volumes(domain, axis):
    """Volumes around the faces of one component: half a cell on either side."""
    pad = [(1, 1) if a == axis else (0, 0) for a in range(3)]
    half = np.pad(0.5 * domain.volumes, pad)
    lower, upper = (tuple(s if a == axis else slice(None) for a in range(3)) for s in (slice(None, -1), slice(1, None)))
    return half[lower] + half[upper]


def divergence(domain, velocity):
    """Divergence in every cell [1/s]."""
    dx, dy, dz = domain.widths
    u, v, w = velocity[:3]
    return np.diff(u, axis=0) / dx[:, None, None] + np.diff(v, axis=1) / dy[:, None] + np.diff(w, axis=2) / dz


def rates(stepper, now=1.0):
    """Rates of all four fields at the present state, before the pressure acts."""
    stepper._move(stepper._stage(now, 0.0))
    return [np.array(r) for r in stepper.rates]


def random_stepper(rng, domain, air=None, wall_temperature=None, scheme="central"):
    """A stepper whose state is random but free of divergence."""
    air = air or AirProperties(viscosity=0.3, diffusivity=0.7, buoyancy=0.0, conductivity=0.7)
    velocity = tuple(rng.standard_normal(o.shape) for o in domain.openness)
    walls = find_walls(domain)
    warm = np.full(walls.count, np.nan) if wall_temperature is None else wall_temperature(walls)
    return build_stepper(domain, air, warm, Flow(velocity, rng.standard_normal(domain.shape)), scheme)


def inner(domain, first, second):
    """Σ V a · b over the three velocity components."""
    return sum(np.sum(control_volumes(domain, a) * first[a] * second[a]) for a in range(3))
