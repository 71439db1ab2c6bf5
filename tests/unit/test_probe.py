"""Temperatures at points, read from solved blocks whose fields are known."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.build_up import mesh_fineness
from sim.case.load import load_case, parse_case
from sim.results.face_temperature import face_temperature
from sim.run import solve
from sim.solver.steady import SteadyOptions
from sim.verify.folder import load_checks

TIGHT = SteadyOptions(residual=1e-9, imbalance=1e-10, linear_tolerance=1e-6)


def box(name, x, z, conductivity):
    return f"""
[[box]]
name = "{name}"
x = ["{x[0]} m", "{x[1]} m"]
y = ["0 m", "0.1 m"]
z = ["{z[0]} m", "{z[1]} m"]
conductivity = "{conductivity} W/(m*K)"
"""


def face(name, on, text):
    return f'\n[[face]]\nname = "{name}"\non = "{on}"\n{text}\n'


def probe(name, *point):
    places = ", ".join(f'"{p} m"' for p in point)
    return f'\n[[probe]]\nname = "{name}"\npoint = [{places}]\n'


def solved(*parts):
    return solve(parse_case('kind = "blocks"\n' + "".join(parts)), options=TIGHT)


WALL = (box("low", (0, 0.2), (0, 0.04), 0.1), box("high", (0, 0.2), (0.04, 0.1), 0.3))
ENDS = face("warm", "z-", 'temperature = "50 degC"') + face("cold", "z+", 'temperature = "20 degC"')


@pytest.mark.parametrize("z", [0.0, 0.001, 0.0133, 0.04, 0.0777, 0.1])
def test_layers_by_hand(z):
    # R = 0.4 + 0.2 m²K/W, 30 K across: 50 W/m², so 500 K/m in the first and 166.7 K/m in the second layer.
    expected = 50.0 - 500.0 * min(z, 0.04) - 50.0 / 0.3 * max(z - 0.04, 0.0)
    report = solved(*WALL, ENDS, probe("p", 0.1, 0.05, z)).report
    assert_allclose(report["probe_p_C"], expected, rtol=0, atol=1e-6)


@pytest.mark.parametrize("place", [(0.0, 0.0, 0.02), (0.2, 0.1, 0.02), (0.07, 0.03, 0.02)])
def test_adiabatic_sides_read_as_the_inside(place):
    assert_allclose(solved(*WALL, ENDS, probe("p", *place)).report["probe_p_C"], 40.0, rtol=0, atol=1e-6)


def test_a_contact_has_two_temperatures_weighted_by_conductivity():
    # 0.06 m²K/W more in the plane of the interface: 30 / 0.66 W/m²; below it 50 − q 0.4, above it 20 + q 0.2.
    contact = '\n[[contact]]\naxis = "z"\nat = "0.04 m"\nresistance = "0.06 m^2*K/W"\n'
    flux = 30.0 / 0.66
    below, above = 50.0 - 0.4 * flux, 20.0 + 0.2 * flux
    result = solved(*WALL, ENDS, contact, probe("p", 0.1, 0.05, 0.04))
    assert_allclose(result.report["probe_p_C"], 0.25 * below + 0.75 * above, rtol=0, atol=1e-6)
    high = face_temperature(result.cells, result.solution, 2, high=True)
    low = face_temperature(result.cells, result.solution, 2, high=False)
    at = result.grid.plane(2, 0.04)
    assert_allclose(high[0, 0, at - 1] - 273.15, below, rtol=0, atol=1e-6)
    assert_allclose(low[0, 0, at] - 273.15, above, rtol=0, atol=1e-6)


def test_surface_under_a_film_by_hand():
    # 0.1 m²K/W of film: 30 / 0.7 W/m², surface 20 + 0.1 q.
    film = face("warm", "z-", 'temperature = "50 degC"') + face(
        "cold", "z+", 'film = "10 W/(m^2*K)"\nambient = "20 degC"'
    )
    report = solved(*WALL, film, probe("p", 0.1, 0.05, 0.1)).report
    assert_allclose(report["probe_p_C"], 20.0 + 3.0 / 0.7, rtol=0, atol=1e-6)


def test_a_corner_leans_on_the_better_conductor():
    # A metal strip beside wood, both warm below and cold above: at their common edge on the top the metal rules.
    parts = box("metal", (0, 0.1), (0, 0.1), 200.0) + box("wood", (0.1, 0.2), (0, 0.1), 0.1)
    ends = face("warm", "z-", 'temperature = "50 degC"') + face(
        "cold", "z+", 'film = "10 W/(m^2*K)"\nambient = "20 degC"'
    )
    report = solved(parts, ends, probe("edge", 0.1, 0.05, 0.1), probe("metal", 0.0, 0.05, 0.1)).report
    assert abs(report["probe_edge_C"] - report["probe_metal_C"]) < 0.5


def test_void_has_no_temperature():
    parts = box("left", (0, 0.1), (0, 0.1), 0.2) + box("right", (0.1, 0.2), (0, 0.05), 0.2)
    ends = face("warm", "z-", 'temperature = "50 degC"') + face("cold", "z+", 'temperature = "20 degC"')
    assert np.isnan(solved(parts, ends, probe("p", 0.15, 0.05, 0.08)).report["probe_p_C"])


@pytest.mark.parametrize("model", ["still", "films"])
def test_air_between_equal_plates(model):
    # Plates of 50 and 20 °C on either side: still air is linear between them, mixed air halfway (heat downward, same
    # film on both plates).
    air = '\n[[box]]\nair = true\nx = ["0 m", "0.2 m"]\ny = ["0 m", "0.1 m"]\nz = ["0.01 m", "0.05 m"]\n'
    parts = box("cold", (0, 0.2), (0, 0.01), 500) + air + box("warm", (0, 0.2), (0.05, 0.06), 500)
    ends = face("cold", "z-", 'temperature = "20 degC"') + face("warm", "z+", 'temperature = "50 degC"')
    report = solved(f'[air]\nmodel = "{model}"\n', parts, ends, probe("p", 0.1, 0.05, 0.03)).report
    assert_allclose(report["probe_p_C"], 35.0, rtol=0, atol=0.05)


def test_no_probes_no_work():
    assert not [key for key in solved(*WALL, ENDS).report.values if key.startswith("probe")]


COLUMN = Path(__file__).parents[2] / "cases" / "verification" / "orthotropic-column"


def test_a_curved_field_is_read_as_well_as_it_is_solved():
    """Half as large cells, a quarter of the error at every point, wherever in its cell it lies (Fourier series)."""
    case, checks = load_case(COLUMN / "case.toml"), load_checks(COLUMN).checks
    sizes = [mesh_fineness(case).scaled(scale) for scale in (1.0, 0.5)]
    found = [solve(case, fineness=size, options=TIGHT).report for size in sizes]
    assert len(checks) == 28
    for check in checks:
        coarse, fine = (abs(report[check.key] - check.published) for report in found)
        assert fine <= 0.3 * coarse + 1e-4, check.key
