"""Computed words about a layout: nothing is claimed that its numbers do not say."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.house.curve import curve_of
from sim.house.verdict import curves_miss, verdict
from sim.results.house_words import in_words, plainly, solves_in_words, weather_words
from sim.rules.limits import Limit, Verdict

FLOOR = Limit("surface_peak_C", 29.0, "occupied floor", "")


def room(name, shortfall=0.0, *values, limit="", has_say=True):
    need = SimpleNamespace(name=name, limit=limit, limit_output=650.0)
    held = tuple(Verdict(FLOOR, value) for value in values)
    return SimpleNamespace(need=need, shortfall=shortfall, verdicts=held, has_say=has_say)


def layout(*rooms, points=(), findings=(), spared=None):
    outdoor = [SimpleNamespace(outdoor=273.15, rooms=rows) for rows in points]
    return SimpleNamespace(rooms=rooms, outdoor=outdoor, findings=findings, set_by="B", spared=spared)


def told(*rooms, **more):
    return in_words(verdict(layout(*rooms, **more)), plainly)


def test_every_room_has_its_load_only_where_nothing_is_broken():
    assert told(room("A")) == "Every room has its load within all limits."
    assert told(room("A", 0.0, 29.4)) == "Every room has its load, but: Limits broken: A, occupied floor."
    source = SimpleNamespace(what="steady", kept=False)
    assert "but: Asked of the source and not kept: steady." in told(room("A"), findings=(source,))
    short = told(room("A"), room("B", 250.0, limit="bathroom floor", has_say=False))
    assert short.startswith("B falls short by 250 W.") and "no more than 650 W within limits (bathroom floor)" in short
    assert "Every room" not in short


def test_only_rooms_that_a_limit_holds_back_have_no_say():
    rooms = room("A", limit="bathroom floor"), room("B", has_say=False), room("C", limit="rug", has_say=False)
    assert [row["room"] for row in verdict(layout(*rooms))["no_say"]] == ["C"]


def test_a_short_room_that_sets_the_water_is_named():
    words = told(room("A"), room("B", 250.0), spared=("A", 273.15 + 47.0))
    assert "B sets the water and falls short all the same; the others would do with 47.0 °C (A)." in words
    assert "sets the water" not in told(room("A"), room("B", 250.0))


@pytest.mark.parametrize(("value", "kept"), [(29.0, True), (29.0 + 1e-9, True), (29.001, False)])
def test_a_limit_that_is_met_exactly_is_kept(value, kept):
    # 71.1 °C in kelvin and back is 71.10000000000002 °C
    assert Verdict(FLOOR, value).kept is kept
    assert (273.15 + 71.1) - 273.15 > 71.1
    assert Verdict(Limit("water_supply_C", 71.1, "", ""), (273.15 + 71.1) - 273.15).kept


def test_shares_by_the_weather_are_computed():
    points = ([("A", 100.0, 101.0), ("B", 200.0, 102.0)], [("A", 50.0, 51.0), ("B", 100.0, 74.0)])
    words = weather_words(verdict(layout(points=points)))
    # 102/200 and 74/100
    assert words == (
        "Of what they lose, floors give only: B 51 to 74 % at 2 of 2 outdoor temperatures."
    )
    good = weather_words(verdict(layout(points=([("A", 100.0, 99.9)],))))
    assert good.startswith("At all 1 outdoor temperatures looked at the floors give what the rooms lose")


def test_where_the_supply_is_too_cool_a_flatter_curve_is_told():
    """A falls short on the design day and in milder weather; B, whose floor is at its limit, has nothing of it."""
    points = ([("A", 100.0, 80.0), ("B", 100.0, 60.0)], [("A", 50.0, 41.0), ("B", 50.0, 30.0)])
    rooms = room("A", 20.0), room("B", 40.0, limit="occupied floor", has_say=False)
    assert weather_words(verdict(layout(*rooms, points=points))).endswith("gives more in milder weather (A).")
    assert "flatter" not in weather_words(verdict(layout(rooms[1], points=points)))
    # enough but for the coldest day: the curve is steep enough
    assert "flatter" not in weather_words(verdict(layout(rooms[0], points=(points[0][:1],))))


def test_a_floor_that_gives_nothing_says_where_its_heat_goes():
    words = weather_words(verdict(layout(points=([("A", 100.0, 101.0)], [("A", 20.0, 0.0)]))))
    assert "A 0 % at 1 of 2 outdoor temperatures" in words and "lost down" in words


def test_what_curves_miss_is_told_for_what_was_not_solved_too():
    words = solves_in_words(7, 0, 9, 0.26)
    assert "miss what was solved besides by 0.3 % at most" in words
    assert "3 % where the flow turns from laminar to turbulent" in words


def test_curves_are_held_against_what_was_solved_besides():
    points = [{"water_mean_C": 20.0 + over, "heat_flux_up_W_m2": 2.0 * over} for over in (6.0, 14.0, 30.0, 65.0)]
    need = SimpleNamespace(curve=curve_of("a", 293.15, points), temperature=293.15)

    def missed(*fluxes):
        rooms = [SimpleNamespace(need=need, report={"water_mean_C": 40.0, "heat_flux_up_W_m2": q}) for q in fluxes]
        return curves_miss(SimpleNamespace(layouts=[SimpleNamespace(rooms=[*rooms, SimpleNamespace(report={})])]))

    # the straight line gives 40 W/m² at 20 K; a solve that gives 2 % less is missed by 1/0.98 − 1
    np.testing.assert_allclose(missed(40.0, 0.98 * 40.0), 100.0 * (1.0 / 0.98 - 1.0), rtol=1e-4, atol=0.0)
    assert missed() == 0.0
