"""The eddy viscosity: where it must vanish, what it takes, that it stays off unless asked for."""

from dataclasses import replace

import numpy as np
import pytest
from airflow_cases import furnished, inner, random_planes

from sim.airflow.box import build_box, march
from sim.airflow.domain import build_domain
from sim.airflow.flow import AirProperties, Flow, air_of_numbers
from sim.airflow.momentum import Fields
from sim.airflow.pace import decay_rate
from sim.airflow.row_lists import temperature_lists, velocity_lists
from sim.airflow.step import build_stepper
from sim.airflow.subgrid import TURBULENT_PRANDTL, VREMAN, build_subgrid, shear, stretch, vreman_of
from sim.airflow.walls import find_walls


@pytest.mark.parametrize(("i", "j"), [(i, j) for i in range(3) for j in range(3)])
def test_vanishes_in_one_sided_gradients(i, j):
    """Vreman 2004, section II: zero where only one element of the velocity gradient is not."""
    slopes = np.zeros((3, 3))
    slopes[i, j] = 2.0
    np.testing.assert_allclose(vreman_of(tuple(slopes.T), np.array([1.0, 2.0, 3.0])), 0.0, rtol=0.0, atol=1e-12)


def test_strain_by_hand():
    """Plane strain α = diag(a, −a, 0) on cubes of width Δ: B = Δ⁴ a⁴, αα = 2 a², so √(B/αα) = Δ² a / √2."""
    slopes = np.diag([3.0, -3.0, 0.0])
    found = vreman_of(tuple(slopes.T), np.full(3, 0.25))
    np.testing.assert_allclose(found, 0.25 * 3.0 / np.sqrt(2.0), rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_strain_along_any_axis_by_hand(axis):
    """α = a along an axis and −a/2 across it, on cubes: B = Δ⁴ a⁴ (1/4 + 1/4 + 1/16), αα = 3/2 a²."""
    slopes = np.diag(np.where(np.arange(3) == axis, 4.0, -2.0))
    found = vreman_of(tuple(slopes.T), np.full(3, 0.25))
    np.testing.assert_allclose(found, 0.25 * 4.0 * np.sqrt((9.0 / 16.0) / 1.5), rtol=1e-12, atol=0.0)


def applied(domain, state):
    """(model, rates it adds in a stage) for a state."""
    walls = find_walls(domain)
    lists = (*(velocity_lists(domain, c) for c in range(3)), temperature_lists(domain, walls, np.zeros(walls.count)))
    model = build_subgrid(domain, VREMAN, state)
    model.find(state, lists)
    return model, model.extra


def test_takes_energy_and_keeps_momentum_and_heat(rng):
    domain = furnished(rng)
    velocity = [rng.standard_normal(o.shape) * (o > 0.0) for o in domain.openness]
    state = Fields(*velocity, rng.standard_normal(domain.shape))
    model, rates = applied(domain, state)
    assert model.viscosity.min() >= 0.0 < model.viscosity.max()
    assert not model.viscosity[~domain.air].any()
    assert inner(domain, state, rates) < 0.0
    heat = rates.temperature * domain.volumes
    np.testing.assert_allclose(heat.sum(), 0.0, rtol=0.0, atol=1e-12 * np.abs(heat).sum())
    assert np.sum(heat * state.temperature) < 0.0


def test_rigid_rotation_feels_nothing(rng):
    """The stress is 2 ν_t S, and S = 0 in a rotation, inside and away from the walls."""
    domain = build_domain([random_planes(rng, 3) for _ in range(3)])
    x, y, z = domain.centres
    ex, ey, _ = domain.edges
    shape = [np.ones(o.shape) for o in domain.openness]
    state = Fields(-y[:, None] * shape[0], x[:, None, None] * shape[1], 0.0 * shape[2], np.zeros(domain.shape))
    _, rates = applied(domain, state)
    for rate in rates[:3]:
        np.testing.assert_allclose(rate[2:-2, 2:-2, 2:-2], 0.0, rtol=0.0, atol=1e-12)


def test_off_by_default_and_small_in_a_resolved_flow():
    planes = np.linspace(0.0, 1.0, 21)
    numbers, walls = air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0}
    plain = build_box((planes, [0.0, 1.0], planes), numbers, walls)
    assert plain.subgrid == 0.0
    modelled = build_box((planes, [0.0, 1.0], planes), numbers, walls, subgrid=VREMAN)
    heat = [box.heat_flow(march(box, until=0.05), "x-") for box in (plain, modelled)]
    np.testing.assert_allclose(heat[1], heat[0], rtol=0.02, atol=0.0)
    assert heat[0] != heat[1]


def test_calms_a_flow_that_is_too_fine_for_the_grid(rng):
    """Without viscosity nothing but the model can take energy from a random flow."""
    planes = np.linspace(0.0, 1.0, 11)
    still = AirProperties(viscosity=0.0, diffusivity=0.0, buoyancy=0.0, conductivity=0.0)
    speeds = []
    for constant in (0.0, VREMAN):
        box = build_box((planes, planes, planes), still, {}, subgrid=constant)
        start = box.start(0.0)
        seeded = np.random.default_rng(1)
        noise = tuple(seeded.standard_normal(f.shape) for f in start.velocity)
        begun = march(box, Flow(noise, start.temperature), until=1e-9, step=1e-9)
        flow = march(box, begun, until=0.05)
        speeds.append(np.sum(flow.cell_velocity**2))
    assert speeds[1] < 0.95 * speeds[0]


def test_negative_constant_is_refused():
    planes = np.linspace(0.0, 1.0, 4)
    box = build_box((planes, planes, planes), air_of_numbers(1e3, 0.71), {}, subgrid=-1.0)
    with pytest.raises(ValueError, match="subgrid is -1.0"):
        march(box, until=1.0)


def test_a_uniform_strain_and_a_uniform_gradient_leave_nothing_inside():
    """On cells of 1, 2 and 3 m: u = 2 x with ν_t = 1 gives the same stress everywhere, T = 3 x with a mixing of 1 the
    same flux, 3; so no force on inner faces, and heat in the outer cells alone: 3/1 in the first, −3/3 in the last."""
    width, faces, centres = np.array([1.0, 2.0, 3.0]), np.array([0.0, 1.0, 3.0, 6.0]), np.array([0.5, 2.0, 4.5])

    def line(values):
        return np.asarray(values, float).reshape(-1, 1, 1)

    rate, heating = np.zeros((4, 1, 1)), np.zeros((3, 1, 1))
    eddy = line([TURBULENT_PRANDTL] * 3)
    stretch(0, 1, line(2.0 * faces), line(3.0 * centres), np.ones((4, 1, 1)), eddy, width, (rate, heating))
    np.testing.assert_allclose(rate[1:-1], 0.0, rtol=0.0, atol=1e-12)
    np.testing.assert_allclose(heating[:, 0, 0], [3.0, 0.0, -1.0], rtol=0.0, atol=1e-12)


def test_a_uniform_shear_leaves_nothing_inside():
    """u = 2 y and v = 3 x with ν_t = 1 on cells of 1, 2 and 3 m and of 2, 1 and 4 m: a stress of 5 everywhere, so that
    only the outermost rows of faces are pulled, by 5 over their width."""
    dx, dy = np.array([1.0, 2.0, 3.0]), np.array([2.0, 1.0, 4.0])
    x, y = (np.cumsum(width) - 0.5 * width for width in (dx, dy))
    u, v = np.tile(2.0 * y, (4, 1))[:, :, None], np.tile(3.0 * x[:, None], (1, 4))[:, :, None]
    rate_u, rate_v = np.zeros_like(u), np.zeros_like(v)
    shear(0, 1, (u, v), (np.ones_like(u), np.ones_like(v)), np.ones((3, 3, 1)), (dx, dy), (rate_u, rate_v))
    np.testing.assert_allclose(rate_u[1:3, :, 0], [[2.5, 0.0, -1.25]] * 2, rtol=0.0, atol=1e-12)
    np.testing.assert_allclose(rate_v[:, 1:3, 0].T, [[5.0, 0.0, -5.0 / 3.0]] * 2, rtol=0.0, atol=1e-12)
    assert not rate_u[[0, 3]].any() and not rate_v[:, [0, 3]].any()
    # an edge between a row of cells with ν_t = 1 and one with none has half of it
    rate_u, rate_v, eddy = np.zeros_like(u), np.zeros_like(v), np.ones((3, 3, 1))
    eddy[1:] = 0.0
    shear(0, 1, (u, v), (np.ones_like(u), np.ones_like(v)), eddy, (dx, dy), (rate_u, rate_v))
    np.testing.assert_allclose(rate_u[1:3, :, 0], [[1.25, 0.0, -0.625], [0.0, 0.0, 0.0]], rtol=0.0, atol=1e-12)


def swirled(seed=1):
    """A box of air with two warm sides, and a smooth flow in it that is free of divergence after one small step."""
    planes = np.linspace(0.0, 1.0, 9)
    air = AirProperties(viscosity=1e-3, diffusivity=1e-3, buoyancy=1.0, conductivity=1e-3)
    box = build_box((planes, planes, planes), air, {"x-": 1.0, "x+": 0.0}, subgrid=VREMAN)
    x, z = planes[:, None, None], planes[:-1] + 0.0625
    start = box.start()
    velocity = (np.sin(np.pi * x) * np.cos(np.pi * z) + 0.0 * start.velocity[0], *start.velocity[1:])
    noise = np.random.default_rng(seed).standard_normal(start.temperature.shape)
    return box, march(box, Flow(velocity, start.temperature + 0.1 * noise), until=1e-9, step=1e-9)


def stepped(box, flow, size, count):
    """State after some steps of a length [s], the model's eddies left out or not as the box says."""
    stepper = build_stepper(box.domain, box.air, box.wall_temperature, flow, "central", box.subgrid)
    stepper.take_steps(count, size, watchful=False)
    return stepper


def apart(first, second):
    """The largest difference of velocities and temperatures of two steppers."""
    return max(np.abs(a - b).max() for a, b in zip(first.state, second.state, strict=True))


def test_a_short_step_adds_once_what_the_model_says():
    """The weights of the three stages sum to one: the model adds its rate to the temperature, times the step."""
    box, flow = swirled()
    size = 1e-5
    with_eddies, without = (stepped(b, flow, size, 1) for b in (box, replace(box, subgrid=0.0)))
    added = (with_eddies.state.temperature - without.state.temperature) / size
    wanted = applied(box.domain, Fields(*flow.velocity, flow.temperature))[1].temperature
    np.testing.assert_allclose(added, wanted, rtol=0.0, atol=1e-3 * np.abs(wanted).max())


def test_rates_are_found_once_a_step_and_held(monkeypatch):
    """First order in the step: what halving it changes falls to a half."""
    box, flow = swirled()
    coarse, middle, fine = (stepped(box, flow, 0.16 / count, count) for count in (4, 8, 16))
    assert 0.35 < apart(middle, fine) / apart(coarse, middle) < 0.6
    begun = []
    find = type(fine.subgrid).find
    monkeypatch.setattr(type(fine.subgrid), "find", lambda *given: (begun.append(1), find(*given)))
    fine.take_steps(3, 1e-3, watchful=False)
    assert len(begun) == 3


def test_a_steady_flow_does_not_know_the_step():
    """Where nothing changes the held rates are those of every stage."""
    planes = np.linspace(0.0, 1.0, 9)
    planes = (planes, [0.0, 1.0], planes)
    box = build_box(planes, air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0}, subgrid=10.0 * VREMAN)
    flow = march(box, until=3.0)
    size = build_stepper(box.domain, box.air, box.wall_temperature, flow, box.scheme, box.subgrid).largest_step()
    whole, halved = stepped(box, flow, size, 40), stepped(box, flow, 0.5 * size, 40)
    assert whole.subgrid.viscosity.max() > 0.05 * box.air.viscosity
    assert apart(whole, halved) < 1e-11 * np.abs(whole.state.x).max()


def test_held_eddies_allow_shorter_steps_than_friction():
    """Third-order Runge-Kutta bears a decay of 2.51, Euler's explicit scheme, which is what holding makes of it, 2."""
    still, viscous = (AirProperties(nu, nu, 0.0, 0.0) for nu in (0.0, 3.0))
    np.testing.assert_allclose(decay_rate(viscous, 5.0), 60.0 / 2.51, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(decay_rate(still, 5.0, loss=7.0), 7.0 / 2.51, rtol=1e-12, atol=0.0)
    eddies = 60.0 / TURBULENT_PRANDTL / 2.0
    np.testing.assert_allclose(decay_rate(still, 5.0, 3.0), eddies, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(decay_rate(viscous, 5.0, 3.0, 7.0), 67.0 / 2.51 + eddies, rtol=1e-12, atol=0.0)
