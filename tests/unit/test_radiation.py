"""Closure of exchange areas and gray enclosures against solved textbook problems.

Inputs of the enclosures: Cengel, Heat and Mass Transfer, examples 13-7, 13-8, 13-9; Incropera et al.,
Fundamentals of Heat and Mass Transfer, bake oven with a reradiating wall and concentric cryogenic tubes.
Answers are the hand solutions of their radiosity equations; the books round sigma to 5.67e-8 W/m2K4.
"""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.physics.radiation import (
    STEFAN_BOLTZMANN,
    enforce,
    total_exchange,
)
from sim.physics.view_factors import trace_exchange

BOOK = 5.67e-8 / STEFAN_BOLTZMANN  # brings a heat flow to the rounded constant of the books


def random_enclosure(rng, size):
    """A closed, reciprocal exchange matrix and its areas."""
    exchange = rng.random((size, size))
    exchange += exchange.T
    return exchange, exchange.sum(axis=1)


def radiative_heat_flow(total, temperature):
    """Net heat flow from each patch [W]: the sum of F (σ T⁴ − σ T′⁴) over all others."""
    power = STEFAN_BOLTZMANN * np.asarray(temperature, dtype=float) ** 4
    return np.sum(np.asarray(total) * (power[:, None] - power[None, :]), axis=1)


def heat_flows(total, temperature, insulated):
    """Heat flows [W] and temperatures [K]; the `insulated` patches take the temperature of no net flow."""
    power = STEFAN_BOLTZMANN * np.asarray(temperature, dtype=float) ** 4
    free, held = np.flatnonzero(insulated), np.flatnonzero(~np.asarray(insulated))
    balance = np.diag(total.sum(axis=1)) - total
    power[free] = np.linalg.solve(balance[np.ix_(free, free)], -balance[np.ix_(free, held)] @ power[held])
    found = (power / STEFAN_BOLTZMANN) ** 0.25
    return radiative_heat_flow(total, found), found


@pytest.fixture(scope="module")
def joist_bay():
    """Exchange areas per metre of an infinite channel 0.368 m x 0.235 m: sides 0, 1, floor 2, ceiling 3."""
    edges = [np.linspace(0, 0.368, 13), np.array([0.0, 1.0]), np.linspace(0, 0.235, 9)]
    opaque = np.zeros((12, 1, 8), dtype=bool)
    across, up = np.arange(12), np.arange(8)
    walls = [(0, 0, k) for k in up] + [(11, 0, k) for k in up]
    cell = np.array(walls + [(i, 0, 0) for i in across] + [(i, 0, 7) for i in across])
    side = np.repeat([0, 1, 4, 5], [8, 8, 12, 12])
    patch = np.repeat([0, 1, 2, 3], [8, 8, 12, 12])
    mirror = (False, False, True, True, False, False)
    areas = np.array([0.235, 0.235, 0.368, 0.368])
    exchange, _ = trace_exchange(edges, opaque, cell, side, patch, mirror, 2**18)
    return enforce(exchange, areas, np.ones(4, bool)), areas


class TestEnforce:
    @pytest.mark.parametrize("size", [2, 7, 60])
    def test_closed_and_reciprocal(self, rng, size):
        exchange, areas = random_enclosure(rng, size)
        noisy = exchange * rng.uniform(0.5, 1.5, exchange.shape)
        closed = enforce(noisy, areas)
        assert_array_equal(closed, closed.T)
        assert (closed >= 0).all()
        assert_allclose(closed.sum(axis=1), areas, rtol=1e-12)

    def test_closed_matrix_is_kept(self, rng):
        exchange, areas = random_enclosure(rng, 20)
        assert_allclose(enforce(exchange, areas), exchange, rtol=1e-12)

    def test_zeros_stay(self, rng):
        exchange, areas = random_enclosure(rng, 12)
        exchange[3, 5] = exchange[5, 3] = 0.0
        closed = enforce(exchange, areas, zero_diagonal=np.arange(12) % 2 == 0)
        assert closed[3, 5] == 0.0 and closed[5, 3] == 0.0
        assert_array_equal(closed.diagonal() == 0, np.arange(12) % 2 == 0)
        assert_allclose(closed.sum(axis=1), areas, rtol=1e-12)

    def test_other_area_than_traced(self, rng):
        exchange, areas = random_enclosure(rng, 30)
        areas[:4] *= pi / 4
        assert_allclose(enforce(exchange, areas).sum(axis=1), areas, rtol=1e-12)

    def test_very_unequal_patches(self, rng):
        areas = 10.0 ** rng.uniform(-5, 0, 40)
        factor = areas / areas.sum()
        traced = areas[:, None] * factor * rng.uniform(0.8, 1.2, (40, 40))
        closed = enforce(traced, areas)
        assert_allclose(closed.sum(axis=1), areas, rtol=1e-12)
        assert_array_equal(closed, closed.T)

    def test_surplus_stays_at_home(self):
        # Plates of 1 m2 and 2 m2 that see only each other: reciprocity allows an exchange of 1 m2.
        closed = enforce([[0.0, 1.0], [1.1, 0.0]], [1.0, 2.0], zero_diagonal=[True, True])
        assert_allclose(closed, [[0, 1], [1, 1]], rtol=0, atol=1e-5)
        assert_allclose(closed.sum(axis=1), [1.0, 2.0], rtol=1e-12)

    def test_the_unit_of_area_does_not_matter(self):
        # Three plates of which two see the first alone: it cannot give away all that it has, in m² or in cm².
        traced, areas = np.array([[0.0, 1.0, 0.5], [1.1, 0.0, 0.2], [0.4, 0.3, 0.0]]), np.array([5.0, 1.0, 0.5])
        assert_allclose(enforce(1e-4 * traced, 1e-4 * areas), 1e-4 * enforce(traced, areas), rtol=1e-9)

    def test_a_patch_whose_own_rays_are_lost_is_known_by_those_of_others(self):
        assert_allclose(enforce([[0.0, 0.0], [1.0, 0.0]], [1.0, 1.0]), [[0.0, 1.0], [1.0, 0.0]], rtol=1e-12)

    def test_sparse_samples(self, rng):
        # Patches that few rays connect, with areas that the traced pairs alone could not fill.
        for _ in range(20):
            size = int(rng.integers(3, 40))
            traced = rng.random((size, size)) * (rng.random((size, size)) < 2.5 / size)
            traced += np.roll(np.diag(rng.uniform(0.1, 1, size)), 1, axis=1)
            areas = traced.sum(axis=1) * rng.uniform(0.5, 2, size)
            closed = enforce(traced, areas, np.ones(size, bool))
            assert_array_equal(closed, closed.T)
            assert (closed >= 0).all()
            assert_allclose(closed.sum(axis=1), areas, rtol=1e-12)

    def test_denser_rays_weigh_more(self):
        # Traced areas 1 and 0.1 m2, so weights of 1 and 10: (1 * 0.12 + 10 * 0.08) / 11. The areas asked
        # for are those of the averaged matrix, so that nothing is left to scale.
        mean = 0.92 / 11
        closed = enforce([[0.88, 0.12], [0.08, 0.02]], [0.88 + mean, 0.02 + mean])
        assert_allclose(closed, [[0.88, mean], [mean, 0.02]], rtol=1e-12)

    @pytest.mark.parametrize(
        ("exchange", "areas", "message"),
        [
            (np.eye(2), [1.0], "do not fit"),
            (np.array([[0.0, -1.0], [1.0, 0.0]]), [1.0, 1.0], "not negative"),
            (np.array([[0.0, np.nan], [1.0, 0.0]]), [1.0, 1.0], "finite"),
            (np.ones((2, 2)), [1.0, 0.0], "greater than 0"),
            (np.diag([1.0, 0.0]), [1.0, 1.0], "patch 1 sees no other"),
        ],
    )
    def test_refused(self, exchange, areas, message):
        with pytest.raises(ValueError, match=message):
            enforce(exchange, areas)


class TestTotalExchange:
    def test_black_walls(self, rng):
        exchange, areas = random_enclosure(rng, 9)
        assert_allclose(total_exchange(exchange, areas, np.ones(9)), exchange, rtol=1e-14, atol=1e-14)

    @pytest.mark.parametrize("size", [2, 15])
    def test_radiosity_equations(self, rng, size):
        exchange, areas = random_enclosure(rng, size)
        emissivity = rng.uniform(0.03, 1.0, size)
        temperature = rng.uniform(280, 330, size)
        total = total_exchange(exchange, areas, emissivity)
        assert_array_equal(total, total.T)
        assert_allclose(total.sum(axis=1), emissivity * areas, rtol=1e-13)
        # J = eps sigma T^4 + (1 - eps) F J; q = A (J - F J)
        factor = exchange / areas[:, None]
        source = emissivity * STEFAN_BOLTZMANN * temperature**4
        radiosity = np.linalg.solve(np.eye(size) - (1 - emissivity)[:, None] * factor, source)
        expected = areas * (radiosity - factor @ radiosity)
        flow = radiative_heat_flow(total, temperature)
        assert_allclose(flow, expected, rtol=1e-9, atol=1e-9)
        assert_allclose(flow.sum(), 0, rtol=0, atol=1e-10)

    def test_bright_walls(self, rng):
        # As all emissivities vanish, radiation fills the enclosure evenly: F_ij -> eA_i eA_j / sum(eA).
        exchange, areas = random_enclosure(rng, 6)
        emissivity = 1e-7 * rng.uniform(1, 5, 6)
        absorbing = emissivity * areas
        total = total_exchange(exchange, areas, emissivity)
        assert_allclose(total, np.outer(absorbing, absorbing) / absorbing.sum(), rtol=1e-5)

    def test_perfect_mirror_takes_no_part(self, rng):
        exchange, areas = random_enclosure(rng, 4)
        total = total_exchange(exchange, areas, [0.9, 0.0, 0.3, 1.0])
        assert_array_equal(total[1], 0.0)

    @pytest.mark.parametrize(
        ("emissivity", "message"),
        [([0.9, 1.2], "within 0..1"), ([0.9], "within 0..1"), ([0.0, 0.0], "absorbing")],
    )
    def test_refused(self, emissivity, message):
        with pytest.raises(ValueError, match=message):
            total_exchange([[0.0, 1.0], [1.0, 0.0]], [1.0, 1.0], emissivity)

    def test_open_rows_refused(self):
        with pytest.raises(ValueError, match="sum to the patch areas"):
            total_exchange([[0.0, 0.9], [0.9, 0.0]], [1.0, 1.0], [0.9, 0.9])


class TestTextbooks:
    def test_parallel_plates(self):
        # Cengel 13-7: 800 K and 500 K, emissivities 0.2 and 0.7.
        total = total_exchange([[0.0, 1.0], [1.0, 0.0]], [1.0, 1.0], [0.2, 0.7])
        assert_allclose(BOOK * radiative_heat_flow(total, [800.0, 500.0]), [3625.37, -3625.37], rtol=2e-6)

    @pytest.mark.parametrize(
        ("top_base", "expected"), [(0.38, [27.597, -2.130, -25.468]), (0.381966, [27.570, -2.155, -25.415])]
    )
    def test_cylindrical_furnace(self, top_base, expected):
        # Cengel 13-8: radius and height 1 m; the second row with the exact factor of coaxial discs.
        disc, wall = pi, 2 * pi
        to_wall = disc * (1 - top_base)
        facing = disc * top_base
        exchange = [[0, facing, to_wall], [facing, 0, to_wall], [to_wall, to_wall, wall - 2 * to_wall]]
        total = total_exchange(exchange, [disc, disc, wall], [0.8, 0.4, 1.0])
        flow = BOOK * radiative_heat_flow(total, [700.0, 500.0, 400.0])
        assert_allclose(flow, 1e3 * np.array(expected), rtol=0, atol=1.0)

    def test_triangular_duct(self):
        # Cengel 13-9: 600 K (0.7), 1000 K (black), third side insulated, sides of 1 m.
        exchange = 0.5 * (1 - np.eye(3))
        total = total_exchange(exchange, np.ones(3), [0.7, 1.0, 0.6])
        flow, _ = heat_flows(total, [600.0, 1000.0, 0.0], [False, False, True])
        assert_allclose(BOOK * flow, [-28010, 28010, 0], rtol=0, atol=1.0)

    @pytest.mark.parametrize("oven_wall", [0.1, 0.8, 1.0])
    def test_bake_oven(self, oven_wall):
        # Incropera: 1200 K (0.8), panels 500 K (0.4), third side insulated: whatever its emissivity.
        total = total_exchange(0.5 * (1 - np.eye(3)), np.ones(3), [0.8, 0.4, oven_wall])
        flow, temperature = heat_flows(total, [1200.0, 500.0, 0.0], [False, False, True])
        assert_allclose(BOOK * flow[:2], [36982, -36982], rtol=0, atol=1.0)
        assert_allclose(temperature[2], 1102.17, rtol=0, atol=0.01)

    def test_concentric_tubes(self):
        # Incropera: diameters 20 mm (77 K, 0.02) and 50 mm (300 K, 0.05): 0.49881 W/m into the inner one.
        inner, outer = pi * 0.02, pi * 0.05
        total = total_exchange([[0, inner], [inner, outer - inner]], [inner, outer], [0.02, 0.05])
        assert_allclose(BOOK * radiative_heat_flow(total, [77.0, 300.0])[0], -0.49881, rtol=2e-5)

    @pytest.mark.parametrize(
        ("top", "bottom", "flux", "side_temperature"),
        [
            (0.9, 0.9, 53.471, 28.710),
            (0.05, 0.9, 3.9685, 22.514),
            (0.9, 0.05, 3.9685, 34.546),
            (0.05, 0.05, 2.0607, None),
        ],
    )
    def test_joist_bay_with_reradiating_sides(self, joist_bay, top, bottom, flux, side_temperature):
        # Infinite channel, ceiling 35 °C, floor 22 °C: radiosity equations with the factors of crossed
        # strings, unrounded sigma.
        exchange, areas = joist_bay
        total = total_exchange(exchange, areas, [0.9, 0.9, bottom, top])
        flow, temperature = heat_flows(total, [0.0, 0.0, 295.15, 308.15], [True, True, False, False])
        assert_allclose(flow[3] / 0.368, flux, rtol=0.001)
        assert_allclose(flow[2] / 0.368, -flux, rtol=0.001)
        if side_temperature is not None:
            assert_allclose(temperature[:2] - 273.15, side_temperature, rtol=0, atol=0.02)

    @pytest.mark.parametrize(
        ("top", "expected"), [(0.9, [62.570, -44.372, -14.249]), (0.05, [3.626, -12.856, 7.227])]
    )
    def test_joist_bay_with_sides_held(self, joist_bay, top, expected):
        # The same with gray sides held at 25 °C: top, bottom, side fluxes.
        exchange, areas = joist_bay
        total = total_exchange(exchange, areas, [0.9, 0.9, 0.9, top])
        flux = radiative_heat_flow(total, [298.15, 298.15, 295.15, 308.15]) / areas
        assert_allclose([flux[3], flux[2], flux[:2].mean()], expected, rtol=0.002, atol=0.01)
