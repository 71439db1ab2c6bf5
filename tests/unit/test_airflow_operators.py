"""The discrete terms keep what the continuous ones keep: energy, symmetry, heat, bounds, axes."""

from dataclasses import replace

import numpy as np
import pytest
from airflow_cases import divergence, furnished, inner, random_planes, random_stepper, rates

from sim.airflow.domain import Obstacle, Sheet, build_domain
from sim.airflow.flow import AirProperties
from sim.airflow.row_lists import velocity_lists
from sim.airflow.rows import Lateral, across, across_cells

STILL = AirProperties(viscosity=0.0, diffusivity=0.0, buoyancy=0.0, conductivity=0.0)
VISCOUS = AirProperties(viscosity=0.3, diffusivity=0.7, buoyancy=0.0, conductivity=0.7)


def warm_walls(rng):
    """Two walls in three have a temperature, the rest is adiabatic."""
    return lambda walls: np.where(rng.random(walls.count) < 0.67, rng.standard_normal(walls.count), np.nan)


def test_advection_keeps_kinetic_energy(rng):
    """Verstappen & Veldman 2003: central fluxes with arithmetic averages are skew-symmetric on any grid."""
    domain = furnished(rng)
    stepper = random_stepper(rng, domain, STILL)
    change = rates(stepper)
    scale = inner(domain, [np.abs(f) for f in stepper.state], [np.abs(f) for f in change])
    np.testing.assert_allclose(inner(domain, stepper.state, change), 0.0, rtol=0.0, atol=1e-14 * scale)


def disturb(stepper, rng):
    """Give a stepper a flow that is not free of divergence, as stages within a step have it."""
    for field, openness in zip(stepper.state[:3], stepper.domain.openness, strict=True):
        field[...] = rng.standard_normal(field.shape) * (openness > 0.0)


def test_advection_keeps_kinetic_energy_within_a_step(rng):
    """In skew-symmetric form whatever the carriers' divergence."""
    domain = furnished(rng)
    stepper = random_stepper(rng, domain, STILL)
    disturb(stepper, rng)
    change = rates(stepper)
    scale = inner(domain, [np.abs(f) for f in stepper.state], [np.abs(f) for f in change])
    np.testing.assert_allclose(inner(domain, stepper.state, change), 0.0, rtol=0.0, atol=1e-14 * scale)


@pytest.mark.parametrize("scheme", ["central", "bounded"])
def test_uniform_temperature_stays_within_a_step(rng, scheme):
    """Whatever the carriers' divergence."""
    stepper = random_stepper(rng, furnished(rng, open_area=0.4), STILL, scheme=scheme)
    disturb(stepper, rng)
    stepper.state.temperature[...] = 300.0
    np.testing.assert_allclose(rates(stepper)[3], 0.0, rtol=0.0, atol=1e-9)


def test_central_advection_keeps_heat_and_its_square(rng):
    domain = furnished(rng)
    stepper = random_stepper(rng, domain, STILL)
    change, t = rates(stepper)[3] * domain.volumes, stepper.state.temperature
    np.testing.assert_allclose([change.sum(), (t * change).sum()], 0.0, rtol=0.0, atol=1e-13 * np.abs(change).sum())


@pytest.mark.parametrize("scheme", ["central", "bounded"])
def test_uniform_temperature_stays(rng, scheme):
    """Advection uses the fluxes that fill the cells."""
    domain = furnished(rng, open_area=0.4)
    stepper = random_stepper(rng, domain, STILL, scheme=scheme)
    stepper.state.temperature[...] = 300.0
    np.testing.assert_allclose(rates(stepper)[3], 0.0, rtol=0.0, atol=1e-9)


@pytest.mark.parametrize("open_area", [0.0, 0.4])
def test_friction_is_symmetric_and_takes_energy(rng, open_area):
    """⟨a, D b⟩ = ⟨D a, b⟩ with walls, a plane of symmetry, a block and a sheet; D from rates with and without ν."""
    domain = furnished(rng, open_area=open_area, slip=("y+",))
    loss_free = replace(domain, loss=tuple(np.zeros_like(a) for a in domain.loss))

    def friction():
        stepper = random_stepper(rng, loss_free, VISCOUS)
        viscous = rates(stepper)
        stepper.air = STILL
        return [np.array(f) for f in stepper.state], [a - b for a, b in zip(viscous, rates(stepper), strict=True)]

    (a, rate_a), (b, rate_b) = friction(), friction()
    np.testing.assert_allclose(inner(domain, a, rate_b), inner(domain, rate_a, b), rtol=1e-10, atol=0.0)
    assert inner(domain, a, rate_a) < 0.0


def test_conduction_is_symmetric(rng):
    domain = furnished(rng, open_area=0.4)
    cold = lambda walls: np.where(walls.side < 3, 0.0, np.nan)  # noqa: E731
    a, b = (random_stepper(rng, domain, VISCOUS, cold) for _ in range(2))
    for stepper in (a, b):
        for field in stepper.state[:3]:
            field[...] = 0.0
    volumes = domain.volumes * domain.air
    first = np.sum(volumes * a.state.temperature * rates(b)[3])
    second = np.sum(volumes * b.state.temperature * rates(a)[3])
    np.testing.assert_allclose(first, second, rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("scheme", ["central", "bounded"])
def test_air_gains_exactly_what_walls_give(rng, scheme):
    """ρ c dT/dt summed over the air is the sum of the wall faces' heat flows, inside solids nothing changes."""
    domain = furnished(rng, open_area=0.4)
    stepper = random_stepper(rng, domain, VISCOUS, warm_walls(rng), scheme)
    flows = stepper.heat_flow()
    rate = rates(stepper)[3]
    gained = VISCOUS.heat_capacity * np.sum(rate * domain.volumes)
    np.testing.assert_allclose(gained, flows.sum(), rtol=0.0, atol=1e-12 * np.abs(flows).sum())
    assert not rate[domain.solid > 0].any()


def test_buoyant_work_is_lost_potential_energy(rng):
    """Σ V w g β T = d/dt Σ V g β z T without conduction: the exchange neither makes nor destroys energy."""
    domain = furnished(rng)
    air = replace(STILL, buoyancy=2.5)
    stepper = random_stepper(rng, domain, air)
    with_buoyancy = rates(stepper)
    stepper.air = STILL
    force = with_buoyancy[2] - rates(stepper)[2]
    work = inner(domain, [0.0, 0.0, stepper.state.z], [0.0, 0.0, force])
    lifted = 2.5 * np.sum(with_buoyancy[3] * domain.volumes * domain.centres[2])
    np.testing.assert_allclose(work, lifted, rtol=1e-10, atol=0.0)


def test_bounded_advection_makes_no_new_extremes(rng):
    """A step profile carried by a random flow for many small steps stays within 0 and 1."""
    domain = build_domain([random_planes(rng, 4) for _ in range(3)])
    stepper = random_stepper(rng, domain, STILL, scheme="bounded")
    stepper.state.temperature[...] = rng.random(domain.shape) > 0.5
    central = random_stepper(rng, domain, STILL)
    for own, other in zip(central.state, stepper.state, strict=True):
        own[...] = other
    for s in (stepper, central):
        s.take_steps(30, 0.3 * s.largest_step())
    ranges = [np.ptp(s.state.temperature) for s in (stepper, central)]
    assert ranges[0] <= 1.0 + 1e-3
    assert ranges[1] > 1.2  # what the bounded scheme is for


def test_porous_sheet_slows_by_its_loss(rng):
    """Δp = K ρ u²/2 spread over the distance of the cell centres (Idelchik's K at 40 % holes, from its formula)."""
    domain = furnished(rng, open_area=0.4)
    stepper = random_stepper(rng, domain, STILL)
    with_loss, u = rates(stepper)[0], np.array(stepper.state.x)
    free = random_stepper(rng, replace(domain, loss=tuple(np.zeros_like(a) for a in domain.loss)), STILL)
    for own, other in zip(free.state, stepper.state, strict=True):
        own[...] = other
    porous = domain.loss[0] > 0.0
    gap = np.diff(domain.centres[0])[2 * 3 - 1]
    expected = -0.5 * (0.707 * 0.6**0.5 + 0.6) ** 2 / 0.4**2 * np.abs(u[porous]) * u[porous] / gap
    np.testing.assert_allclose((with_loss - rates(free)[0])[porous], expected, rtol=1e-9, atol=1e-12)


def test_tight_sheet_lets_nothing_through(rng):
    """Two halves parted by a sheet: no volume and no heat passes, whatever happens on one side."""
    edges = [random_planes(rng, 3) for _ in range(3)]
    whole = ((0.0, 1.0),) * 3
    domain = build_domain(edges, sheets=[Sheet("s", 2, 1 / 3, whole)])
    stepper = random_stepper(rng, domain, VISCOUS)
    stepper.state.temperature[:, :, 3:] = 5.0
    stepper.state.temperature[:, :, :3] = 1.0
    stepper.take_steps(5, 0.5 * stepper.largest_step())
    assert not stepper.state.z[:, :, 3].any()
    np.testing.assert_allclose(stepper.state.temperature[:, :, 3:], 5.0, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(stepper.state.temperature[:, :, :3], 1.0, rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("scheme", ["central", "bounded"])
@pytest.mark.parametrize("order", [(1, 0, 2), (2, 1, 0), (1, 2, 0)])
def test_axes_are_equal(rng, order, scheme):
    """The same problem with its axes exchanged gives the same rates (gravity off)."""
    planes = [random_planes(rng, n) for n in (2, 3, 4)]
    box = ((1 / 3, 2 / 3), (0.0, 2 / 3), (1 / 3, 1.0))
    domain = build_domain(planes, [Obstacle("b", box)])
    turned = build_domain([planes[a] for a in order], [Obstacle("b", tuple(box[a] for a in order))])
    stepper = random_stepper(rng, domain, VISCOUS, scheme=scheme)
    other = random_stepper(rng, turned, VISCOUS, scheme=scheme)
    for axis in range(3):
        other.state[axis][...] = stepper.state[order[axis]].transpose(order)
    other.state.temperature[...] = stepper.state.temperature.transpose(order)
    expected, found = rates(stepper), rates(other)
    for axis in range(3):
        np.testing.assert_allclose(found[axis], expected[order[axis]].transpose(order), rtol=0.0, atol=1e-10)
    np.testing.assert_allclose(found[3], expected[3].transpose(order), rtol=0.0, atol=1e-10)


def test_shared_and_single_loops_agree(rng):
    """The compiled round of steps and the threaded one are the same numbers."""
    domain = furnished(rng, open_area=0.4)
    seeds = [(np.random.default_rng(1), np.random.default_rng(2)) for _ in "ab"]
    steppers = [random_stepper(first, domain, VISCOUS, warm_walls(second)) for first, second in seeds]
    size = 0.5 * steppers[0].largest_step()
    steppers[0]._take_steps_alone(3, size, np.inf)
    steppers[1]._take_steps_shared(3, size, np.inf)
    for a, b in zip(steppers[0].state, steppers[1].state, strict=True):
        np.testing.assert_allclose(a, b, rtol=0.0, atol=1e-13)
    scale = np.abs(steppers[0].state.x).max() / domain.widths[0].min()
    np.testing.assert_allclose(divergence(domain, steppers[0].state), 0.0, rtol=0.0, atol=1e-11 * scale)


def test_edge_of_a_sheet_drags_by_its_half_cell():
    """A sheet below ends at a face of u: it covers only the half cell on its own side, here 1 of 1 + 3 parts."""
    edges = [np.array([0.0, 1.0, 4.0]), np.array([0.0, 1.0]), np.array([0.0, 0.5, 1.0])]
    domain = build_domain(edges, sheets=[Sheet("s", 2, 0.5, ((0.0, 1.0), (0.0, 1.0), (0.0, 0.0)))])
    lists = velocity_lists(domain, 0)
    row = slice(lists.wall_start[1], lists.wall_start[2])
    factors = np.zeros(2)
    np.add.at(factors, lists.wall_place[row], lists.wall_factor[row])
    whole = 2.0 / 0.5**2  # no-slip at half a width: floor or ceiling fully, the sheet by its share
    np.testing.assert_allclose(factors, whole * (1.0 + 0.25), rtol=1e-12, atol=0.0)


def test_a_cell_gains_what_its_four_sides_bring():
    """A 2 between 3 (west), 5, 7 (south) and 11. Diffusion by factors 1, 10, 100 and 1000: 1 + 30 + 500 + 9000. Speeds
    1, 2, 3 and 4 with half factors of one: a velocity gains 1 · 3 − 2 · 5 + 3 · 7 − 4 · 11 = −30, a temperature
    1 (3 − 2) − 2 (5 − 2) + 3 (7 − 2) − 4 (11 − 2) = −26."""
    one, q = np.ones(1), np.full(1, 2.0)
    beside = tuple(np.full(1, value) for value in (3.0, 5.0, 7.0, 11.0))
    speeds = [value * one for value in (1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 4.0, 4.0)]
    for carriers, factors, velocity, temperature in (
        ([0.0 * one] * 8, Lateral(1.0, 1.0, 1.0, 10.0, 100.0, 1000.0), 9531.0, 9531.0),
        (speeds, Lateral(1.0, 1.0, 0.0, 0.0, 0.0, 0.0), -30.0, -26.0),
    ):
        rate = np.zeros(1)
        across(rate, q, beside, tuple(carriers), (0.5, 0.5, 0.5, 0.5), factors)
        assert rate[0] == velocity
        across_cells(rate, q, beside, tuple(carriers[::2]), factors)
        assert rate[0] == temperature
