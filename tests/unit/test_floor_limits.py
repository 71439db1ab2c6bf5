"""Where a floor passes a limit: found by hand on a floor of four places, named in pictures, rugs and all."""

import json
from dataclasses import replace

import fake_run
import numpy as np
import pytest

from viz import choice, floor_map, layout, profiles
from viz.choice import FloorLimit, FloorPlan, Outline
from viz.floor_limits import bound_spans, floor_limits, passed, under_rugs
from viz.limit_marks import HATCHES

OCCUPIED, OAK = FloorLimit("occupied floor", 29.0), FloorLimit("oak at its surface", 26.7, covering=True, found=31.0)
VERDICTS = [
    {"what": "occupied floor", "key": "surface_peak_C", "highest": 29.0, "value": 30.0},
    {"what": "oak at its surface", "key": "covering_peak_C", "highest": 26.7, "value": 31.0},
    {"what": "water under a wood subfloor", "key": "water_supply_C", "highest": 71.1, "value": 50.0},
]


def plan(celsius, rug=None):
    """A floor of 2 by 2 places a metre wide each; a rug from and to along the bay."""
    outlines = (Outline("carpet", "rug", (0.0, 2.0, *rug, 0.0, 0.01)),) if rug else ()
    return FloorPlan(np.arange(3.0), np.arange(3.0), np.array(celsius) + 273.15, outlines)


def test_limits_of_the_surface_are_those_that_a_map_shows():
    assert floor_limits(VERDICTS) == (OAK, replace(OCCUPIED, found=30.0))


def test_a_limit_met_exactly_is_kept():
    assert passed(plan([[29.0, 20.0], [20.0, 20.0]]), [OCCUPIED]) == ()
    assert passed(plan([[29.001, 20.0], [20.0, 20.0]]), [OCCUPIED]) == (OCCUPIED,)


def test_a_rug_hides_the_covering_and_not_the_limit_of_the_floor():
    """27 °C on the rug says nothing of the oak under it; what the report holds does."""
    floor = plan([[27.0, 26.0], [25.0, 26.0]], rug=(0.0, 1.0))
    assert passed(floor, [OAK]) == () and under_rugs(floor, [OAK]) == (OAK,)
    assert passed(plan([[27.0, 26.0], [25.0, 26.0]]), [OAK]) == (OAK,)
    assert passed(plan([[29.5, 26.0], [25.0, 26.0]], rug=(0.0, 1.0)), [OCCUPIED]) == (OCCUPIED,)


def test_a_limit_ends_where_the_rug_begins():
    floor = plan([[20.0, 28.0], [20.0, 27.0]], rug=(0.0, 1.0))
    assert bound_spans(floor, OAK, 1) == [(1.0, 2.0)]
    assert bound_spans(floor, OAK, 0) == [(0.0, 2.0)]
    assert bound_spans(floor, OCCUPIED, 1) == [(0.0, 2.0)]


@pytest.fixture(scope="module")
def warm():
    """An invented run that is warmer than 24 °C here and there."""
    fields = fake_run.make_fields(length=0.9, step=0.03)
    return choice.Choice("", fields, fake_run.make_report(fields), "Den")


def words_of(figure):
    return " | ".join(text.get_text() for text in figure.texts)


def contours(figure):
    from matplotlib.contour import QuadContourSet

    return [part for axes in figure.axes for part in axes.collections if isinstance(part, QuadContourSet)]


def test_maps_outline_and_name_what_is_too_warm(warm, tmp_path):
    peak = float(np.nanmax(warm.fields["floor_temperature"])) - 273.15
    limit = FloorLimit("occupied floor", peak - 0.5)
    figure = floor_map.draw_floor_map(replace(warm, limits=(limit,)))
    assert f"warmer than {limit.highest:.1f} °C, occupied floor" in words_of(figure)
    hatched = [part for part in contours(figure) if part.hatches == [HATCHES[0]]]
    lines = [part for part in contours(figure) if part.levels.tolist() == [limit.highest]]
    assert len(hatched) == 1 and len(lines) == 2
    layout.save_picture(figure, tmp_path / "map.png")


def test_maps_say_that_all_limits_are_kept(warm):
    figure = floor_map.draw_floor_map(replace(warm, limits=(FloorLimit("occupied floor", 60.0),)), units="ip")
    assert "nowhere warmer than it may be: 140.0 °F, occupied floor" in words_of(figure) and not contours(figure)


def test_profiles_draw_the_limit_with_its_name(warm):
    peak = float(np.nanmax(warm.fields["floor_temperature"])) - 273.15
    limit = FloorLimit("occupied floor", peak - 0.5)
    figure = profiles.draw_profiles([replace(warm, limits=(limit,))])
    level = [line for axes in figure.axes for line in axes.lines if set(line.get_ydata()) == {limit.highest}]
    assert len(level) == 2
    assert any("occupied floor" in text.get_text() for axes in figure.axes for text in axes.texts)
    kept = profiles.draw_profiles([replace(warm, limits=(FloorLimit("occupied floor", 60.0),))])
    assert not any("occupied" in text.get_text() for axes in kept.axes for text in axes.texts)


def test_names_over_narrow_maps_keep_their_end(warm):
    """Eighteen choices that differ in the last word alone stay apart."""
    fields = warm.fields.assign_attrs(span="bay", outlines=json.dumps([]))
    many = [replace(warm, fields=fields, name=f"supply 45 °C, runs 2, flow {k} l/min") for k in range(1, 19)]
    words = words_of(floor_map.draw_floor_maps(many))
    assert "…" not in words and all(f"{k} l/min" in words or f"flow {k}" in words for k in range(1, 19))
