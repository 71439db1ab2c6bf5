"""Pictures of warm-ups: curves are the series, one scale for all frames of a movie, both unit systems."""

import re
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from sheets import check_sheet

from tests.unit.fake_run import CELSIUS, make_fields
from viz.choice import Choice, FloorLimit
from viz.floor_movie import draw_frame, movie_scale, movie_times, save_floor_movie
from viz.time_series import draw_time_series

HOURS = np.linspace(0.0, 8.0, 33)


def warming(name, lead=5.0):
    """A made-up warm-up over 8 hours on the floor of an invented run."""
    fields = make_fields()
    rise = 1.0 - np.exp(-HOURS / 1.5)
    floor = fields["floor_temperature"].values
    series = fields[["x_edge", "y_edge"]].assign_coords(time=("time", 3600.0 * HOURS)).assign_attrs(fields.attrs)
    values = {"water_supply": CELSIUS + 45.0 + 0.0 * rise, "room": CELSIUS + 20.0 + 0.0 * rise}
    for part, higher in (("mean", 0.0), ("peak", 1.0), ("trough", -1.0)):
        values[f"surface_{part}"] = CELSIUS + 20.0 + lead * rise + higher
    values |= {"heat_in": 60.0 + 3000.0 * np.exp(-HOURS / 0.05), "heat_up": 55.0 * rise}
    values |= {"heat_down": 5.0 * rise, "heat_edge": 0.0 * rise}
    maps = CELSIUS + 20.0 + rise[:, None, None] * (floor - CELSIUS - 20.0)
    series = series.assign(floor_temperature=(("time", "x", "y"), maps))
    series = series.assign({key: ("time", value) for key, value in values.items()})
    return Choice(name, series, {"flux_63_h": 1.5, "flux_90_h": 3.45}, "Made-up room")


def curves(figure):
    """Lines of series by panel; upright marks have only two places."""
    return [[line.get_xydata() for line in axes.lines if len(line.get_xdata()) > 2] for axes in figure.axes]


def marks(figure):
    return [line.get_xdata()[0] for axes in figure.axes for line in axes.lines if len(line.get_xdata()) == 2]


def test_one_case_has_temperatures_above_flows(tmp_path):
    figure = draw_time_series([warming("")])
    check_sheet(figure, tmp_path)
    temperatures, flows = curves(figure)
    assert len(temperatures) == 5
    assert len(flows) == 3
    assert_allclose(temperatures[2][:, 0], HOURS, rtol=1e-12, atol=0)
    assert_allclose(temperatures[2][-1, 1], 20.0 + 5.0 * (1.0 - np.exp(-8.0 / 1.5)), rtol=1e-9, atol=0)
    shown = " ".join(text.get_text() for text in figure.texts)
    assert "63 % after 1.50 h" in shown
    assert_allclose(sorted(marks(figure)), [1.5, 3.45], rtol=0, atol=0.01)  # 63 and 90 % of the heat's way
    # the water's peak of the first minutes is cut off
    assert figure.axes[1].get_ylim()[1] < 400.0


def test_a_floor_sensor_has_a_line_and_time_its_clock():
    choice = warming("")
    series = choice.fields.assign(floor_sensor=("time", CELSIUS + 26.0 + 0.0 * HOURS)).assign_attrs(clock=23400.0)
    figure = draw_time_series([replace(choice, fields=series)])
    assert_allclose(curves(figure)[0][-1][:, 1], 26.0, rtol=1e-9, atol=0)
    assert any(text.get_text() == "floor sensor" for text in figure.texts)
    assert figure.axes[1].get_xlabel() == "hours after 6:30"
    assert draw_time_series([choice]).axes[1].get_xlabel() == "time, h"


def test_a_bay_that_starts_steady_has_no_way_to_go():
    choice = replace(warming(""), report={"flux_63_h": float("nan")})
    assert not any("n/a" in text.get_text() for text in draw_time_series([choice]).texts)


def test_several_cases_have_a_line_in_each_panel(tmp_path):
    figure = draw_time_series([warming("a"), warming("b", 7.0)], units="ip")
    check_sheet(figure, tmp_path)
    panels = curves(figure)
    assert [len(lines) for lines in panels] == [2, 2, 2]
    assert_allclose(panels[0][0][0, 1], 68.0, rtol=1e-9, atol=0)
    assert "°F" in figure.axes[0].get_ylabel()
    assert [text.get_text() for text in figure.texts].count("b") == 1  # one legend for all panels


def test_frames_share_one_scale_and_follow_time():
    choices = [warming("a")]
    scale = movie_scale(choices)
    times = movie_times(choices, 5)
    assert_allclose(times / 3600.0, [0.0, 2.0, 4.0, 6.0, 8.0], rtol=1e-12, atol=0)
    first, last = (draw_frame(choices, time, scale) for time in (times[0], times[-1]))
    for figure in (first, last):
        mesh = figure.axes[0].collections[0]
        assert (mesh.norm.vmin, mesh.norm.vmax) == (scale.low, scale.high)
    assert first.axes[0].collections[0].get_array().max() < last.axes[0].collections[0].get_array().max()
    assert any("after 8.00 h" in text.get_text() for text in last.texts)


def test_pictures_of_a_movie_of_several_choices_are_alike():
    """No line comes or goes above the maps while floors grow apart, else all below jumps."""
    choices = [warming("a"), warming("b")]
    steep = choices[1].fields["floor_temperature"] + (choices[1].fields["x"] - 0.2) * choices[1].fields["time"] / 1e4
    choices[1] = replace(choices[1], fields=choices[1].fields.assign(floor_temperature=steep))
    times, scale = movie_times(choices, 3), movie_scale(choices)
    heads = [[t.get_position() for t in draw_frame(choices, time, scale).texts][:2] for time in times]
    assert heads[0] == heads[1] == heads[2]


def test_a_movie_is_written(tmp_path, monkeypatch):
    from PIL import Image

    monkeypatch.setattr("viz.movie.find_encoder", lambda: None)
    path = save_floor_movie([warming("a")], tmp_path / "pictures" / "movie.gif", frames=3)
    with Image.open(path) as movie:
        assert movie.n_frames == 3
        assert movie.info["loop"] == 0


@pytest.mark.parametrize("draw", [draw_time_series, lambda choices: save_floor_movie(choices, "never.gif")])
def test_nothing_to_draw(draw):
    with pytest.raises(ValueError, match="no warm-up"):
        draw([])


def limit_marks(limit):
    """Level lines of a limit and texts that name it, in the picture and on the page of one warm-up."""
    from viz.report.drawing import TextMark
    from viz.report.parts import Figure, Text
    from viz.report.record import RunRecord
    from viz.report.time_page import TimeRecord, time_page

    choice = replace(warming(""), limits=(limit,))
    figure = draw_time_series([choice])
    level = [line for axes in figure.axes for line in axes.lines if set(line.get_ydata()) == {limit.highest}]
    verdict = {"what": limit.what, "key": "surface_peak_C", "highest": limit.highest, "value": limit.found,
               "kept": limit.found <= limit.highest, "source": "a standard"}  # fmt: skip
    run = RunRecord(choice, None, "", limits=[verdict])
    page = time_page(TimeRecord("Room", [choice], "", warmest=[run]))
    figures = [part for chapter in page.chapters for part in chapter.parts if isinstance(part, Figure)]
    texts = [mark.text.si for part in figures for mark in part.draw(900.0).marks if isinstance(mark, TextMark)]
    told = "".join(part.text.si for chapter in page.chapters for part in chapter.parts if isinstance(part, Text))
    anchors = [chapter.anchor for chapter in page.chapters]
    return len(level), sum(limit.what in text for text in texts), anchors, told


def test_a_limit_that_the_floor_passes_in_time_is_drawn_named_and_told():
    """The warmest spot ends at 26 °C: 24 is passed, 30 is not."""
    level, named, anchors, told = limit_marks(FloorLimit("oak at its surface", 24.0, True, 26.0))
    assert (level, named) == (1, 1)
    assert "At its warmest in that time: 1 limit is broken: oak at its surface is at 26.0 °C" in told
    assert {"limits", "cautions"} <= set(anchors)
    level, named, _, told = limit_marks(FloorLimit("occupied floor", 30.0, False, 26.0))
    assert (level, named) == (0, 0) and "The one limit is kept" in told


def test_a_bay_in_time_is_held_at_its_warmest():
    from sim.case.load import load_case
    from sim.rules.in_time import at_its_warmest
    from sim.rules.limits import hold, limits_for

    oak = load_case("cases/demo/family-oak.toml")
    report = {"surface_highest_C": 27.0, "wood_highest_C": 66.0, "water_highest_C": 55.0}
    warmest = at_its_warmest(oak, report, 26.0)
    assert (warmest["water_supply_C"], warmest["water_mean_C"], warmest["surface_mean_C"]) == (55.0, 55.0, 26.0)
    held = {v.limit.what: v.kept for v in hold(limits_for(oak), warmest)}
    assert held["oak at its surface"] is False and held["wood, lasting loss of strength"] is False
    assert held["occupied floor"] and held["water under a wood subfloor"]
    assert "covering_peak_C" not in at_its_warmest(load_case("cases/demo/family-oak-rug.toml"), report, 26.0)


def test_of_several_cases_the_one_that_passes_a_limit_is_named():
    """The warmest spots end at 26 and 28 °C: 27 is passed by b alone, and so both spots have a panel with its line."""
    from viz.report.drawing import TextMark
    from viz.report.parts import Figure
    from viz.report.record import RunRecord
    from viz.report.time_page import TimeRecord, time_page

    limits = [FloorLimit("oak at its surface", 27.0, True, found) for found in (26.0, 28.0)]
    choices = [replace(warming(n, lead), limits=(of,)) for n, lead, of in zip("ab", (5.0, 7.0), limits, strict=True)]
    figure = draw_time_series(choices)
    levels = [(k, line) for k, axes in enumerate(figure.axes) for line in axes.lines if set(line.get_ydata()) == {27.0}]
    assert [k for k, _ in levels] == [1] and "warmest spot" in figure.axes[1].get_ylabel()
    assert figure.axes[1].texts[0].get_text() == "floor at most 27.0 °C, oak at its surface; passed by b"
    assert len(draw_time_series([replace(c, limits=()) for c in choices]).axes) == 3

    verdicts = [{"what": of.what, "key": "covering_peak_C", "highest": 27.0, "value": of.found,
                 "kept": of.found <= 27.0, "source": "a guide"} for of in limits]  # fmt: skip
    warmest = [RunRecord(c, None, "", limits=[v]) for c, v in zip(choices, verdicts, strict=True)]
    page = time_page(TimeRecord("Room", choices, "", warmest=warmest))
    (table,) = next(chapter for chapter in page.chapters if chapter.anchor == "numbers").parts
    assert table.rows and all(", " in row[0].si for row in table.rows)  # units stand once: columns fit a phone
    assert not [cell.si for row in table.rows for cell in row[1:] if re.search("[a-zA-Z°]", cell.si)]
    figures = [part for chapter in page.chapters for part in chapter.parts if isinstance(part, Figure)]
    texts = [mark.text.si for part in figures for mark in part.draw(840.0).marks if isinstance(mark, TextMark)]
    assert [text for text in texts if "at most" in text] == ["floor at most 27.0 °C, oak at its surface; passed by b"]


def test_the_floor_at_the_end_is_held_against_its_covering_s_limit_where_no_rug_lies():
    """The warmest spot seen of the oak, not that of the rug, whose underside no march keeps at its end."""
    import json

    from sim.case.load import load_case
    from sim.cli.report_records import last_floor

    case, choice = load_case("cases/demo/family-oak.toml"), warming("")
    floor = choice.fields["floor_temperature"].values[-1] - CELSIUS

    def found(shown):
        return {v["what"]: v["value"] for v in last_floor(shown, case).limits}

    assert found(choice)["oak at its surface"] == pytest.approx(floor.max())
    x, y = (choice.fields[f"{axis}_edge"].values for axis in "xy")
    half = x[len(x) // 2]
    parts = json.loads(choice.fields.attrs["outlines"])
    parts.append({"name": "rug", "kind": "rug", "box": [x[0], half, y[0], y[-1], 0.04, 0.05]})
    covered = replace(choice, fields=choice.fields.assign_attrs(outlines=json.dumps(parts)))
    bare = floor[(x[1:] + x[:-1]) / 2 > half]
    assert found(covered)["oak at its surface"] == pytest.approx(bare.max())


def test_levels_of_a_chart_are_round_in_either_system():
    from viz.report.drawing import TextMark
    from viz.report.parts import Figure
    from viz.report.time_page import TimeRecord, time_page

    page = time_page(TimeRecord("Room", [warming("")], ""))
    temperatures = next(part for c in page.chapters for part in c.parts if isinstance(part, Figure)).draw(840.0)
    # after 8 h of a rise of 5 K with a time constant of 1.5 h, 5 · exp(−5.33) = 0.02 K are left
    assert "floor, mean from 20.0 °C to 25.0 °C" in temperatures.label.si
    assert "floor, mean from 68.0 °F to 77.0 °F" in temperatures.label.ip
    marks = [mark.text for mark in temperatures.marks if isinstance(mark, TextMark) and mark.anchor == "end"]
    for system in ("si", "ip"):
        levels = [float(m.pick(system)) for m in marks if m.pick(system)[:1].isdigit() and m.si != m.ip]
        steps = np.diff(levels)
        assert len(levels) >= 3 and float(steps[0]) in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0), (system, levels)
        assert_allclose(steps, steps[0], rtol=1e-9, atol=0)
