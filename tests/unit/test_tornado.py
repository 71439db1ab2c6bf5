"""Tornado pictures: order and lengths of the bars, units, texts that do not overlap, samples below."""

from dataclasses import astuple

import numpy as np
import pytest
from sheets import check_sheet

from sim.results.people import full_name
from viz.tornado import Bar, Tornado, draw_tornado

FLUX = "heat_flux_up_W_m2"
NAN = float("nan")
RESISTANCE = Bar("cavity.insulation.thermal_resistance", "thermal resistance", 2.0, 4.0, 50.0, 70.0, 0.98)
FACTOR = Bar("air.film_factor", "fraction", 0.5, 2.0, 59.0, 62.0, 0.15)
DROP = Bar("plates.drop", "length", 0.025, 0.05, 61.5, 59.0, -0.09)
BARS = (RESISTANCE, FACTOR, DROP)


def made_up(bars=BARS, key=FLUX, usual=60.0, results=None, case="Made-up room"):
    """A study's findings with 40 results between 52 and 71."""
    results = np.linspace(52.0, 71.0, 40) if results is None else np.asarray(results, float)
    interval = tuple(np.nanpercentile(results, (5, 50, 95))) if np.isfinite(results).any() else (NAN,) * 3
    return Tornado(case, key, usual, bars, results, interval, 0.97)


def bars_of(figure):
    """Row, start and end of each bar of the tornado."""
    patches = figure.axes[0].patches
    return [(round(p.get_y() + p.get_height() / 2), p.get_x(), p.get_x() + p.get_width()) for p in patches]


def test_bars_keep_their_order_and_end_where_the_result_is(tmp_path):
    figure = draw_tornado(made_up())
    words = check_sheet(figure, tmp_path)
    expected = [(0, 60.0, 50.0), (0, 60.0, 70.0), (1, 60.0, 59.0), (1, 60.0, 62.0), (2, 60.0, 61.5), (2, 60.0, 59.0)]
    np.testing.assert_allclose(bars_of(figure), expected, rtol=0.0, atol=1e-9)
    order = [words.index(name) for name in ("thermal resistance", "film factor", "drop")]
    assert order == sorted(order)
    assert "Made-up room: upward heat flux" in words and "upward heat flux, W/m²" in words
    assert "2 m²·K/W" in words and "25 mm" in words and "the case itself: 60.0 W/m²" in words
    assert "+0.98" in words and "−0.09" in words and "R² 0.97" in words


def test_every_unit_follows_the_system(tmp_path):
    # 2 m²K/W is, 50 mm is 1.97 in (two decimals), 26 °C is 78.8 °F, 0.6 K is 1.08 °F (exact inch, foot and Btu).
    bars = (Bar("plates.drop", "length", 0.025, 0.05, 25.9, 26.15, 0.3), Bar(*astuple(RESISTANCE)[:4], 25.0, 27.0, 0.9))
    warm = made_up(bars, "surface_peak_C", 26.0, np.linspace(25.2, 27.1, 40))
    words = check_sheet(draw_tornado(warm, units="ip"), tmp_path)
    assert "R-11.4" in words and "1.97 in" in words and "the case itself: 78.80 °F" in words
    assert "°C" not in words and "m²" not in words
    uneven = made_up((Bar("plates.drop", "length", 0.025, 0.05, 0.5, 0.7, NAN),), "ripple_K", 0.6, [0.4, 0.5, 0.7])
    words = check_sheet(draw_tornado(uneven, units="ip"), tmp_path)
    assert "the case itself: 1.080 °F" in words and "n/a" in words


def test_samples_stand_below_on_the_same_axis(tmp_path):
    found = made_up()
    figure = draw_tornado(found)
    upper, lower = figure.axes
    assert upper.get_xlim() == lower.get_xlim()
    assert sum(patch.get_height() for patch in lower.patches[1:]) == 40  # the first one marks 5 to 95 %
    low, high = upper.get_xlim()
    assert low < 50.0 and found.results.max() < high
    words = check_sheet(figure, tmp_path)
    # Evenly from 52 to 71: 5, 50 and 95 % lie at 52.95, 61.5 and 70.05.
    assert "median: 61.5" in words and "95 %: 70.0" in words and "40 of 40 samples" in words


def test_ends_on_one_side_share_the_height_and_no_effect_keeps_its_texts(tmp_path):
    bars = (Bar("plates.drop", "length", 0.025, 0.05, 64.5, 62.0, 0.1), Bar(*astuple(RESISTANCE)[:4], 60.0, 60.0, 0.0))
    figure = draw_tornado(made_up(bars))
    words = check_sheet(figure, tmp_path)
    first, second = figure.axes[0].patches[:2]
    assert first.get_height() < 0.4 and first.get_y() + first.get_height() <= second.get_y()
    assert "2 m²·K/W" in words and "4 m²·K/W" in words


def test_failed_solves_are_named(tmp_path):
    results = np.where(np.arange(40) % 4, np.linspace(52.0, 71.0, 40), NAN)
    bars = (RESISTANCE, Bar("air.film_factor", "fraction", 0.5, 2.0, 59.0, NAN, 0.15))
    words = check_sheet(draw_tornado(made_up(bars, results=results)), tmp_path)
    assert "2.0: failed" in words and "30 of 40 samples" in words


def test_a_failed_case_itself_and_equal_results_are_drawn(tmp_path):
    lost = Bar("plates.drop", "length", 0.025, 0.05, NAN, NAN, NAN)
    words = check_sheet(draw_tornado(made_up((RESISTANCE, lost), usual=NAN)), tmp_path)
    assert "the case itself" not in words and "25 mm: failed" in words
    still = tuple(Bar(*astuple(bar)[:4], 60.0, 60.0, NAN) for bar in BARS)
    check_sheet(draw_tornado(made_up(still, results=np.full(5, 60.0))), tmp_path)


def test_long_names_and_one_input(tmp_path):
    key = "floor.covering[0].a_key_with_a_name_that_is_longer_than_any_in_use"
    long = Bar(key, "length", 0.03, 0.05, 58.0, 63.0, 0.1)
    assert "…" in check_sheet(draw_tornado(made_up((long,), case="A title that says it all " * 6)), tmp_path)


def test_without_any_result_there_is_nothing_to_draw():
    with pytest.raises(ValueError, match="no sample has a heat_flux_up_W_m2"):
        draw_tornado(made_up(results=[NAN, NAN]))


def test_names_say_of_what():
    assert full_name("surface_peak_C") == "floor surface, warmest spot"
    assert full_name("heat_flow_down_W") == "heat down, modelled part"
