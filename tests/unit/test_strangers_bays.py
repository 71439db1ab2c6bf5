"""What strangers met on bays of their own: shallow joists, air by correlations, cold below, words that a bay lacks."""

import math
from types import SimpleNamespace

import pytest

from sim.case.load import load_case, parse_case
from sim.cli.load import load
from sim.cli.warnings import way_to_air
from sim.physics.learned_bands import computed_over_correlations
from sim.results.air_words import correlations_words
from sim.results.bay_answer import Asked, left_open
from sim.results.law_errors import (
    LONG,
    MOST_DRAINED,
    OPEN_DOWN,
    OPEN_SHINING,
    OPEN_SHINING_BARE,
    UNTAUGHT,
    drained,
    wider,
)
from sim.results.report import Report
from sim.rules.cautions import bay_cautions
from sim.rules.limits import hold, limits_for
from sim.rules.ways_out import ways_out
from sim.study.spacing import _ways
from sim.study.water import Target, _more

HUNG = """
[bay]
joist_spacing = "16 in"
joist_depth = "{depth}"
[plates]
position = "hung"
drop = "{drop}"
width = "{width}"
length = "{length}"
[tube]
runs = 1
[cavity]
insulation = "none"
[water]
supply = "{supply}"
[room]
temperature = "20 °C"
"""
USUAL = {"depth": "9 1/4 in", "drop": "2 in", "width": "5 in", "length": "8 in", "supply": "50 °C"}


def bay(**changes):
    return parse_case(HUNG.format(**USUAL | changes), "stranger")


@pytest.mark.parametrize("depth", ["3 1/2 in", "4 in"])
def test_joists_too_shallow_for_any_hole_say_so(depth):
    # 2 in must stay above and below: nothing is left of 4 in
    (found,) = [c for c in bay_cautions(bay(depth=depth), {}, "ip") if c.key == "hole_mm"]
    assert found.broken and math.isfinite(found.badness)
    assert f"no hole at all in joists of {depth}, for 2 in must stay above and below" in found.text


def ways(case, **report):
    told = {"water_supply_C": 80.0, "heat_flux_up_W_m2": 40.0, "surface_mean_C": 24.0} | report
    return ways_out(case, told, hold(limits_for(case), told), "si")


def test_what_would_help_is_what_the_bay_can_have():
    assert ways(bay())[-1] == "With cooler water the same heat needs closer or wider plates, or a second run."
    across = bay().with_(**{"tube.direction": "across", "plates.width": "4 in"})
    assert ways(across)[-1] == "With cooler water the same heat needs closer or wider plates, or runs closer together."
    hot = Target("heat_flux_up_W_m2", 90.0, 0.0)
    assert _more(across, hot).startswith("; closer or wider plates or runs closer together would give more")
    assert _ways(across, "heat_flux_up_W_m2") == "warmer water or runs closer together would give more"
    oak = load_case("cases/demo/family-oak.toml")
    assert ways(oak)[-1] == "With cooler water the same heat needs closer or wider plates, or a thinner covering."


OUTSIDE = [
    {"width": "12 in"},  # 305 mm against 210 mm
    {"drop": "6 in"},  # 152 mm against 105 mm
    {"supply": "92 °C"},
    {"depth": "450 mm"},  # of air, against 400 mm
]


@pytest.mark.parametrize("changes", OUTSIDE)
def test_where_learned_films_do_not_reach_the_first_answer_says_so_and_the_way_out(changes):
    case = bay(**changes)
    report = {"heat_flux_up_W_m2": 40.0, "ripple_K": 1.0, "cavity_air_C": 40.0}
    said = left_open(report, Asked.of(case).law)
    assert said.startswith("Quick answer: the air follows correlations, as it lies outside what was computed: ")
    assert "times the stripes" in said and "the gap may be wider" in said
    assert "joistbay run CASE --air resolved (" in way_to_air(case)


def test_where_they_reach_the_answer_says_that_it_is_the_quick_one_and_how_to_be_surer():
    assert correlations_words([bay()]) == ""
    assert "joistbay run 'my bay.toml' --air resolved (" in way_to_air(bay(), "'my bay.toml'")
    assert way_to_air(bay()).endswith(" on this machine when idle; --fineness coarse takes less).")


def test_plates_longer_than_any_that_taught_are_said_to_be():
    long = bay(length="48 in")  # 1.22 m against 0.7 m
    law, report = Asked.of(long).law, {"air_band_up_percent": 6.0, "air_nearer_percent": 100.0}
    assert "Its plates are longer than any there" in left_open(report, law)
    assert wider(long, {"water_supply_C": 50.0}) == (LONG, LONG * OPEN_DOWN, LONG)
    assert Asked.of(bay()).law == "" and wider(bay(), {"water_supply_C": 50.0}) == (1.0, OPEN_DOWN, 1.0)


def test_of_computed_air_no_other_is_offered():
    case = bay(width="12 in").with_text("air.model", "resolved")
    assert correlations_words([case]) == way_to_air(case) == ""
    told = left_open({"heat_flux_up_W_m2_uncertainty": 1.0, "air_error_percent": 1.0})
    assert told.startswith("This bay's own air was computed")


def test_correlations_give_too_little_heat_and_too_even_floors_below_what_hangs():
    """The words above say "may give still more here" and "times the stripes": so must the numbers that they go with.

    Published for heated plates in enclosures nobody found; these are the computed bays that taught nobody.
    """
    for kind in ("flat", "bare", "upright"):
        found = computed_over_correlations(kind)
        assert math.prod(found["up"]) > 1.0, "in the middle more than correlations give"
        assert 1.0 < found["ripple"][0] < found["ripple"][1], "more stripes in all of them"


def test_run_takes_the_air_to_use(tmp_path, capsys):
    path = tmp_path / "wide.toml"
    path.write_text(HUNG.format(**USUAL | {"width": "12 in"}), encoding="utf-8")
    assert load(path).air.model == "films"
    assert "its air follows correlations" in capsys.readouterr().err
    assert load(path, air="resolved").air.model == "resolved"
    assert "correlations" not in capsys.readouterr().err


def test_heat_up_is_less_sure_the_more_goes_down_to_the_cold():
    # 9 W down from water of 60 °C to -3.9 °C below a room of 18.9 °C: 22.8 of 63.9 K are the room's, 3.21 W of 3 W up;
    # two errors of the same share, of 2.07 and 1.07 times the heat up: hypot(2.07, 1.07) = 2.33
    cold = bay().with_(**{"room.temperature": 292.05, "below.kind": "unheated space", "below.temperature": 269.25})
    report = {"heat_flow_up_W": 3.0, "heat_flow_down_W": 9.0, "water_supply_C": 60.0}
    assert drained(cold, report) == pytest.approx(1.07, abs=0.005)
    assert wider(cold, report) == pytest.approx((UNTAUGHT * 2.33, UNTAUGHT * OPEN_DOWN, UNTAUGHT), abs=0.02)
    mild = cold.with_(**{"below.temperature": 283.15})  # 8.9 of 49.9 K, 1.61 W of 3 W: hypot(1.54, 0.54)
    assert wider(mild, report) == pytest.approx((1.63, OPEN_DOWN, 1.0), abs=0.01)
    assert wider(cold, report | {"heat_flow_up_W": 1e-9})[0] < 1.5 * UNTAUGHT * MOST_DRAINED
    warm = cold.with_(**{"below.temperature": 293.15, "cavity.insulation": {"thermal_resistance": "R-19"}})
    assert wider(warm, report) == (1.0, 1.0, 1.0)
    foil = {"cavity.insulation": {"thermal_resistance": "R-19", "facing_emissivity": 0.05}}
    assert wider(warm.with_(**foil), report) == (1.0, OPEN_SHINING, 1.0)  # no computed bay of the set has such a batt
    thin = {"cavity.insulation": {"thermal_resistance": "R-5", "thickness": 0.03, "facing_emissivity": 0.05}}
    for other in ({"plates.orientation": "upright"}, {"plates": None}):
        assert wider(warm.with_(**thin | other), report) == (1.0, OPEN_SHINING_BARE, 1.0)


def test_what_needed_water_is_known_to_follows_from_its_heat():
    from sim.cli.water import _left_open

    report = {"water_supply_C": 60.0, "air_band_up_percent": 3.3, "air_band_ripple_percent": 20.0}
    found = SimpleNamespace(case=bay(), report=Report("stranger", report))
    said, _ = _left_open(SimpleNamespace(needed=SimpleNamespace(result=found)), "si")
    # q ~ ΔT^1.1: 3.3 % of the heat are 3 % of 40 K
    assert said.endswith("So the water needed is known to ± 1.20 K, as far as the air goes.")


def test_a_share_below_nothing_is_explained():
    from sim.cli.warnings import giving_back

    (line,) = giving_back({"radiant_share_percent": -77.6, "convective_share_percent": 177.6})
    assert line.startswith("By radiation the subfloor gives heat back")
    assert giving_back({"radiant_share_percent": 30.0, "contact_share_percent": -0.0}) == []


def test_a_bay_without_plates_lists_no_resistance_of_them():
    from sim.results.people import report_rows

    report = {"resistance_bond_m2K_W": 0.0, "resistance_covering_m2K_W": 0.12, "resistance_gap_m2K_W": 0.5}
    assert [row.label for row in report_rows(report)] == ["plate or bare tube to subfloor", "covering"]


@pytest.mark.parametrize(("word", "name"), [("pine", "softwood flooring"), ("glass wool", "glass wool batt")])
def test_words_of_strangers(word, name):
    from sim.case.materials import find_material

    assert find_material(word).name == name
