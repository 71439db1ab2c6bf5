"""Cavity walls: the factor on their films, from the wall arrays to the case key."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.physics.cavity import Walls, film_flow
from sim.run import solve
from sim.solver.steady import SteadyOptions

WALLS = Walls(
    half_conductance=np.full(4, 2.0),
    area=np.array([0.1, 0.2, 0.3, 0.4]),
    orientation=np.array([1, -1, 0, 0], np.int8),
    distance=np.full(4, 0.1),
    diameter=np.array([0.0, 0.0, 0.0, 0.016]),
    emissivity=np.full(4, 0.9),
    zone=np.array([0, 0, 0, 0]),
    patch=np.arange(4),
)

LAYER = """
kind = "blocks"
[air]
film_factor = {factor}
[[box]]
name = "cold"
x = ["0 m", "0.2 m"]
y = ["0 m", "0.2 m"]
z = ["-0.01 m", "0 m"]
emissivity = 0
conductivity = "5000 W/(m*K)"
[[box]]
name = "air"
x = ["0 m", "0.2 m"]
y = ["0 m", "0.2 m"]
z = ["0 m", "0.05 m"]
air = true
[[box]]
name = "warm"
x = ["0 m", "0.2 m"]
y = ["0 m", "0.2 m"]
z = ["0.05 m", "0.06 m"]
emissivity = 0
conductivity = "5000 W/(m*K)"
[[face]]
name = "below"
on = "z-"
temperature = "20 degC"
[[face]]
name = "above"
on = "z+"
temperature = "40 degC"
"""


@pytest.mark.parametrize("factor", [0.2, 1.0, 5.0])
def test_film_factor_multiplies_flow_and_slope_of_every_wall(factor):
    surface, air = np.array([310.0, 305.0, 290.0, 320.0]), np.full(4, 300.0)
    flow, slope = film_flow(WALLS, surface, air)
    scaled, scaled_slope = film_flow(replace(WALLS, film_factor=factor), surface, air)
    assert_allclose(scaled, factor * flow, rtol=1e-12, atol=0.0)
    assert_allclose(scaled_slope, factor * slope, rtol=1e-12, atol=0.0)


def layer_flux(factor):
    result = solve(parse_case(LAYER.format(factor=factor)), options=SteadyOptions(residual=1e-8, imbalance=1e-8))
    return result.report["heat_flux_below_W_m2"]


def test_factor_of_a_case_scales_the_heat_through_a_mirrored_layer():
    # By hand: mirrors do not radiate and metal has no resistance, so two equal films in series carry all the heat
    # from 40 to 20 °C; their mid air stays at 30 °C whatever the factor, and the heat is in proportion to it.
    assert_allclose(layer_flux(3.0), 3.0 * layer_flux(1.0), rtol=1e-3, atol=0.0)


@pytest.mark.parametrize(("lines", "rule"), [
    ("film_factor = 0.1", "must be at least 0.2"),
    ("film_factor = 6", "must be at most 5"),
])  # fmt: skip
def test_a_factor_that_means_nothing_is_refused(lines, rule):
    text = f'[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n[air]\n{lines}\n'
    with pytest.raises(CaseError, match=rule):
        parse_case(text)


def test_still_air_with_the_usual_factor_is_fine():
    text = '[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n[air]\nmodel = "still"\nfilm_factor = 1\n'
    assert parse_case(text).air.film_factor == 1.0
