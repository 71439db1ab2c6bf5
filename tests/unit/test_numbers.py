"""Wall fluxes, peaks, middle lines and stream functions of fields whose values are known; gauges and oscillations."""

import numpy as np
import pytest
from airflow_cases import graded

from sim.airflow import numbers
from sim.airflow.box import build_box
from sim.airflow.domain import Obstacle, Sheet
from sim.airflow.flow import Flow, air_of_numbers
from sim.airflow.gauge import make_gauge, oscillation
from sim.airflow.growth import EnergyWatch
from sim.airflow.pace import SAFETY, highest_crossing, stable_step


def square(cells=12, **more):
    planes = graded(cells, 1.0)
    return build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 0.0, "x+": 1.0}, **more)


def flow_of(box, across, up, temperature=0.0):
    """A flow from two functions of (x, z) and a temperature that broadcasts."""
    x, _, z = box.domain.centres
    u = across(box.domain.edges[0][:, None, None], z) * np.ones(box.domain.openness[0].shape)
    w = up(x[:, None, None], box.domain.edges[2]) * np.ones(box.domain.openness[2].shape)
    return Flow((u, np.zeros(box.domain.openness[1].shape), w), temperature * np.ones(box.domain.shape))


def test_flux_of_a_profile_without_bend_at_the_wall_is_exact():
    """T = 2x + 3x³ from a wall at x = 0: slope 2 there; half cells alone would miss it."""
    planes = graded(9, 1.2)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 0.0})
    x = box.domain.centres[0][:, None, None]
    flux = numbers.wall_flux(box, (2.0 * x + 3.0 * x**3) * np.ones(box.domain.shape))
    np.testing.assert_allclose(flux[box.walls.select("x-")], -2.0, rtol=1e-12, atol=0.0)
    assert not flux[box.walls.select("z-")].any()


def test_flux_falls_back_to_the_half_cell_in_a_gap_one_cell_wide():
    planes = np.linspace(0.0, 1.0, 6)
    parts = {"blocks": [Obstacle("post", ((0.4, 0.6), (0.0, 1.0), (0.0, 1.0)))]}
    sheets = [Sheet("sheet", 0, 0.2, ((0.2, 0.2), (0.0, 1.0), (0.0, 1.0)))]
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 1.0}, sheets=sheets, **parts)
    flux = numbers.wall_flux(box, np.zeros(box.domain.shape))
    np.testing.assert_allclose(flux[box.walls.select("x-")], 1.0 / 0.1, rtol=1e-12, atol=0.0)


def test_extremes_along_a_wall_lie_between_cells_and_at_its_ends():
    """Flux 1 + (z − 0.4)²·(…) is replaced by a parabola whose top lies at z = 0.4, lowest at z = 1 with zero slope."""
    box = square(20)
    x, _, z = box.domain.centres
    wanted = 2.0 - (z - 0.4) ** 2
    temperature = -wanted * x[:, None, None] * np.ones(box.domain.shape)
    faces = box.walls.select("x-")
    found = numbers.wall_numbers(box, temperature, np.zeros(box.walls.count), faces)
    np.testing.assert_allclose((found.highest.value, found.highest.place[2]), (2.0, 0.4), rtol=1e-9, atol=0.0)
    assert found.lowest.place[2] == 1.0
    assert found.area == pytest.approx(1.0)


@pytest.mark.parametrize("end", [0.0, 1.0])
def test_extremes_at_an_end_are_those_of_the_even_parabola(end):
    """Flux 2 + 5 d² at the distance d from the end of the line: 2 at the end, where no cell has its centre."""
    box = square(20)
    x, _, z = box.domain.centres
    temperature = -(2.0 + 5.0 * (z - end) ** 2) * x[:, None, None] * np.ones(box.domain.shape)
    found = numbers.wall_numbers(box, temperature, np.zeros(box.walls.count), box.walls.select("x-")).lowest
    np.testing.assert_allclose((found.value, found.place[2]), (2.0, end), rtol=1e-9, atol=0.0)


def test_a_middle_between_two_lines_is_their_mean_and_no_farther_line_counts():
    """Faces at 0, 1/3, 2/3, 1 with u = x²: (1/9 + 4/9)/2 in the middle. A side that slips carries on what is there."""
    planes = np.linspace(0.0, 1.0, 4)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 0.0}, slip=["z+"])
    _, across = numbers.middle_line(box.domain, flow_of(box, lambda x, z: x**2 * (1.0 + z), lambda x, z: 0.0 * x), 0, 2)
    inner = 5.0 / 18.0 * (1.0 + box.domain.centres[2])
    np.testing.assert_allclose(across, [0.0, *inner, inner[-1]], rtol=1e-12, atol=0.0)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 0.0}, slip=["z-"])
    _, across = numbers.middle_line(box.domain, flow_of(box, lambda x, z: x**2 * (1.0 + z), lambda x, z: 0.0 * x), 0, 2)
    np.testing.assert_allclose(across, [inner[0], *inner, 0.0], rtol=1e-12, atol=0.0)


def test_middle_lines_pass_through_the_middle_and_end_at_rest():
    box = square(13)
    flow = flow_of(box, lambda x, z: x * z, lambda x, z: x + 2.0 * z)
    places, across = numbers.middle_line(box.domain, flow, 0, 2)
    np.testing.assert_allclose(across[1:-1], 0.5 * places[1:-1], rtol=1e-12, atol=0.0)
    assert (across[0], across[-1], places[0], places[-1]) == (0.0, 0.0, 0.0, 1.0)
    places, up = numbers.middle_line(box.domain, flow, 2, 0)
    np.testing.assert_allclose(up[1:-1], places[1:-1] + 1.0, rtol=1e-12, atol=0.0)


def test_stream_function_of_a_vortex():
    """u = π sin πx cos πz, w = −π cos πx sin πz has ψ = sin πx sin πz: 1 in the middle, 0 on all sides."""
    box = square(24)
    flow = flow_of(
        box,
        lambda x, z: np.pi * np.sin(np.pi * x) * np.cos(np.pi * z),
        lambda x, z: -np.pi * np.cos(np.pi * x) * np.sin(np.pi * z),
    )
    psi, (x, _, z) = numbers.stream_function(box.domain, flow), box.domain.edges
    np.testing.assert_allclose(psi, np.sin(np.pi * x)[:, None] * np.sin(np.pi * z), rtol=0.0, atol=4e-3)
    top = numbers.fastest(box.domain, flow)
    assert 0.95 * np.pi < top.value <= np.pi


def test_mean_speed_counts_air_only():
    block = Obstacle("block", ((0.0, 0.5), (0.0, 1.0), (0.0, 1.0)))
    planes = np.linspace(0.0, 1.0, 5)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1.0, 1.0), {"x-": 0.0}, blocks=[block])
    flow = flow_of(box, lambda x, z: np.where(x >= 0.5, 3.0, 0.0), lambda x, z: 0.0 * x)
    np.testing.assert_allclose(numbers.mean_speed(box.domain, flow), 3.0, rtol=1e-12, atol=0.0)


def test_divergence_is_relative_to_the_steepest_gradient():
    box = square(10)
    free = flow_of(box, lambda x, z: x + 0.0 * z, lambda x, z: -z + 0.0 * x)
    assert numbers.relative_divergence(box.domain, free) < 1e-13
    swelling = flow_of(box, lambda x, z: x + 0.0 * z, lambda x, z: 0.5 * z + 0.0 * x)
    np.testing.assert_allclose(numbers.relative_divergence(box.domain, swelling), 1.5, rtol=1e-10, atol=0.0)


def test_gauge_is_exact_for_linear_fields():
    box = square(9)
    x, _, z = box.domain.centres
    flow = flow_of(box, lambda x, z: 1.0 + x - z, lambda x, z: 2.0 * x + z, (3.0 * x)[:, None, None] + z)
    read = make_gauge(box.domain, (0.3, 0.5, 0.7))
    np.testing.assert_allclose(
        read((*flow.velocity, flow.temperature)), (1.6, 0.6, 0.0, 1.3), rtol=1e-12, atol=1e-12
    )


def test_oscillation_of_a_sine():
    """Mean 2, swing 2·0.3, period 0.8, from some ten samples a period over a broken number of periods."""
    times = np.arange(0.0, 7.3, 0.07)
    found = oscillation(times, 2.0 + 0.3 * np.sin(2.0 * np.pi * times / 0.8))
    np.testing.assert_allclose((found.mean, found.swing, found.period), (2.0, 0.6, 0.8), rtol=5e-3, atol=0.0)


def test_a_series_that_does_not_return_has_no_period():
    found = oscillation(np.linspace(0.0, 1.0, 11), np.linspace(0.0, 2.0, 11))
    assert np.isnan(found.period)
    np.testing.assert_allclose((found.mean, found.swing), (1.0, 2.0), rtol=1e-12, atol=0.0)


@pytest.mark.parametrize(("diffusivity", "pace", "speed"), [(0.5, 2.0, 1e-3), (0.0, 1.0, 1e-12), (0.5, 0.0, 1e-12)])
def test_a_flow_that_doubles_grows_by_the_logarithm_of_two(diffusivity, pace, speed):
    """Per L²/α of a box of 1 m, or where nothing diffuses per second; what is slower than 1e-10 α/L is round-off."""
    domain = square().domain
    watch, still = EnergyWatch(domain, diffusivity), [np.zeros(open_.shape) for open_ in domain.openness]
    flows = [[size * np.where(open_ > 0.0, 1.0, 0.0) for open_ in domain.openness] for size in (speed, 2.0 * speed)]
    assert watch.look(0.0, still) == (0.0, 0.0)
    assert watch.look(1.0, flows[0])[1] == 0.0
    np.testing.assert_allclose(watch.look(4.0, flows[1])[1], pace * np.log(2.0) / 3.0, rtol=1e-9, atol=0.0)


@pytest.mark.parametrize("side", ["y-", "y+"])
def test_flux_on_a_line_of_symmetry_is_that_of_the_even_parabola(side):
    """Flux 2 + 5 d² at the distance d from the plane of symmetry, in the two rows beside it: 2 on the plane itself."""
    planes, rows = graded(6, 1.2), np.array([0.0, 0.1, 0.3, 0.7, 1.0])
    box = build_box((planes, rows, planes), air_of_numbers(1.0, 1.0), {"x-": 0.0}, slip=[side])
    x, y, _ = box.domain.centres
    away = y if side == "y-" else 1.0 - y
    law = np.where(away <= np.sort(away)[1], 2.0 + 5.0 * away**2, 80.0)
    temperature = -law[:, None] * x[:, None, None] * np.ones(box.domain.shape)
    found = numbers.symmetry_line(box, temperature, box.walls.select("x-"))
    np.testing.assert_allclose(found, 2.0, rtol=1e-9, atol=0.0)


@pytest.mark.parametrize("scheme", ["central", "bounded"])
@pytest.mark.parametrize(("wave", "decay"), [(0.0, 0.0), (3.0, 0.0), (0.0, 2.0), (3.0, 2.0)])
def test_the_highest_crossing_is_that_for_which_the_step_is_just_stable(scheme, wave, decay):
    """One is the other's inverse, but for the safety; and where waves or decay alone are too quick there is none."""
    crossing = highest_crossing(0.1, wave, decay, scheme)
    np.testing.assert_allclose(stable_step(crossing, wave, decay, scheme), SAFETY * 0.1, rtol=1e-9, atol=0.0)
    assert highest_crossing(0.1, 1e3, decay, scheme) == 0.0
    assert highest_crossing(0.1, wave, 1e3, scheme) == 0.0
