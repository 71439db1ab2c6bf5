"""Means and budgets."""

import numpy as np
import pytest
from airflow_cases import furnished, graded, random_stepper

from sim.airflow.box import build_box, march
from sim.airflow.flow import AirProperties, air_of_numbers
from sim.airflow.statistics import Averager, face_volumes, kinetic_budget
from sim.airflow.step import build_stepper


def test_budget_of_any_flow(rng):
    """Advection gives nothing; friction and sheets take; buoyancy is the work on the faces."""
    domain = furnished(rng, open_area=0.4)
    air = AirProperties(viscosity=0.3, diffusivity=0.7, buoyancy=2.0, conductivity=0.7)
    stepper = random_stepper(rng, domain, air)
    before = [f.copy() for f in stepper.state]
    budget = kinetic_budget(stepper)
    assert budget.friction < 0.0 and budget.sheets < 0.0
    np.testing.assert_allclose(budget.advection, 0.0, rtol=0.0, atol=1e-9 * abs(budget.friction))
    t, w = stepper.state.temperature, stepper.state.z
    lift = 2.0 * (0.5 * (t[:, :, 1:] + t[:, :, :-1]) - stepper.level[1:-1]) * w[:, :, 1:-1]
    expected = np.sum(face_volumes(domain, 2)[:, :, 1:-1] * lift)
    np.testing.assert_allclose(budget.buoyancy, expected, rtol=1e-9, atol=0.0)
    for kept, now in zip(before, stepper.state, strict=True):
        np.testing.assert_array_equal(now, kept)


def test_the_budget_of_a_steady_flow_closes():
    """Buoyancy's work is friction's loss."""
    planes = graded(20, 1.0)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0})
    flow = march(box, until=5.0, steady=1e-7)
    stepper = build_stepper(box.domain, box.air, box.wall_temperature, flow)
    budget = kinetic_budget(stepper)
    np.testing.assert_allclose(budget.buoyancy, -budget.friction, rtol=1e-6, atol=0.0)


def test_mean_of_a_steady_flow_is_the_flow():
    planes = graded(12, 0.5)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1e3, 0.71), {"x-": 1.0, "x+": 0.0})
    flow = march(box, until=2.0, steady=1e-8)
    averager = Averager(after=flow.time)
    march(box, flow, until=flow.time + 0.5, listener=averager)
    np.testing.assert_allclose(averager.flow().temperature, flow.temperature, rtol=0.0, atol=1e-7)
    np.testing.assert_allclose(averager.heat_flow()[box.walls.select("x-")].sum(), box.heat_flow(flow, "x-"), rtol=1e-6)


def test_nothing_averaged_is_said():
    with pytest.raises(ValueError, match="nothing averaged"):
        Averager().flow()
