"""Pictures of lessons in inches and °F: no text of any kind of picture keeps a unit of SI, and numbers are converted.

Drawn from invented runs (`fake_run`, a vortex): what matters is which words and ticks stand on the sheet.
"""

import re

import numpy as np
import pytest
import xarray
from fake_run import make_fields, make_report
from matplotlib.figure import Figure
from sheets import texts
from test_air_pictures import vortex

from sim.cli.main import main
from sim.lesson.data import lesson_names, load_lesson
from viz.choice import Choice
from viz.lesson_charts import parts_of
from viz.lesson_picture import save_lesson_picture
from viz.lesson_words import axis_name, told_picture

OF_SI = re.compile(r"\b(mm|mm/s|m/s|W|W/m²|K)(?![\w/²·])|°C|millimetre|metre|aluminium|colour|neighbour")
HEATS = {"heat_flow_supplied_W": 100.0, "heat_flow_up_W": 83.0, "heat_flow_down_W": 17.0, "share_down_percent": 17.0}
HEATS |= {"heat_flux_up_W_m2": 60.0, "convective_share_percent": 40.0, "radiant_share_percent": 50.0}
HEATS |= {"joist_share_percent": 10.0, "rayleigh": 2000.0, "nusselt_floor": 1.2}


@pytest.fixture(scope="module")
def bay():
    fields = make_fields(step=0.03)
    return Choice("plate of 60 mm", fields, make_report(fields) | HEATS)


def slab():
    """A section of cells 15 mm high over pipes, warm below."""
    edges = {"x": np.linspace(0.0, 0.6, 31), "y": np.array([0.0, 1.0]), "z": np.linspace(0.0, 0.15, 11)}
    x, y, z = np.meshgrid(*(0.5 * (e[1:] + e[:-1]) for e in edges.values()), indexing="ij")
    kelvin = 310.0 - 50.0 * z + np.cos(2.0 * np.pi * x / 0.2) + 0.0 * y
    fields = {"temperature": (("x", "y", "z"), kelvin), "material": (("x", "y", "z"), np.zeros(kelvin.shape, int))}
    coords = {a: (a, 0.5 * (e[1:] + e[:-1])) for a, e in edges.items()}
    coords |= {f"{a}_edge": (f"{a}_edge", e) for a, e in edges.items()}
    return Choice("slab", xarray.Dataset(fields, coords=coords), {})


def warm_up():
    hours = np.linspace(0.0, 8.0, 9)
    series = {"surface_mean": ("time", 293.15 + 0.5 * hours)}
    return Choice("thin floor", xarray.Dataset(series, coords={"time": ("time", 3600.0 * hours)}), {})


def drawn(monkeypatch, tmp_path, lesson, choices, units, **more):
    """Texts on the last sheet that a lesson's picture is saved from, without saving it."""
    sheets = []
    monkeypatch.setattr(Figure, "savefig", lambda figure, *_, **__: sheets.append(figure))
    save_lesson_picture(choices, lesson.picture, lesson.title, tmp_path, units=units, **more)
    return [text for text, _ in texts(sheets[-1])]


def of_kind(kind):
    return next(found for found in map(load_lesson, lesson_names()) if found.picture["kind"] == kind)


@pytest.mark.parametrize("kind", ["sections", "balance", "bars", "depths", "courses", "onset"])
def test_no_text_of_a_picture_in_inches_keeps_a_unit_of_si(kind, bay, monkeypatch, tmp_path):
    choice = {"depths": slab, "courses": warm_up}.get(kind, lambda: bay)()
    lesson = of_kind(kind)
    found = drawn(monkeypatch, tmp_path, lesson, [choice, choice], "ip", added=[False, True])
    assert not [text for text in found if OF_SI.search(text)]
    assert "-0" not in found
    in_si = " | ".join(drawn(monkeypatch, tmp_path, lesson, [choice, choice], "si", added=[False, True]))
    assert OF_SI.search(in_si) and not re.search(r"°F|\bin\b(?! time| a)|Btu", in_si)


def test_a_movie_in_inches_keeps_no_unit_of_si(monkeypatch, tmp_path):
    """The vortex moves at 0.05 m/s = 1.97 in/s at its walls, slower at the centres of cells; 60 mm = 2.36 in."""
    made = []
    monkeypatch.setattr("viz.lesson_movie.save_movie", lambda figures, *_, **__: made.extend(figures))
    frames = vortex(1, times=np.array([0.5, 1.0])).fields
    history = [{"time": t, "kinetic_energy": t, "nusselt_floor": 1.0 + t} for t in (0.5, 1.0)]
    lesson, choice = of_kind("movie"), Choice("box of 60 mm", frames, {})
    more = {"frames": [frames], "histories": [history]}
    found = drawn(monkeypatch, tmp_path, lesson, [choice], "ip", **more)
    assert not [text for text in found if OF_SI.search(text)]
    (caption,) = [text for text in found if "in/s" in text]
    assert caption.startswith("box of 2.4 in: up to 1.9")
    assert {"across, in", "height, in", "°F"} <= set(found)
    assert any("mm/s" in text for text in drawn(monkeypatch, tmp_path, lesson, [choice], "si", **more))


def test_a_plume_in_inches_keeps_no_unit_of_si(bay, monkeypatch, tmp_path):
    air = vortex(1).fields
    fields = bay.fields.assign({name: air[name] for name in air.data_vars}).assign_coords(air.coords)
    found = drawn(monkeypatch, tmp_path, of_kind("plume"), [Choice("hung plate", fields, bay.report)], "ip")
    assert not [text for text in found if OF_SI.search(text)]
    assert {"across, in", "height, in", "floor, °F", "°F"} <= set(found)


def test_the_command_draws_in_the_units_that_it_is_asked_for(monkeypatch, tmp_path, capsys):
    asked = []
    monkeypatch.setattr("sim.lesson.follow.follow_lesson", lambda *_: ())
    monkeypatch.setattr("viz.lesson_picture.save_lesson_picture", lambda *_, units, **__: asked.append(units) or [])
    for units in ("ip", "si"):
        assert main(["lesson", "depth", "--units", units, "--out", str(tmp_path / units)]) == 0
        assert "SI only" not in capsys.readouterr().out
    assert asked == ["ip", "si"]


def test_bars_are_in_the_units_of_their_axis():
    """1 W = 3.41214 Btu/h and 1 W/m² = 0.316998 Btu/h·ft² (NIST SP 811, appendix B.9)."""
    assert parts_of(HEATS, [["up", "heat_flow_up_W"]], "ip") == pytest.approx([83.0 * 3.41214], rel=1e-5)
    share = [["air", "convective_share_percent", "heat_flux_up_W_m2"]]
    assert parts_of(HEATS, share, "ip") == pytest.approx([0.4 * 60.0 * 0.316998], rel=1e-5)
    assert parts_of(HEATS, share) == [24.0]


@pytest.mark.parametrize("name", lesson_names())
def test_the_words_of_every_lessons_picture_are_told_in_inches(name):
    told = told_picture(load_lesson(name).picture, "ip")
    words = [told.get(key, "") for key in ("note", "unit", "label")] + [part[0] for part in told.get("keys", ())]
    assert not [text for text in words if OF_SI.search(text)]
    assert told_picture(load_lesson(name).picture, "si") == load_lesson(name).picture


def test_an_axis_that_ends_in_no_unit_keeps_its_words():
    assert axis_name("hours, minutes", "ip") == "hours, minutes"
    assert axis_name("floor surface, °C", "ip") == "floor surface, °F"
