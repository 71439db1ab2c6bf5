"""Flow problems of every kind of domain, for tests that compare a device's steps with the processor's."""

import numpy as np

from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.tables import flow_problem
from sim.airflow.domain import Obstacle, Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.step import build_stepper
from sim.airflow.walls import find_walls
from tests.unit.airflow_cases import furnished, graded, random_planes

AIR = AirProperties(viscosity=0.3, diffusivity=0.7, buoyancy=2.0, conductivity=0.7)
KINDS = ("sheets and blocks", "porous sheet, symmetry, eddies", "axes swapped", "two-dimensional", "central, eddies")


def turned(rng, cells):
    """A box longer along y than along x, with a block and a level sheet."""
    third, two = 1.0 / 3.0, 2.0 / 3.0
    planes = graded(3 * cells + 3)
    block = Obstacle("block", ((0.0, third), (planes[2], planes[4]), (third, two)))
    sheet = Sheet("sheet", 2, third, ((0.0, two), (planes[3], 1.0), (0.0, 0.0)))
    return build_domain([random_planes(rng, cells), planes, random_planes(rng, cells)], [block], [sheet])


def flat(rng, cells):
    """One cell along y, with a block."""
    planes = random_planes(rng, cells)
    block = Obstacle("block", ((planes[1], planes[2]), (0.0, 0.3), (0.0, planes[2])))
    return build_domain([planes, [0.0, 0.3], planes], [block])


def problem_of(kind, rng, cells=2):
    """What `build_stepper` takes, for a kind of domain: a random flow and random wall temperatures, half adiabatic."""
    domain, scheme, subgrid = {
        "sheets and blocks": lambda: (furnished(rng, cells), "bounded", 0.0),
        "porous sheet, symmetry, eddies": lambda: (furnished(rng, cells, 0.3, slip=("y-", "x+")), "bounded", 0.07),
        "axes swapped": lambda: (turned(rng, cells), "bounded", 0.07),
        "two-dimensional": lambda: (flat(rng, cells), "bounded", 0.0),
        "central, eddies": lambda: (furnished(rng, cells, 0.4), "central", 0.07),
    }[kind]()
    walls = find_walls(domain)
    warm = np.where(walls.side % 2 == 0, rng.uniform(-1.0, 1.0, walls.count), np.nan)
    velocity = tuple(rng.standard_normal(o.shape) for o in domain.openness)
    return domain, AIR, warm, Flow(velocity, rng.standard_normal(domain.shape)), scheme, subgrid


def both_after(problems, backend, lengths):
    """The fields of every problem after steps, by the processor's stepper and by one batch on a device.

    ``lengths``: of the steps, over the largest stable one.
    """
    steppers = [build_stepper(*problem) for problem in problems]
    largest = np.array([stepper.largest_step() for stepper in steppers])
    batch = FlowBatch([flow_problem(*problem) for problem in problems], backend)
    for length in lengths:
        for stepper, size in zip(steppers, largest, strict=True):
            stepper.take_steps(1, length * size, watchful=False)
            stepper.refresh_level()
        batch.take_steps(np.ones(len(problems), int), length * largest)
        batch.refresh_levels(range(len(problems)))
    return [(stepper.state, batch.fields(n)) for n, stepper in enumerate(steppers)]


def farthest(pair):
    """Largest difference of each field over the field's scale (over 1 where it is zero throughout)."""
    return [float(np.abs(a - b).max() / (np.abs(a).max() or 1.0)) for a, b in zip(*pair, strict=True)]
