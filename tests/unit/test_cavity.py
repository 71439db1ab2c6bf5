"""Walls, openings and patches of a cavity: single faces and pairs of zones by hand."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from sim.physics.cavity import Openings, Walls, film_flow, mean_emission, opening_flow, settle_walls
from sim.physics.films import cylinder_film, wall_film_and_slope

SIGMA = 5.670374419e-8


def walls(**more):
    """Two faces of 2 m², looking up and down, 0.2 m of air before them, all in zone 0 and patch 0."""
    usual = {
        "half_conductance": np.array([20.0, 20.0]),
        "area": np.array([2.0, 2.0]),
        "orientation": np.array([1, -1], np.int8),
        "distance": np.array([0.2, 0.2]),
        "diameter": np.zeros(2),
        "emissivity": np.array([0.9, 0.9]),
        "zone": np.zeros(2, np.int64),
        "patch": np.zeros(2, np.int64),
    }
    return Walls(**usual | more)


class TestFilms:
    def test_a_face_takes_half_a_layer(self):
        # Each face exchanges with air in the middle as if the layer had twice its difference: h = 2 h_layer(2 ΔT).
        surface, air = np.array([310.0, 310.0]), np.array([300.0, 300.0])
        flow, _ = film_flow(walls(), surface, air)
        up, down = (wall_film_and_slope(10.0, 0.2, way, 305.0)[0] for way in (1, -1))
        assert_allclose(flow, [2.0 * up * 10.0, 2.0 * down * 10.0], rtol=1e-9, atol=0)

    def test_faces_of_a_closed_layer_take_the_standards(self):
        # ISO 6946, heat up: 1.14 ΔT^⅓ beyond 5 K; two equal films in series make the layer
        surface, air = np.array([305.0, 295.0]), np.array([300.0, 300.0])
        flow, _ = film_flow(walls(closed=np.array([True, True])), surface, air)
        assert_allclose(flow, [2.0 * 1.14 * np.cbrt(10.0) * 10.0, -2.0 * 1.14 * np.cbrt(10.0) * 10.0], rtol=1e-9)

    def test_a_tube_has_the_film_of_a_cylinder(self):
        tube = walls(diameter=np.array([0.016, 0.0]))
        flow, _ = film_flow(tube, np.array([310.0, 310.0]), np.array([300.0, 300.0]))
        assert_allclose(flow[0], 2.0 * cylinder_film(10.0, 0.016, 305.0) * 10.0, rtol=1e-9, atol=0)

    def test_a_face_without_a_zone_has_none(self):
        flow, slope = film_flow(walls(zone=np.array([-1, 0])), np.full(2, 310.0), np.full(2, 300.0))
        assert (flow[0], slope[0]) == (0.0, 0.0)
        assert flow[1] > 0.0

    @pytest.mark.parametrize("diameter", [0.0, 0.016])
    def test_slope_is_the_derivative(self, diameter):
        faces = walls(diameter=np.array([diameter, diameter]))
        air, step = np.full(2, 300.0), 1e-3
        for surface in (np.full(2, 305.0), np.full(2, 297.0)):
            _, slope = film_flow(faces, surface, air)
            ends = [film_flow(faces, surface + s, air)[0] for s in (step, -step)]
            assert_allclose(slope, (ends[0] - ends[1]) / (2 * step), rtol=2e-2, atol=0)


class TestSettling:
    def test_surface_balance_by_hand(self):
        # G (T* − T) = h A (T − T_air) + ε A (σ T⁴ − H), each face on its own.
        foot, air, seen = np.array([320.0, 290.0]), np.array([300.0, 300.0]), np.array([450.0, 470.0])
        heat = settle_walls(walls(), foot, air, seen, np.array([300.0, 300.0]))
        for n, facing in enumerate((1, -1)):

            def excess(t, n=n, facing=facing):
                film = wall_film_and_slope(t - air[n], 0.2, facing, 0.5 * (t + air[n]))[0]
                given = film * (t - air[n]) + 0.9 * (SIGMA * t**4 - seen[n])
                return 20.0 * (foot[n] - t) - 2.0 * given

            assert_allclose(heat.temperature[n], brentq(excess, 280.0, 330.0), rtol=0, atol=2e-3)
        assert_allclose(heat.convective + heat.radiant, 20.0 * (foot - heat.temperature), rtol=1e-9, atol=0)

    def test_radiant_part_is_emission_less_absorption(self):
        seen = np.array([450.0, 470.0])
        heat = settle_walls(walls(), np.array([320.0, 290.0]), np.full(2, 300.0), seen, np.full(2, 300.0))
        assert_allclose(heat.radiant, 1.8 * (SIGMA * heat.temperature**4 - seen), rtol=1e-6, atol=0)


class TestOpenings:
    def flow(self, first, second, level):
        one = Openings(
            np.array([0]), np.array([1]), np.array([0.16]), np.array([0.4]), np.array([0.1]), np.array([level])
        )
        found, slope = opening_flow(one, np.array([first, second]), 0.0266)
        return float(found[0]), float(slope[0])

    STILL = 0.0266 * 0.16 / 0.1

    def test_upright_by_hand(self):
        # Brown and Solvason 1962: ρ c (0.65/3) A √(g H ΔT/T) ΔT, air of 300 K: 1.1768 kg/m³, 1006.4 J/(kg K).
        moving = 1.1768 * 1006.4 * 0.65 / 3 * 0.16 * np.sqrt(9.80665 * 0.4 * 2.0 / 300.0)
        for first, second, sign in ((301.0, 299.0, 1.0), (299.0, 301.0, -1.0)):
            assert_allclose(self.flow(first, second, False)[0], sign * (moving + self.STILL) * 2.0, rtol=2e-3, atol=0)

    def test_a_level_opening_moves_air_only_when_warm_below(self):
        assert_allclose(self.flow(299.0, 301.0, True)[0], -2.0 * self.STILL, rtol=1e-12, atol=0)
        assert self.flow(301.0, 299.0, True)[0] > 100 * 2.0 * self.STILL

    @pytest.mark.parametrize(("first", "second", "level"), [(301, 299, False), (299, 301, True), (301, 299, True)])
    def test_slope_is_the_derivative(self, first, second, level):
        ends = [self.flow(first + s / 2, second - s / 2, level)[0] for s in (1e-4, -1e-4)]
        assert_allclose(self.flow(first, second, level)[1], (ends[0] - ends[1]) / 2e-4, rtol=1e-4, atol=0)

    def test_none(self):
        empty = Openings(*(np.empty(0),) * 6)
        assert opening_flow(empty, np.array([300.0]), 0.0266)[0].size == 0


def test_mean_emission_by_hand():
    # Patch of 1 m² at 300 K and 3 m² at 400 K.
    faces = walls(area=np.array([1.0, 3.0]))
    expected = SIGMA * (300.0**4 + 3 * 400.0**4) / 4
    assert_allclose(mean_emission(faces, np.array([300.0, 400.0]), 1), [expected], rtol=1e-12, atol=0)
