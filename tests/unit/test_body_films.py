"""Films of bodies at the cavity's air, held against air at rest, which has them by hand, and against correlations."""

import pytest

import sim
from sim.case.load import parse_case
from sim.physics.films import cylinder_film
from sim.results.people import quantity
from tests.hung_plate import hung_text

# warm above: the air stays at rest, its mean lies half-way, and each wall is half of 40 mm of it away: h = 2 k / d
AT_REST = """
kind = "blocks"
[[box]]
name = "air"
x = ["0 m", "0.1 m"]
y = ["0 m", "1 m"]
z = ["0 m", "0.04 m"]
air = true
[[box]]
name = "warm lid"
x = ["0 m", "0.1 m"]
y = ["0 m", "1 m"]
z = ["0.04 m", "0.05 m"]
temperature = "40 degC"
emissivity = 0
[[box]]
name = "cool floor"
x = ["0 m", "0.1 m"]
y = ["0 m", "1 m"]
z = ["-0.01 m", "0 m"]
temperature = "20 degC"
emissivity = 0
{more}
[air]
model = "resolved"
companion = false
error = 0.001
conductivity = "0.026 W/(m K)"
cell = "5 mm"
wall_cell = "2 mm"
"""
PLATE = """
[[box]]
name = "plate"
x = ["0.03 m", "0.07 m"]
y = ["0 m", "1 m"]
z = ["0.0195 m", "0.0205 m"]
conductivity = "0.026 W/(m K)"
emissivity = 0
"""


@pytest.fixture(scope="module")
def at_rest():
    return sim.solve(parse_case(AT_REST.format(more=PLATE))).report


@pytest.mark.parametrize("name", ["warm_lid", "cool_floor"])
def test_air_at_rest_has_films_of_half_its_layer(at_rest, name):
    assert at_rest[f"wall_{name}_film_W_m2K"] == pytest.approx(2.0 * 0.026 / 0.04, rel=0.01)


def test_a_body_as_warm_as_the_air_has_none(at_rest):
    """A plate half-way, as conductive as air: its sides differ from the mean by a kelvin at most, up and down."""
    assert "wall_plate_mean_C" in at_rest
    assert "wall_plate_film_W_m2K" not in at_rest


def test_a_tube_has_the_film_of_its_law():
    """Correlations: that of a cylinder as much warmer than its zone, and walls that take heat have one as well."""
    result = sim.solve(parse_case(hung_text(0.0015, model="films")))
    report, zones = result.report, result.solution.state.air
    mean = report["wall_pipe_mean_C"] + 273.15
    beside = [float(cylinder_film(mean - air, 0.016, 0.5 * (mean + air))) for air in zones]
    assert min(beside) <= report["wall_pipe_film_W_m2K"] * 1.02
    assert report["wall_pipe_film_W_m2K"] <= 1.02 * max(beside)
    assert report["wall_lid_film_W_m2K"] > 0.0 > report["wall_lid_convective_W"]


def test_how_it_is_told():
    told = quantity("wall_warm_lid_film_W_m2K")
    assert (told.group, told.label, told.unit.si) == ("Cavity walls", "wall warm lid film", "W/m²K")
