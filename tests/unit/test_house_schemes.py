"""How hot the water may be for each source, which spacings are tried and which is taken, who lies above whom."""

import numpy as np
import pytest
from house_cases import small

from sim.case.errors import CaseError
from sim.case.house_load import bay_case
from sim.house.curve import curve_of
from sim.house.place import circuit_limit
from sim.house.schemes import Option, Scheme, Trial, check_spacings, choose, levels, schemes, spaced, try_options
from sim.house.sources import load_sources

CELSIUS = 273.15
SOURCES = """[[source]]
name = "condensing boiler"
supply = "58 degC"

[[source]]
name = "heat pump"
supply = "42 degC"
"""


def hottest(*changes):
    """Hottest supply [°C] and why for every shipped source, the first scheme (as written) left out."""
    found = schemes(small(*changes), tuple(load_sources().values()))[1:]
    return {scheme.source.name: (scheme.hottest - CELSIUS, scheme.why) for scheme in found}


def test_hottest_water_without_a_wish():
    found = hottest((SOURCES, ""))
    # the hot boiler makes 82 °C, but 160 °F is the guideline under wood; the heat pump ends at 49 °C; the condensing
    # boiler must see less than 54.4 °C come back: with a drop of 5 K that is 59.4 °C, less 0.1 K
    np.testing.assert_allclose(
        [found[name][0] for name in ("high-temperature boiler", "heat pump", "condensing boiler")],
        [(160.0 - 32.0) / 1.8, 49.0, 59.3],
        rtol=0.0,
        atol=1e-9,
    )
    assert "design.water_limit" in found["high-temperature boiler"][1]
    assert "no hotter" in found["heat pump"][1]
    assert "condense" in found["condensing boiler"][1]


@pytest.mark.parametrize(("wish", "got"), [("58 degC", 58.0), ("60 degC", 59.3)])
def test_a_wish_counts_as_far_as_the_source_allows(wish, got):
    found = hottest(('supply = "58 degC"', f'supply = "{wish}"'))["condensing boiler"]
    np.testing.assert_allclose(found[0], got, rtol=0.0, atol=1e-9)
    assert ("wanted" in found[1]) == (got == 58.0)


def test_a_source_has_its_own_drop():
    house = small(('supply = "42 degC"', 'supply = "42 degC"\ndrop = "4 K"'))
    drops = {scheme.source.name: scheme.drop for scheme in schemes(house, tuple(load_sources().values()))[1:]}
    assert drops["heat pump"] == 4.0
    assert drops["condensing boiler"] == house.design.drop == 5.0


def test_spacings_from_wide_to_close_with_the_bays_own():
    house = small(('"235 mm", "none"]', '"300 mm", "450 mm", "none", "150 mm"]'))
    # 150 mm is shorter than the plates of 200 mm
    assert [spacing for spacing, _ in spaced(house, bay_case(house, 0))] == [None, 0.45, 0.3, 0.235]


def test_every_bay_to_choose_from_has_its_spacing():
    house = small(('"235 mm", "none"]', '"300 mm", "450 mm", "none"]'))
    for spacing, case in spaced(house, bay_case(house, 0)):
        assert (None if case.plates is None else case.plates.spacing) == spacing


def test_usual_spacings_follow_the_plates():
    house = small(('spacings = ["235 mm", "none"]\n', ""))
    # 1.125, 1.5, 2.25 and 3 times 200 mm, and the bay's own 235 mm
    found = [spacing for spacing, _ in spaced(house, bay_case(house, 0))[1:]]
    np.testing.assert_allclose(found, [0.6, 0.45, 0.3, 0.235, 0.225], rtol=1e-9, atol=0.0)


def test_a_bay_without_plates_or_across_has_one_choice():
    house = small()
    bare = bay_case(house, 0).with_(plates=None)
    assert [spacing for spacing, _ in spaced(house, bare)] == [None]


def test_a_spacing_shorter_than_every_plate_is_named():
    house = small(('"235 mm", "none"]', '"150 mm"]'))
    with pytest.raises(CaseError, match=r"design.spacings\[0\]"):
        check_spacings(house, [bay_case(house, 0)])


def trial(spacing, works, warm=True):
    option = Option(spacing, None, None)
    return Trial(option, 320.0, works, warm)


def test_the_widest_that_works_or_the_closest_that_is_warm_enough():
    wide, middle, close = (trial(0.6, False), trial(0.45, True), trial(0.235, True))
    assert choose([wide, middle, close]) is middle
    # none keeps its limits: the closest of those that are warm enough has the coolest water and the least stripe
    broken = [trial(0.6, False), trial(0.235, False)]
    assert choose(broken) is broken[1]
    cold = [trial(0.6, False, False), trial(0.235, False, False)]
    assert choose(cold) is cold[1]


def test_a_trial_holds_supply_and_limits_from_both_sides():
    case = bay_case(small(), 0)
    rows = [
        {
            "water_mean_C": 20.0 + excess,
            "heat_flux_up_W_m2": 2.0 * excess,
            "surface_peak_C": 20.0 + 0.25 * excess,
            "floor_area_m2": 1.0,
            "heat_flow_down_W": 0.0,
            "heat_flow_edge_W": 0.0,
        }
        for excess in (6.0, 14.0, 30.0, 65.0)
    ]
    option = Option(0.235, case, curve_of("bay", 293.15, rows))
    # 50 W/m² needs 25 K in the mean: e = 5 / (1 − exp(−5/25)) = 27.583 K at the supply, 47.583 °C
    for hot, works in ((47.6, True), (47.5, False)):
        (found,) = try_options([option], 50.0, Scheme(5.0, hot + CELSIUS, ""))
        np.testing.assert_allclose(found.supply - CELSIUS, 47.583, rtol=0.0, atol=1e-3)
        assert (found.works, found.warm_enough) == (works, works)
    # the floor limit of 29 °C (EN 1264-2) is met at 36 K, 72 W/m²; 73 W/m² is beyond it, whatever water there is
    hot = Scheme(5.0, 95.0 + CELSIUS, "")
    assert try_options([option], 71.0, hot)[0].works
    beyond = try_options([option], 73.0, hot)[0]
    assert beyond.warm_enough and not beyond.works
    # 200 W/m² lies beyond the curve
    assert np.isnan(try_options([option], 200.0, hot)[0].supply)


def test_rooms_come_after_those_above_them():
    assert list(levels(small())) == [[1, 2], [0]]


BY_SIZE = [("3/8", 60.0), ("1/2", 90.0), ("5/8", 120.0), ("3/4", 150.0), ("16x2", 90.0)]


@pytest.mark.parametrize(("size", "limit"), BY_SIZE)
def test_circuit_limit_by_size_unless_the_file_says(size, limit):
    # 200, 300, 400 and 500 ft, leaders included: common practice, no source
    house = small()
    assert circuit_limit(house, bay_case(house, 0, {"tube.size": size, "tube.runs": 1})) == limit
    stated = small(('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "250 ft"'))
    np.testing.assert_allclose(circuit_limit(stated, bay_case(stated, 0)), 76.2, rtol=1e-12, atol=0.0)
