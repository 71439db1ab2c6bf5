"""Heat sources: every limit from both sides, efficiency and COP sums by hand, the reset curve, bad profiles."""

import numpy as np
import pytest

from sim.case.errors import CaseError
from sim.house.sources import load_share, load_sources, reset_supply
from sim.house.suitable import suits

CELSIUS = 273.15
HOT, CONDENSING, PUMP = "high-temperature boiler", "condensing boiler", "heat pump"


def found(name, supply, returning, load=10000.0):
    findings = suits(load_sources()[name], supply + CELSIUS, returning + CELSIUS, load)
    return {finding.what: finding for finding in findings}


# limit by limit: what keeps it and what does not, a little on either side of the number in the profile
SIDES = [
    (HOT, "warm enough", (81.9, 70.0), (82.1, 70.0)),
    (CONDENSING, "warm enough", (81.9, 75.0), (82.1, 75.0)),
    (PUMP, "warm enough", (48.9, 43.9), (49.1, 44.1)),
    (CONDENSING, "cool enough", (30.1, 24.0), (29.9, 24.0)),
    (PUMP, "cool enough", (25.1, 21.0), (24.9, 20.9)),
    (HOT, "return protected", (65.0, 54.5), (65.0, 54.3)),
    (CONDENSING, "condensing", (60.0, 54.3), (60.0, 54.5)),
    (CONDENSING, "drop", (50.0, 44.4), (50.0, 44.6)),
    (CONDENSING, "drop", (50.0, 39.1), (50.0, 38.9)),
    (PUMP, "drop", (40.0, 35.9), (40.0, 36.1)),
    (PUMP, "drop", (40.0, 34.1), (40.0, 33.9)),
]


@pytest.mark.parametrize(("name", "what", "good", "bad"), SIDES)
def test_both_sides_of_every_limit_of_water(name, what, good, bad):
    load = 8500.0
    assert found(name, *good, load)[what].kept
    broken = found(name, *bad, load)[what]
    assert not broken.kept
    assert ";" in broken.text


@pytest.mark.parametrize(("name", "smallest", "largest"), [(HOT, 8e3, 24e3), (CONDENSING, 3e3, 18e3), (PUMP, 2e3, 9e3)])
def test_both_sides_of_the_outputs(name, smallest, largest):
    for what, good, bad, way_out in (
        ("steady running", smallest, smallest - 1.0, "; it will short-cycle, a buffer is needed"),
        ("strong enough", largest, largest + 1.0, "; the rest needs another source"),
    ):
        kept, broken = (found(name, 45.0, 40.0, load)[what] for load in (good, bad))
        assert kept.kept and ";" not in kept.text
        assert not broken.kept and broken.text.endswith(way_out)


def test_a_mixing_valve_cools_but_does_not_protect():
    # trade caution: a plain three-way valve controls the floor, it does not protect the boiler
    findings = found(HOT, 45.0, 39.5)
    assert findings["cool enough"].kept and "mixed down" in findings["cool enough"].text
    assert not findings["return protected"].kept and "three-way" in findings["return protected"].text


def test_limits_that_a_source_does_not_have_are_left_out():
    assert "condensing" not in found(PUMP, 40.0, 35.0)
    assert "return protected" not in found(CONDENSING, 40.0, 35.0)


def test_boiler_sum_by_hand():
    # published: 93 % at 120 °F (48.9 °C). 4650 W / 0.93 = 5000 W of fuel
    boiler = load_sources()[CONDENSING]
    np.testing.assert_allclose(boiler.energy(4650.0, 48.9 + CELSIUS), 5000.0, rtol=1e-9, atol=0.0)
    # between 93 % at 48.9 and 89 % at 82.2 °C: at 65.55 °C, halfway, 91 %
    np.testing.assert_allclose(boiler.ratio(65.55 + CELSIUS), 0.91, rtol=1e-9, atol=0.0)


def test_heat_pump_sum_by_hand():
    # published example: COP 4.4 at 105 °F, 1.85 at 140 °F. 4400 W / 4.4 = 1000 W; 3700 W / 1.85 = 2000 W
    pump = load_sources()[PUMP]
    np.testing.assert_allclose(pump.energy(4400.0, 40.6 + CELSIUS), 1000.0, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(pump.energy(3700.0, 60.0 + CELSIUS), 2000.0, rtol=1e-9, atol=0.0)
    # one quarter of the way from 40.6 to 60 °C: 4.4 − 2.55/4 = 3.7625
    np.testing.assert_allclose(pump.ratio(45.45 + CELSIUS), 3.7625, rtol=1e-9, atol=0.0)


def test_a_mixed_boiler_makes_its_own_water():
    # it makes 60 °C at the least and mixes: the efficiency is that of 60 °C
    boiler = load_sources()[HOT]
    np.testing.assert_allclose(boiler.ratio(40.0 + CELSIUS), 0.82, rtol=1e-12, atol=0.0)


def test_outside_the_table_nothing_is_guessed():
    with pytest.raises(ValueError, match="nothing is known of its performance at 61"):
        load_sources()[PUMP].ratio(61.0 + CELSIUS)


@pytest.mark.parametrize(("supply", "returning", "load", "words"), [(40, 40, 1e3, "cooler"), (40, 35, 0.0, "load")])
def test_senseless_demands_are_refused(supply, returning, load, words):
    with pytest.raises(ValueError, match=words):
        suits(load_sources()[PUMP], supply + CELSIUS, returning + CELSIUS, load)


WEATHER = {"room": 293.15, "design_supply": 323.15, "design_outdoor": 255.15, "limits": (293.15, 333.15)}


# T_room 20, design supply 50, design outdoors −18 °C: 20 + 30 × share^(1/1.1), worked with logarithms:
# 0.25^(0.90909) = 0.283574, 0.5^(0.90909) = 0.532525, 0.75^(0.90909) = 0.769879
@pytest.mark.parametrize(
    ("outdoor", "supply"), [(-18.0, 50.0), (-8.5, 43.0964), (1.0, 35.9758), (10.5, 28.5072), (20.0, 20.0), (25.0, 20.0)]
)
def test_reset_formula_by_hand(outdoor, supply):
    got = reset_supply(outdoor + CELSIUS, **WEATHER) - CELSIUS
    np.testing.assert_allclose(got, supply, rtol=0.0, atol=2e-3)


def test_reset_limits_and_shutdown():
    weather = WEATHER | {"limits": (300.15, 320.15)}
    assert reset_supply(250.0, **weather) == 320.15
    assert reset_supply(290.0, **weather) == 300.15
    assert reset_supply(288.14, **weather, shutdown=288.15) is not None
    assert reset_supply(288.15, **weather, shutdown=288.15) is None


@pytest.mark.parametrize("change", [{"design_outdoor": 293.15}, {"limits": (333.15, 293.15)}])
def test_reset_refuses_a_design_day_without_frost(change):
    with pytest.raises(ValueError, match="must"):
        reset_supply(273.15, **(WEATHER | change))


def test_load_share_by_hand():
    # (20 − 1)/(20 + 18) = 0.5
    np.testing.assert_allclose(load_share(274.15, room=293.15, design_outdoor=255.15), 0.5, rtol=1e-12, atol=0.0)
    assert load_share(300.0, room=293.15, design_outdoor=255.15) == 0.0


def test_every_number_of_performance_has_a_source():
    for source in load_sources().values():
        assert source.source
        assert all(why for _, _, why in source.performance)


GOOD = """[[source]]
name = "mine"
kind = "boiler"
source = "its plate"
lowest_supply_C = 30
highest_supply_C = 80
mixes = false
drop_from_K = 5
drop_to_K = 10
smallest_output_W = 2000
largest_output_W = 9000
performance = [[30, 0.9, "its plate"], [80, 0.85, "its plate"]]
"""


def test_a_profile_of_ones_own(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD)
    np.testing.assert_allclose(load_sources(path)["mine"].highest_supply, 353.15, rtol=1e-12, atol=0.0)


WRONG = [
    ("highest_supply_C = 80", "highest_suply_C = 80", 'did you mean "highest_supply_C"'),
    ("drop_from_K = 5\n", "", "missing"),
    ("drop_from_K = 5\n", "drop_from_K = 12\n", "must not be above drop_to_K"),
    ("kind = \"boiler\"", "kind = \"stove\"", "must be one of: boiler, heat pump"),
    ("mixes = false", "mixes = 0", "must be true or false"),
    ("[80, 0.85", "[20, 0.85", "from cool to hot"),
    ("[80, 0.85", "[30, 0.85", "from cool to hot"),
    ("[80, 0.85", "[80, -0.85", "from cool to hot"),
    ("smallest_output_W = 2000", "smallest_output_W = -1", "must be a number greater than 0"),
    ("lowest_supply_C = 30", "lowest_supply_C = 300", "from 0 to 95"),
    ("name = \"mine\"", "name = ", "not valid TOML"),
    (GOOD, "", "no heat source"),
    (GOOD, GOOD + GOOD, "given twice"),
]


def test_profiles_that_are_not_there_are_named(tmp_path):
    for place, words in ((tmp_path / "none.toml", "no such file"), (tmp_path, "is a folder")):
        with pytest.raises(CaseError, match=words):
            load_sources(place)


@pytest.mark.parametrize(("old", "new", "words"), WRONG)
def test_wrong_profiles_are_named(tmp_path, old, new, words):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(CaseError) as error:
        load_sources(path)
    assert words in str(error.value)


@pytest.mark.parametrize("name", [HOT, CONDENSING, PUMP])
def test_what_is_just_at_a_limit_keeps_it(name):
    source = load_sources()[name]
    warmest = suits(source, source.highest_supply, source.highest_supply - source.drop_to, 10000.0)
    kept = {finding.what: finding.kept for finding in warmest}
    assert kept["warm enough"] and kept["drop"]
    coolest = suits(source, source.lowest_supply, source.lowest_supply - source.drop_from, 10000.0)
    kept = {finding.what: finding.kept for finding in coolest}
    assert kept["cool enough"] and kept["drop"]


def test_findings_in_inch_pound_units_come_from_exact_values():
    # 110 °F and 15 °F are 43.33 °C and 8.33 K: turned back from a decimal they would read 109.9 and 14.9
    found = {one.what: one for one in suits(load_sources()["condensing boiler"], 316.4833333, 308.15, 2930.7107)}
    assert found["warm enough"].told("ip").startswith("110.0 °F wanted")
    assert found["warm enough"].told("si").startswith("43.3 °C wanted")
    assert found["drop"].told("ip").startswith("15 °F, usual are ")
    assert "10,000 Btu/h wanted" in found["strong enough"].told("ip")
