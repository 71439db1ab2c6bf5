"""The eddy viscosity: where it must vanish, what it takes, that it stays off unless asked for."""

import numpy as np
import pytest
from airflow_cases import furnished, inner, random_planes

from sim.airflow.box import build_box, march
from sim.airflow.domain import build_domain
from sim.airflow.flow import AirProperties, Flow, air_of_numbers
from sim.airflow.momentum import Fields
from sim.airflow.row_lists import temperature_lists, velocity_lists
from sim.airflow.subgrid import VREMAN, build_subgrid, vreman_of
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


def applied(domain, state):
    """(model, rates it adds) for a state."""
    walls = find_walls(domain)
    lists = (*(velocity_lists(domain, c) for c in range(3)), temperature_lists(domain, walls, np.zeros(walls.count)))
    model = build_subgrid(domain, VREMAN, state)
    after, rates = (Fields(*map(np.zeros_like, state)) for _ in range(2))
    model.apply(state, after, rates, 1.0, lists)
    return model, rates


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
