"""One pressure a step: what a step keeps, how its error falls, how long it may be, what a march goes on from."""

from dataclasses import replace

import numpy as np
import pytest
from airflow_cases import divergence, furnished, graded, inner, random_stepper

from sim.airflow.box import build_box, march
from sim.airflow.domain import Obstacle, Sheet
from sim.airflow.flow import AirProperties, Flow, air_of_numbers
from sim.airflow.step import Stepper, build_stepper

STILL = AirProperties(viscosity=0.0, diffusivity=0.0, buoyancy=0.0, conductivity=0.0)
PLANES = np.linspace(0.0, 1.0, 13)


def of_box(box, flow):
    """A stepper for a box of air."""
    return build_stepper(box.domain, box.air, box.wall_temperature, flow, box.scheme, box.subgrid)


def apart(first, second):
    """The largest difference of two steppers' velocities."""
    return max(np.abs(a - b).max() for a, b in zip(first.state[:3], second.state[:3], strict=True))


def swirl(box):
    """A smooth flow in a box, along x and z."""
    rest = box.start()
    x, z = box.domain.edges[0][:, None, None], box.domain.centres[2]
    velocity = (np.sin(np.pi * x) * np.cos(np.pi * z) + 0.0 * rest.velocity[0], *rest.velocity[1:])
    return Flow(velocity, rest.temperature + 0.3 * np.cos(np.pi * box.domain.centres[0])[:, None, None])


@pytest.mark.parametrize("alone", [True, False])
def test_no_divergence_and_rest_at_blocked_faces(rng, monkeypatch, alone):
    """At round-off after every step; blocked faces are at rest in every stage."""
    air = AirProperties(viscosity=1e-3, diffusivity=1e-3, buoyancy=2.0, conductivity=1e-3)
    stepper = random_stepper(rng, furnished(rng, open_area=0.4), air)
    take = Stepper._take_steps_alone if alone else Stepper._take_steps_shared
    size = 0.5 * stepper.largest_step()
    for _ in range(4):
        take(stepper, 1, size, np.inf)
        worst = np.abs(divergence(stepper.domain, stepper.state)).max()
        assert worst < 1e-12 * max(np.abs(f).max() for f in stepper.state[:3]) / stepper.domain.widths[0].min()
        for fields in (stepper.state, stepper.after):
            for field, openness in zip(fields[:3], stepper.domain.openness, strict=True):
                assert not field[openness == 0.0].any()
    projected = []
    monkeypatch.setattr(type(stepper.pressure), "project", lambda *_: projected.append(1))
    stepper._take_steps_shared(3, 0.1 * size, np.inf)
    assert len(projected) == 3


def test_second_order_in_the_step():
    """Halving the step divides what it changes by four, or by more where the scheme's third order still shows."""
    box = build_box((PLANES, PLANES[::2], PLANES), AirProperties(1e-3, 1e-3, 1.0, 1e-3), {"x-": 1.0, "x+": 0.0})
    coarse, middle, fine = (of_box(box, swirl(box)) for _ in range(3))
    for stepper, count in ((coarse, 8), (middle, 16), (fine, 32)):
        stepper.take_steps(count, 0.8 / count, watchful=False)
    assert 3.3 < apart(coarse, middle) / apart(middle, fine) < 10.0


def test_energy_of_an_ideal_flow(rng):
    """Without friction a step loses kinetic energy with a high power of its length, and makes none."""
    domain, lost = furnished(rng), []
    start = random_stepper(rng, domain, STILL)
    size = 0.4 * start.largest_step()
    for parts in (1, 2):
        stepper = random_stepper(np.random.default_rng(3), domain, STILL)
        before = inner(domain, stepper.state, stepper.state)
        stepper.take_steps(20 * parts, size / parts, watchful=False)
        lost.append(1.0 - inner(domain, stepper.state, stepper.state) / before)
    assert 0.0 < lost[0] < 0.05
    assert 0.0 < lost[1] < lost[0] / 4.0


def test_steady_flow_does_not_know_the_step():
    box = build_box((PLANES, [0.0, 1.0], PLANES), air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0})
    flow = march(box, until=3.0)
    whole, halved = of_box(box, flow), of_box(box, flow)
    size = whole.largest_step()
    whole.take_steps(40, size)
    halved.take_steps(40, 0.4 * size)
    assert apart(whole, halved) < 1e-10 * np.abs(flow.velocity[0]).max()


def test_pressure_of_air_at_rest_carries_its_weight():
    """Where warmth depends on height alone nothing moves, and p/ρ rises by g β T over each cell (hydrostatics)."""
    box = build_box((PLANES, PLANES, graded(8)), AirProperties(0.1, 0.1, 2.5, 0.1), {})
    warmth = np.broadcast_to(np.linspace(-1.0, 1.0, 8) ** 2, box.domain.shape).copy()
    stepper = of_box(replace(box, air=replace(box.air, diffusivity=0.0)), Flow(box.start(0.0).velocity, warmth))
    stepper.level[:] = 0.0
    stepper.take_steps(3, 1e-3, watchful=False)
    centres, middle = box.domain.centres[2], 0.5 * (warmth[0, 0, 1:] + warmth[0, 0, :-1])
    np.testing.assert_allclose(np.diff(stepper.mean[3, 4]) / np.diff(centres), 2.5 * middle, rtol=1e-9, atol=0.0)
    assert max(np.abs(f).max() for f in stepper.state[:3]) < 1e-14


@pytest.mark.parametrize("alone", [True, False])
def test_every_stage_without_divergence_is_of_third_order(monkeypatch, alone):
    """For flows whose course counts: half the step, an eighth of the error."""
    monkeypatch.setattr("sim.airflow.step.SMALLEST_SHARED_LOOP", 1e9 if alone else 0)
    box = build_box((PLANES, [0.0, 1.0], PLANES), air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0})
    flow = march(box, until=0.02)

    def after(parts):
        """The flow after eight longest steps, each in so many parts."""
        stepper = build_stepper(box.domain, box.air, box.wall_temperature, flow, every_stage=True)
        stepper.take_steps(8 * parts, size / parts, watchful=False)
        return stepper

    size = of_box(box, flow).largest_step()
    best = after(16)
    errors = [apart(after(parts), best) for parts in (1, 2, 4)]
    assert errors[0] > 6.0 * errors[1] > 36.0 * errors[2]


def layers(scheme):
    """Air heated from above: waves, no flow."""
    return build_box((PLANES, [0.0, 1.0], PLANES), air_of_numbers(1e9, 0.71), {"z-": -0.5, "z+": 0.5}, scheme=scheme)


def rolls(scheme):
    """Air heated from below."""
    walls = {"z-": 0.5, "z+": -0.5}
    return build_box((PLANES, [0.0, 1.0], PLANES), air_of_numbers(1e5, 0.71), walls, scheme=scheme)


def with_parts(scheme):
    """Air around a warm block and below a sheet."""
    block = Obstacle("b", ((0.25, 0.5), (0.0, 1.0), (0.25, 0.5)))
    sheet = Sheet("s", 2, 0.75, ((0.25, 0.75), (0.0, 1.0), (0.0, 0.0)))
    walls = {"x-": 0.5, "x+": -0.5, "b": 0.5}
    edges = (PLANES, PLANES[::4], PLANES)
    return build_box(edges, air_of_numbers(1e6, 0.71), walls, blocks=[block], sheets=[sheet], scheme=scheme)


@pytest.mark.parametrize("scheme", ["central", "bounded"])
@pytest.mark.parametrize("make", [layers, rolls, with_parts])
def test_the_longest_step_is_stable(make, scheme):
    """Steps without any safety, many times: no flow exceeds what buoyancy can give, √(2 g β ΔT L), in any cell."""
    box = make(scheme)
    noise = np.random.default_rng(0).standard_normal(box.domain.shape)
    begun = box.start(np.linspace(-0.5, 0.5, 12) + 0.01 * noise if make is layers else 0.1 * noise)
    flow = march(box, begun, until=0.02)
    stepper = of_box(box, flow)
    for _ in range(40):
        stepper.take_steps(10, stepper.largest_step() / 0.9, watchful=False)
        stepper.refresh_level()
        assert max(np.abs(f).max() for f in stepper.state[:3]) < np.sqrt(2.0 * box.air.buoyancy)


def test_goes_on_from_what_it_keeps():
    """State, mean pressure and whether it had begun: what a checkpoint holds is all that the next step needs."""
    box = rolls("bounded")
    flow = march(box, box.start(0.1 * np.random.default_rng(0).standard_normal(box.domain.shape)), until=0.02)
    first = of_box(box, flow)
    first.take_steps(5, size := 0.9 * first.largest_step(), watchful=False)
    second = of_box(box, flow)
    for own, kept in zip(second.state, first.state, strict=True):
        own[:] = kept
    second.mean[:], second.begun = first.mean, first.begun
    for stepper in (first, second):
        stepper.take_steps(5, size, watchful=False)
    assert apart(first, second) == 0.0
    third = of_box(box, flow)
    for own, kept in zip(third.state, second.state, strict=True):
        own[:] = kept
    second.take_steps(1, size, watchful=False)
    third.take_steps(1, size, watchful=False)
    assert apart(second, third) > 0.0
