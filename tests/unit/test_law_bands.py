"""What laws of films leave open in a number: against chains of resistances done by hand."""

import numpy as np
from numpy.testing import assert_allclose

from sim.case.fluids import water_properties
from sim.case.load import parse_case
from sim.physics.tube import nusselt_spread, nusselt_tube, reynolds_tube
from sim.study.grid_convergence import with_uncertainty

LAYER = """
kind = "blocks"
[[box]]
name = "near"
x = ["0 mm", "50 mm"]
y = ["0 mm", "50 mm"]
z = ["0 mm", "10 mm"]
conductivity = "5000 W/(m*K)"
emissivity = 0.9
[[box]]
name = "air"
x = ["0 mm", "50 mm"]
y = ["0 mm", "50 mm"]
z = ["10 mm", "60 mm"]
air = true
[[box]]
name = "far"
x = ["0 mm", "50 mm"]
y = ["0 mm", "50 mm"]
z = ["60 mm", "70 mm"]
conductivity = "5000 W/(m*K)"
emissivity = 0.05
[[face]]
name = "in"
on = "z-"
temperature = "12.5 degC"
[[face]]
name = "out"
on = "z+"
temperature = "7.5 degC"
[air]
model = "MODEL"
"""


def test_a_quarter_of_the_films_is_a_quarter_of_the_heat_by_air():
    study = with_uncertainty(parse_case(LAYER.replace("MODEL", "films")))
    found = study.estimates["heat_flux_out_W_m2"]
    # Radiation between parallel planes, 1 / (1/0.9 + 1/0.05 - 1) = 0.04972 of the black bodies'.
    radiant = 0.04972 * 5.670374e-8 * (285.65**4 - 280.65**4)
    assert_allclose(found.law, 0.25 * (abs(found.value) - radiant), rtol=0.01)
    assert found.uncertainty >= found.law > 10.0 * found.band


def test_air_that_only_conducts_has_no_law():
    assert with_uncertainty(parse_case(LAYER.replace("MODEL", "still"))).estimates["heat_flux_out_W_m2"].law == 0.0


TUBE = """
kind = "blocks"
[[box]]
name = "block"
x = ["0 mm", "100 mm"]
y = ["0 mm", "2000 mm"]
z = ["0 mm", "100 mm"]
conductivity = "5000 W/(m*K)"
[[face]]
name = "low"
on = "z-"
temperature = "20 degC"
[[face]]
name = "high"
on = "z+"
temperature = "20 degC"
[[tube]]
name = "tube"
axis = "y"
centre = ["50 mm", "50 mm"]
along = ["0 mm", "2000 mm"]
outer_diameter = "15.875 mm"
inner_diameter = "12.3 mm"
conductivity = "0.41 W/(m*K)"
supply = "45 degC"
flow = "5 l/min"
"""


def test_a_tenth_of_the_waters_film_goes_through_the_chain_of_resistances():
    study = with_uncertainty(parse_case(TUBE))
    heat = study.estimates["heat_flow_tube_W"]
    water = water_properties(318.15)
    flow = 5e-3 / 60.0 * water.density
    number = reynolds_tube(flow, 0.0123, water)
    film = 1.0 / (np.pi * water.conductivity * nusselt_tube(number, water.prandtl, 0.0123, 2.0))
    wall = np.log(15.875 / 12.3) / (2.0 * np.pi * 0.41)
    # Hardly any water cools: the heat goes as one over film and wall; the block adds next to nothing.
    assert_allclose(heat.law / abs(heat.value), 1.0 - (film + wall) / (film / 0.9 + wall), rtol=0.05)


def test_half_way_between_laminar_and_turbulent_either_may_be():
    water = water_properties(318.15)
    at = {number: nusselt_tube(number, water.prandtl, 0.0123, 60.0) for number in (2300.0, 3150.0, 4000.0)}
    flow = 3150.0 * np.pi * 0.0123 * water.viscosity / 4.0
    assert_allclose(nusselt_spread(flow, 0.0123, 60.0, water), 0.5 * (at[4000.0] - at[2300.0]) / at[3150.0], rtol=1e-6)
    assert nusselt_spread(0.5 * flow, 0.0123, 60.0, water) == nusselt_spread(2.0 * flow, 0.0123, 60.0, water) == 0.0
