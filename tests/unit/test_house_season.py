"""Heat pumps by the weather and a season by bins: test points, hand sums, the regulation's equivalent hours."""

from types import SimpleNamespace

import numpy as np
import pytest
from house_cases import small

from sim.case.errors import CaseError
from sim.house.heat_pump import cycling_factor, is_rating, rated_output, rated_ratio
from sim.house.outdoors import _room, between_points
from sim.house.season import BinState, Climate, climate_of, season_of, stations
from sim.house.sources import load_sources
from sim.house.suitable import suits

C = 273.15
PUMP = load_sources()["heat pump"]


@pytest.mark.parametrize("point", PUMP.rating, ids=lambda point: f"A{point[0] - C:.0f}/W{point[1] - C:.0f}")
def test_test_points_are_met_themselves(point):
    outdoor, supply, ratio, watts, source = point
    np.testing.assert_allclose(PUMP.ratio(supply, outdoor) if supply < PUMP.highest_supply else
                               rated_ratio(PUMP.rating, outdoor, supply), ratio, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(rated_output(PUMP.rating, outdoor, supply), watts, rtol=1e-12, atol=0.0)
    assert source


def test_between_points_by_hand():
    # A7/W35 COP 4.6: 4.6 × 28/308.15 = 0.417978; A2/W35 3.6: 3.6 × 33/308.15 = 0.385526; W55: 2.9 × 48/328.15 =
    # 0.424196 and 2.3 × 53/328.15 = 0.371476. At 4.5 °C and 45 °C the mean of all four, 0.399794, times 318.15/40.5
    np.testing.assert_allclose(PUMP.ratio(45.0 + C, 4.5 + C), 0.399794 * 318.15 / 40.5, rtol=1e-5, atol=0.0)
    # the mean of 9000, 7600, 8400 and 7000 W
    np.testing.assert_allclose(PUMP.output(45.0 + C, 4.5 + C), 8000.0, rtol=1e-12, atol=0.0)


def test_colder_and_hotter_make_it_worse():
    outdoor = np.linspace(-25.0, 15.0, 41) + C
    for supply in (30.0, 35.0, 42.0, 49.0):
        ratios = [PUMP.ratio(supply + C, at) for at in outdoor]
        assert np.all(np.diff(ratios) > 0.0)
    for at in (-15.0, 0.0, 10.0):
        assert np.all(np.diff([PUMP.ratio(supply + C, at + C) for supply in range(26, 50)]) < 0.0)
    with pytest.raises(ValueError, match="makes no water of 50"):
        PUMP.ratio(50.0 + C, C)
    # cooler than its table's first row, 25 °C, where a lift of some kelvin would give a COP of 18
    with pytest.raises(ValueError, match="makes no water of 22.3"):
        PUMP.ratio(22.3 + C, 17.8 + C)


BRINE = [(brine, water, out / power, out) for water, rows in {
    35.0: ((-5.0, 12762.0, 3225.0), (0.0, 14500.0, 3300.0), (5.0, 16100.0, 3300.0)),
    45.0: ((-5.0, 12100.0, 4000.0), (0.0, 13900.0, 4000.0), (5.0, 15600.0, 4000.0)),
    55.0: ((-5.0, 11513.0, 4825.0), (0.0, 13200.0, 4900.0), (5.0, 14900.0, 4900.0)),
}.items() for brine, out, power in rows]  # fmt: skip
"""Measured by EN 14511 at an independent institute (WPZ Buchs): brine, water [°C], COP and output [W] from the heat and
the electric power of the records EuropeanNom2D.EN14511 in the open library modelica-ibpsa; makers' names left out."""

AIR = [(air, water, out / power, out) for water, rows in {
    35.0: ((-7.0, 9700.0, 3300.0), (2.0, 11600.0, 3400.0), (7.0, 13000.0, 3500.0), (10.0, 14800.0, 3700.0)),
    50.0: ((-7.0, 10000.0, 4500.0), (2.0, 11200.0, 4400.0), (7.0, 12900.0, 4600.0), (10.0, 16700.0, 5000.0)),
}.items() for air, out, power in rows]  # fmt: skip
"""An air-to-water pump by EN 14511, from the same records."""


def predicted(table, known, wanted):
    """COP and output over those of the table where they were left out: what the points that are known lead to."""
    points = [(out + C, water + C, ratio, watts, "") for out, water, ratio, watts in table if known(out, water)]
    return [
        (rated_ratio(points, out + C, water + C) / ratio, rated_output(points, out + C, water + C) / watts)
        for out, water, ratio, watts in table
        if wanted(out, water)
    ]


def test_published_points_left_out_are_met_from_the_others():
    """A rated pump between its points: COP within 5 % along the water and 8 % along the air, where frost is irregular.

    Each point is worked out with all of its own temperature left out, so between points that are 10 to 20 K apart.
    """
    by_water = predicted(BRINE, lambda out, water: water != 45.0, lambda out, water: water == 45.0)
    np.testing.assert_allclose([ratio for ratio, _ in by_water], 1.0, atol=0.05)
    np.testing.assert_allclose([watts for _, watts in by_water], 1.0, atol=0.02)
    for left in (2.0, 7.0):
        by_air = predicted(AIR, lambda out, water, left=left: out != left, lambda out, water, left=left: out == left)
        assert len(by_air) == 2
        np.testing.assert_allclose([ratio for ratio, _ in by_air], 1.0, atol=0.08)
        np.testing.assert_allclose([watts for _, watts in by_air], 1.0, atol=0.15)


def test_cycling_by_hand():
    # EN 14825: CR / (0.9 CR + 0.1); a half 0.5/0.55, a quarter 0.25/0.325
    np.testing.assert_allclose([cycling_factor(share) for share in (0.25, 0.5, 1.0, 3.0)],
                               [0.769231, 0.909091, 1.0, 1.0], rtol=1e-5, atol=0.0)
    # 1 kW from a pump that gives 2 kW at the least
    full = PUMP.ratio(35.0 + C, 7.0 + C, 2000.0)
    np.testing.assert_allclose(PUMP.ratio(35.0 + C, 7.0 + C, 1000.0), full / 1.1, rtol=1e-9, atol=0.0)


def test_strength_by_the_weather():
    def strong(outdoor):
        return next(f for f in suits(PUMP, 45.0 + C, 40.0 + C, 7000.0, outdoor) if f.what == "strong enough")

    assert strong(7.0 + C).kept
    assert not strong(-15.0 + C).kept and "5.4 kW" in strong(-15.0 + C).text


@pytest.mark.parametrize(("name", "design", "equivalent"), [("average", -10.0, 2066.0), ("colder", -22.0, 2465.0)])
def test_equivalent_hours_of_the_regulation(name, design, equivalent):
    # Regulation (EU) 811/2013, annex VII: 2066 h (average) and 2465 h (colder); load falls from 1 at the design
    # temperature to 0 at 16 °C (EN 14825)
    climate = climate_of(small(('[[manifold]]', f'[season]\nclimate = "{name}"\n[[manifold]]')))
    hours = sum(span * (16.0 - (at - C)) / (16.0 - design) for at, span in climate.bins)
    np.testing.assert_allclose(hours, equivalent, rtol=0.0, atol=1.0)


def test_the_climate_follows_the_design_day():
    assert climate_of(small()).name == "colder"
    mild = small(('"-18 degC"\noutdoors', '"-10 degC"\noutdoors'), ('["-18 degC", "1 degC"]', '["-10 degC"]'))
    assert climate_of(mild).name == "average"


BINS = Climate("by hand", "", ((-10.0 + C, 100.0), (2.0 + C, 1000.0), (14.0 + C, 500.0)))


def test_a_season_by_hand():
    # 7 kW at -10 °C, of which the pump gives what it can to 35 °C: 5600 + 5/8 × 900 = 6162.5 W; 3 kW at 2 °C; 1 kW at
    # 14 °C, half of its least
    watts = {-10.0: 7000.0, 2.0: 3000.0, 14.0: 1000.0}
    found = season_of(PUMP, BINS, lambda at: BinState(35.0 + C, watts[round(at - C, 6)], 10.0), price=0.3)
    # 700 + 3000 + 500 kWh of heat
    np.testing.assert_allclose(found.heat, 4200.0, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(found.backup, 83.75, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(found.unmet, 16.0, rtol=1e-12, atol=0.0)
    # COP: at -10 °C fraction 0.373195 + 5/8 (0.381632 - 0.373195) = 0.378468, × 308.15/45 = 2.59165; at 2 °C 3.6; at
    # 14 °C as at 12 °C 0.403051 × 308.15/21 = 5.91428, cycling / 1.1
    energy = 616.25 / 2.59165 + 83.75 + 3000.0 / 3.6 + 500.0 / (5.91428 / 1.1)
    np.testing.assert_allclose(found.energy, energy, rtol=1e-5, atol=0.0)
    np.testing.assert_allclose(found.cost, 0.3 * energy, rtol=1e-5, atol=0.0)
    assert (found.hours, found.cycling) == (1600.0, 500.0)


def test_a_boilers_season_by_hand():
    boiler = load_sources()["condensing boiler"]
    # 93 % at 48.9 °C; water cooler than its table, 25 °C, has the 96 % of 30 °C; off in the mild bin
    states = {-10.0: BinState(48.9 + C, 5000.0, 0.0), 2.0: BinState(25.0 + C, 2000.0, 0.0), 14.0: None}
    found = season_of(boiler, BINS, lambda at: states[round(at - C, 6)])
    np.testing.assert_allclose(found.energy, 500.0 / 0.93 + 2000.0 / 0.96, rtol=1e-9, atol=0.0)
    assert found.cost is None and found.hours == 1100.0


def test_between_points_is_linear_and_off_when_shut_down():
    points = [SimpleNamespace(outdoor=C + at, supply=C + s, heat=q, rooms=(("A", 100.0, 100.0 - u),))
              for at, s, q, u in ((-10.0, 45.0, 4000.0, 40.0), (10.0, 31.0, 1000.0, 0.0))]
    state = between_points(points, C + 12.0)
    np.testing.assert_allclose([state(C).supply - C, state(C).heat, state(C).unmet], [38.0, 2500.0, 20.0], rtol=1e-12)
    assert state(C + 12.0) is None
    assert len(stations(BINS)) == 10


@pytest.mark.parametrize(("outdoor", "heated"), [(C + 20.0, False), (C, True)])
def test_a_room_that_is_given_no_heat_sends_none_down(outdoor, heated):
    """At 20 °C outdoors a room of 20 °C loses nothing: its water stands still, and is not charged with the 3 W/m² that
    its floor, over a cold space, would take from the room."""
    curve = SimpleNamespace(
        excess=(10.0, 50.0), flux=lambda e: 2.0 * e - 3.0, excess_for=lambda flux: (flux + 3.0) / 2.0,
        losses=lambda e: (4.0 + 0.1 * e, 1.0),
    )  # fmt: skip
    room = SimpleNamespace(temperature=C + 20.0)
    need = SimpleNamespace(load=SimpleNamespace(total=800.0), area=10.0)
    house = SimpleNamespace(rooms=[room], design=SimpleNamespace(outdoor=C - 20.0))
    winter = SimpleNamespace(
        rooms=SimpleNamespace(house=house, above=lambda number: ()),
        states={0: SimpleNamespace(need=need, option=SimpleNamespace(curve=curve), most=50.0)},
        scheme=SimpleNamespace(drop=5.0), supplies=SimpleNamespace(of=lambda room: C + 60.0),
        supply=lambda outdoor, number=None: C + 20.0 + (40.0 if outdoor < C + 20.0 else 0.0),
    )  # fmt: skip
    found = _room(winter, 0, outdoor, {})
    # water that stands still would take 3 W/m² from the room: nothing is given
    assert (found.output > 0.0) is heated and (heated or found.output == 0.0)
    # 400 W wanted: 40 W/m² at 21.5 K, with 6.15 W/m² down and 1 W/m² at the edges, on 10 m²
    np.testing.assert_allclose([found.heat, found.down], [471.5, 61.5] if heated else [0.0, 0.0], rtol=1e-12)


def test_own_bins(tmp_path):
    file = tmp_path / "bins.csv"
    house = small(("[[manifold]]", '[season]\nbins = "bins.csv"\n[[manifold]]'))
    house = house.model_copy(update={"path": str(tmp_path / "h.toml")})
    with pytest.raises(CaseError, match="season.bins"):
        climate_of(house)
    file.write_text("outdoor_C,hours\n5,20\n-5,10\n")
    assert climate_of(house).bins == ((C - 5.0, 10.0), (C + 5.0, 20.0))
    file.write_text("outdoor_C,hours\n8,30\n5,-20\n")
    with pytest.raises(CaseError, match="hours 0 or more"):
        climate_of(house)


ROW = [7.0, 35.0, 4.6, 9000.0, "test"]


@pytest.mark.parametrize("rows", [[], [ROW, ROW], [ROW[:4]], [[40.0, *ROW[1:]]], [[7.0, 35.0, 0.0, 9e3, "x"]],
                                  [[7.0, 35.0, True, 9e3, "x"]], [[*ROW[:4], ""]]])
def test_bad_points_are_refused(rows):
    assert is_rating([ROW]) and not is_rating(rows)
