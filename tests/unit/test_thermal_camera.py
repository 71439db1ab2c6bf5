"""What a thermal camera reads: limits of the formula, Planck's law in its band, and where the numbers come from."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from sim.case import parse_case
from sim.physics.thermal_camera import apparent_temperature
from sim.results.floor_camera import see_floor

BAY = """
span = "bay"
[bay]
joist_spacing = "16 in"
length = "3 m"
[[floor.covering]]
material = "{covering}"
thickness = "10 mm"
[[floor.rug]]
material = "carpet"
thickness = "8 mm"
y = ["1 m", "2 m"]
[rim]
outdoor_temperature = "-5 degC"
[water]
supply = "45 degC"
[room]
temperature = "20 degC"
{room}
"""
X, Y = np.array([0.1, 0.3]), np.array([0.5, 1.5, 2.5])
WARM = np.full((2, 3), 303.15)


def case_of(covering="oak", room=""):
    return parse_case(BAY.format(covering=covering, room=room), "camera")


def test_a_black_floor_is_read_as_it_is_and_a_mirror_as_the_room():
    floor = np.array([285.0, 300.0, np.nan])
    np.testing.assert_allclose(apparent_temperature(floor, 1.0, 293.15), floor, rtol=1e-14)
    np.testing.assert_allclose(apparent_temperature(floor[:2], 0.0, 293.15), 293.15, rtol=1e-14)
    assert apparent_temperature(293.15, 0.4, 293.15) == pytest.approx(293.15, rel=1e-14)


def test_a_warm_floor_by_hand():
    # 303.15^4 = 8.44565e9, 293.15^4 = 7.38528e9; 0.9 of the first and 0.1 of the second, fourth root: 302.19 K.
    assert apparent_temperature(303.15, 0.9, 293.15) == pytest.approx(302.19, abs=0.01)


def band(kelvin):
    """Planck's law over the wavelengths that a camera sees, 8 to 14 µm, but for a factor (CODATA 2018)."""
    c2 = 6.62607015e-34 * 2.99792458e8 / 1.380649e-23
    return quad(lambda micron: 1.0 / (micron**5 * np.expm1(c2 / (micron * 1e-6 * kelvin))), 8, 14, epsrel=1e-10)[0]


@pytest.mark.parametrize("emissivity", [0.8, 0.9, 0.95])
@pytest.mark.parametrize("room", [288.15, 298.15])
def test_all_wavelengths_stand_for_those_of_a_camera(emissivity, room):
    for floor in (283.15, 300.15, 318.15):
        received = emissivity * band(floor) + (1.0 - emissivity) * band(room)
        read = brentq(lambda kelvin, got=received: band(kelvin) - got, 270.0, 330.0, xtol=1e-7)
        assert apparent_temperature(floor, emissivity, room) == pytest.approx(read, abs=0.1)


def test_emissivities_come_from_the_library_covering_by_covering():
    seen = see_floor(case_of("aluminium 3003"), X, Y, WARM)
    assert [(one.material, one.emissivity) for one in seen.coverings] == [("aluminium 3003", 0.09), ("carpet", 0.9)]
    assert all("library" in one.source for one in seen.coverings)
    # Bare metal mirrors the room of 20 °C, the rug between 1 m and 2 m does not.
    assert (seen.apparent[:, [0, 2]] < 294.5).all() and (seen.apparent[:, 1] > 302.0).all()


def test_a_case_that_tells_radiation_apart_speaks_for_its_floor_and_room():
    room = 'law = "split"\nconvective = "3 W/(m^2*K)"\nemissivity = 0.6\nradiant_temperature = "17 degC"'
    seen = see_floor(case_of(room=room), X, Y, WARM)
    assert seen.reflected == pytest.approx(290.15) and seen.room == pytest.approx(293.15)
    assert {one.emissivity for one in seen.coverings} == {0.6}
    assert "room.emissivity" in seen.coverings[0].source and "radiant_temperature" in seen.reflected_source
    assert see_floor(case_of(), X, Y, WARM, room=291.0).reflected == 291.0
