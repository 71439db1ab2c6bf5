"""The first that is told of a bay: what it gives, how it feels, which limit is near, and what to do."""

import io

import pytest

from sim.case.load import load_case
from sim.cli.report_records import held
from sim.cli.sheet import WholeConsole
from sim.cli.warnings import limit_lines, print_answer
from sim.results.bay_answer import Asked, bay_answer, left_open
from sim.rules.limits import Limit, Verdict, hold, limits_for
from sim.rules.ways_out import _water_at, ways_out
from sim.run import solve
from viz.report.answer import verdict

OAK = "cases/demo/family-oak.toml"
REPORT = {
    "water_supply_C": 40.0, "water_return_C": 39.5, "heat_flux_up_W_m2": 40.0, "surface_mean_C": 24.0,
    "surface_peak_C": 25.0, "surface_trough_C": 23.0, "covering_peak_C": 25.0, "ripple_K": 2.5,
    "share_down_percent": 12.0, "heat_flow_down_W": 1.0, "heat_flow_supplied_W": 9.0,
}  # fmt: skip


def ways(units="si", case=None, **more):
    case, report = case or load_case(OAK), REPORT | more
    return ways_out(case, report, hold(limits_for(case), report), units)


def test_the_answer_names_heat_floor_stripes_and_what_goes_down():
    text = bay_answer(REPORT, Asked.of(load_case(OAK)), "si")
    # 40 W/m² over 0.4064 m x 4.2672 m = 69.4 W: a pitch of it is what nobody buys
    assert "gives 40.0 W/m² to a room at 20.0 °C, 69.4 W over the whole bay of 4.27 m." in text
    assert "25.0 °C at the warmest spot and 23.0 °C at the coolest: plain stripes of 2.50 K." in text
    assert text.endswith("12.0 % goes down.")
    assert "104.0 °F" in bay_answer(REPORT, Asked.of(load_case(OAK)), "ip")
    assert "40.0 °C (104.0 °F)" in bay_answer(REPORT, Asked.of(load_case(OAK)), "both")


def test_computed_air_that_was_followed_too_briefly_says_that_nobody_knows_its_error():
    briefly = REPORT | {"air_time_s": 25.0}
    told = "How far off this is nobody knows: the air was followed for 25.0 s only; a longer air.longest tells it."
    assert left_open(briefly) == told
    assert "nobody knows" not in left_open(briefly | {"heat_flux_up_W_m2_uncertainty": 1.2})


def test_what_the_films_leave_open_is_told_at_once_unless_every_number_has_its_band():
    learned = REPORT | {"air_band_up_percent": 3.0, "air_band_down_percent": 4.4, "air_band_ripple_percent": 23.2}
    told = "learned from computed air: heat up ± 3 %, heat down ± 4 % and stripes ± 23 % in 19 of 20 such bays; inside"
    assert told in left_open(learned | {"air_nearer_percent": 80.0})
    assert left_open({"air_band_up_percent": 3.0}).endswith(
        "heat up ± 3 % in 19 of 20 such bays. Mesh and inputs come on top."
    )
    assert left_open(REPORT) == left_open(learned | {"heat_flux_up_W_m2_uncertainty": 2.0}) == ""


def test_heat_of_the_whole_bay_has_the_error_of_its_flux():
    # 2 W/m2 over 1.734 m2 are 3.5 W
    text = bay_answer(REPORT | {"heat_flux_up_W_m2_uncertainty": 2.0}, Asked.of(load_case(OAK)), "si")
    assert "40.0 ± 2.0 W/m²" in text and "69.4 ± 3.5 W over the whole bay" in text


def test_water_comes_back_from_what_is_said_to_be_heated():
    # 0.5 K in a pitch of 0.0914 m2 are 9.5 K in 0.4064 m x 4.2672 m = 1.734 m2, 18.97 times as much
    pitch = REPORT | {"floor_area_m2": 0.0914}
    assert "40.0 °C going in and about 30.5 °C coming back from the whole bay, this" in bay_answer(
        pitch, Asked.of(load_case(OAK)), "si"
    )
    slow = bay_answer(pitch | {"water_return_C": 38.0}, Asked.of(load_case(OAK)), "si")
    assert slow.startswith("With water at 40.0 °C going in, this floor")  # 40 - 38 K: as cold as the room
    across = Asked(293.15, True, 1.734, 4.2672, is_one_run=False)
    assert bay_answer(pitch, across, "si").startswith("With water at 40.0 °C going in, this floor")
    assert "going in and 39.5 °C coming back, this" in bay_answer(pitch, Asked(293.15, False), "si")


def test_numbers_that_a_report_lacks_are_dashes_and_a_whole_bay_has_no_stripes():
    text = bay_answer({"ripple_K": 3.0}, Asked(293.15, False), "si")
    assert "stripes" not in text and "–" in text and "whole bay of" not in text


def test_what_is_kept_says_how_far_the_water_may_rise():
    # oak at 80 °F = 26.67 °C: 20 K of water give 5 K of floor, so 6.67 K need 26.67 K: 46.67 °C, told as 46; 53.3 W/m²
    (line,) = ways()
    assert "oak at its surface, with water of about 46 °C: about 53 W/m²" in line
    assert "about 116 °F: about 16 Btu/h·ft²" in ways("ip")[0]


def test_what_is_broken_says_which_water_keeps_it_and_what_else_would():
    # 8 K of floor at 20 K of water leave 12 K between: 6.67 K are 0.833 of it, 6.67 + 12 x 0.833^1.1 = 16.49 K, so
    # 36.5 °C and 40 x 16.49/20 = 33 W/m² (32.98); the mean of 24 °C lies within 26.67 °C
    cooler, even = ways(surface_peak_C=28.0, covering_peak_C=28.0)
    assert "at most about 36 °C, which gives about 32 W/m²" in cooler
    assert "closer or wider plates would even out its warmest spots: its mean of 24.0 °C is within" in even


def test_no_plates_help_a_floor_whose_mean_is_too_warm():
    told = ways(surface_mean_C=27.5, surface_peak_C=28.0, covering_peak_C=28.0)[1]
    assert "No plates help at this heat" in told and "from elsewhere" in told


def test_water_over_its_own_limit_is_brought_down_to_it():
    # 160 °F = 71.1 °C, a limit of the water itself: nothing is scaled
    cooler = ways(water_supply_C=75.0)[0]
    assert "at most about 71 °C" in cooler


def test_a_floor_that_gives_nothing_or_is_cooled_is_told_nothing():
    assert ways(heat_flux_up_W_m2=-3.0) == [] and ways(water_supply_C=18.0) == []


def uninsulated(below, supply=35.0):
    """An open bay over air of so many degrees [°C]."""
    changes = {"cavity.insulation": "none", "cavity.air_gap": None, "ceiling": {"material": "gypsum board"}}
    degrees = {"below.temperature": below + 273.15, "water.supply": supply + 273.15, "mesh.fineness": "coarse"}
    return load_case(OAK).with_(**changes, **degrees)


def test_proportion_gives_no_number_where_much_goes_down_to_the_cold():
    """Heat that the cold takes out of the room stays when the water warms: by proportion the floor would give less than
    two thirds of what it does with warmer water."""
    case = uninsulated(-20.0)
    near, far = (solve(case.with_(**{"water.supply": t + 273.15})).report for t in (35.0, 50.0))
    assert far["heat_flux_up_W_m2"] > 1.5 * near["heat_flux_up_W_m2"] * 30.0 / 15.0
    bind, insulate = ways(case=case, **near.values)
    assert bind.startswith("The first limit reached is oak at its surface; joistbay water says at which")
    assert "about" not in bind
    assert insulate.startswith("No insulation lies in this bay and")


def test_a_bay_without_insulation_is_told_to_have_some():
    case = uninsulated(20.0)
    assert ways(case=case, share_down_percent=41.0)[-1].startswith("No insulation lies in this bay and 41.0 %")
    assert "about 46 °C" in ways(case=case, share_down_percent=41.0)[0]  # as warm below as above: in proportion
    assert len(ways(case=case)) == 1 and len(ways(share_down_percent=41.0)) == 1


def test_the_answer_comes_before_all_else():
    paper = io.StringIO()
    hot = REPORT | {"surface_peak_C": 30.0, "covering_peak_C": 30.0}
    print_answer(WholeConsole(file=paper, width=80), load_case(OAK), hot, "si")
    lines = paper.getvalue().splitlines()
    assert lines[0].startswith("With water at 40.0 °C") and len(lines) < 20
    assert any(line.startswith("BROKEN: occupied floor") for line in lines)
    assert any(line.startswith("To keep all limits: water of at most") for line in lines)


@pytest.mark.parametrize("width", [40, 61, 80])
def test_no_line_of_the_answer_ends_between_a_number_and_its_unit(width):
    paper = io.StringIO()
    print_answer(WholeConsole(file=paper, width=width), load_case(OAK), REPORT, "si")
    lines = paper.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    assert not [line for line in lines if line[:2] in ("°C", "K ", "K.", "W ", "W/", "% ", "m.")]


def test_page_and_terminal_name_the_same_limit_as_nearest():
    """Water of 70 °C has 1.1 K left of 71.1, oak of 25.9 °C 0.8 K of 6.7: the water is nearer its end."""
    case, report = load_case(OAK), REPORT | {"surface_peak_C": 25.9, "covering_peak_C": 25.9, "water_supply_C": 70.0}
    assert "the nearest is water under a wood subfloor" in verdict(held(case, report), report).text.si
    assert "nearest: water under a wood subfloor" in limit_lines(hold(limits_for(case), report), "si")[0]


@pytest.mark.parametrize("supply", [34.0, 38.0, 60.0, 75.0])
def test_proportion_is_as_good_as_it_is_said_to_be(supply):
    """From cooler or hotter water, that for the floor which 48 °C gives is not hotter by 1 % of its excess, nor cooler
    by 5 %."""
    case = load_case(OAK).with_(**{"mesh.fineness": "coarse"})
    near, far = (solve(case.with_(**{"water.supply": t + 273.15})).report["surface_peak_C"] for t in (48.0, supply))
    limit = Limit("surface_peak_C", near, "", "", 20.0)
    assert 48.0 - 0.05 * 28.0 < _water_at(Verdict(limit, far), 20.0, supply - 20.0) < 48.0 + 0.01 * 28.0
