"""Limits: which apply to which bay, both sides of each, and their sources."""

from dataclasses import replace

import numpy as np
import pytest

from sim.case.load import load_case
from sim.case.materials import load_materials
from sim.rules.limits import Limit, hold, limits_for, rated


def limits_of(name):
    return {limit.what: limit for limit in limits_for(load_case(f"cases/demo/{name}.toml"))}


def test_occupied_floor_is_29_degrees():
    # EN 1264-2: 29 °C where people stay
    assert limits_of("family-oak")["occupied floor"].highest == 29.0


def test_bathroom_floor_is_9_kelvin_over_the_room():
    # EN 1264-2: 33 °C in a bathroom of 24 °C
    limit = limits_of("bathroom-tile")["bathroom floor, 9 K over the room"]
    np.testing.assert_allclose(limit.highest, 33.0, rtol=0.0, atol=1e-9)


def test_wood_flooring_is_80_fahrenheit_under_rugs_too():
    limit = limits_of("family-oak")["oak at its surface"]
    np.testing.assert_allclose(limit.highest * 1.8 + 32.0, 80.0, rtol=0.0, atol=0.1)
    assert limit.key == "covering_peak_C"


def test_tile_and_carpet_have_no_flooring_limit():
    for name in ("bathroom-tile", "bedroom-carpet"):
        assert not [what for what in limits_of(name) if "surface" in what and "floor" not in what]


def test_a_tenth_of_people_in_shoes_bounds_the_mean():
    # ISO 7730:2005: 10 % dissatisfied at 28.02 °C, by hand from its formula; not for bare feet in a bathroom
    limit = limits_of("family-oak")["floor too warm for 10 % of people"]
    np.testing.assert_allclose(limit.highest, 28.022, rtol=0.0, atol=1e-3)
    assert not [what for what in limits_of("bathroom-tile") if "people" in what]


def test_resilient_floors_have_29_degrees():
    assert limits_of("kitchen-vinyl")["vinyl plank at its surface"].highest == 29.0


def test_a_row_of_the_library_is_all_that_a_limit_needs(monkeypatch):
    # A covering that the program has never heard of, good for 31 °C.
    new = replace(load_materials()["oak"], highest_C=31.0, highest_source="its maker")
    monkeypatch.setattr("sim.rules.limits.load_materials", lambda: {"oak": new})
    limit = limits_of("family-oak")["oak at its surface"]
    assert (limit.highest, limit.source) == (31.0, "its maker")
    assert not rated("PEX") and rated("oak")


def test_air_round_cables():
    # building cable is reckoned with conductors at 60 °C (140 °F)
    limit = limits_of("family-oak")["air round cables in the bay"]
    assert (limit.key, limit.highest) == ("cavity_air_C", 60.0)


@pytest.mark.parametrize(("value", "kept"), [(28.99, True), (29.0, True), (29.01, False)])
def test_both_sides_of_a_limit(value, kept):
    (verdict,) = hold((Limit("surface_peak_C", 29.0, "floor", "a source"),), {"surface_peak_C": value})
    assert verdict.kept is kept
    np.testing.assert_allclose(verdict.margin, 29.0 - value, rtol=0.0, atol=1e-12)


def test_numbers_that_a_report_lacks_are_left_out():
    assert hold((Limit("joist_peak_C", 65.0, "joist", "a source"),), {}) == ()


@pytest.mark.parametrize("name", ["kitchen-vinyl", "family-oak", "bedroom-carpet", "bathroom-tile"])
def test_every_limit_names_its_source(name):
    assert all(limit.source for limit in limits_of(name).values())
    assert any("wood subfloor" in what for what in limits_of(name))


@pytest.mark.parametrize(("supply", "what"), [("160 degF", "wood subfloor"), ("180 degF", "usual rating")])
def test_water_at_a_limit_stated_in_fahrenheit_keeps_it(supply, what):
    """The sources say 160 °F and 180 °F; rounded to a tenth of a kelvin, water of just that would break them."""
    case = load_case("cases/demo/family-oak.toml").with_(**{"water.supply": supply})
    celsius = case.water.supply - 273.15
    held = {verdict.limit.what: verdict for verdict in hold(limits_for(case), {"water_supply_C": celsius})}
    (verdict,) = [verdict for name, verdict in held.items() if what in name]
    assert verdict.kept and not hold((verdict.limit,), {"water_supply_C": celsius + 0.01})[0].kept


def test_a_limit_met_exactly_is_kept_and_both_sides_print_alike_only_then():
    from sim.results.people import format_against
    from sim.rules.limits import Limit, Verdict

    limit = Limit("surface_peak_C", 29.0, "occupied floor", "a standard")
    assert Verdict(limit, 29.0).kept and Verdict(limit, 29.0 + 5e-7).kept and not Verdict(limit, 29.0001).kept
    assert format_against("surface_peak_C", 29.0, 29.0) == ("29.0 °C", "29.0 °C")
    assert format_against("surface_peak_C", 29.0001, 29.0) == ("29.0001 °C", "29.0000 °C")
    assert format_against("covering_r_m2K_W", 0.1501, 0.15)[0] != format_against("covering_r_m2K_W", 0.1501, 0.15)[1]


def test_a_covering_under_a_rug_is_told_only_where_there_is_a_rug(monkeypatch):
    """Two tops of oak of 25 and 30 °C; a rug lies on the second, or none."""
    from types import SimpleNamespace

    from sim.results import bay_report

    oak, rug = np.zeros((2, 2, 1, 2), dtype=bool)
    oak[:, :, 0] = True
    rug[1, 0, 1] = True
    faces = np.full((2, 1, 2), 273.15) + np.array([25.0, 30.0])[:, None, None]
    monkeypatch.setattr(bay_report, "face_temperature", lambda *_, **__: faces)
    for laid, found in ((rug, {"covering_peak_C": 30.0, "covering_under_rug_peak_C": 30.0}),
                        (np.zeros_like(rug), {"covering_peak_C": 30.0})):  # fmt: skip
        cells = SimpleNamespace(of_kind={"covering": oak, "rug": laid}.__getitem__)
        assert bay_report._covering_peaks(cells, None) == pytest.approx(found)
