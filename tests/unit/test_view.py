"""A run as a scene: its layers, its page, its window, its state in time, and what is refused in one line."""

import json
import re
import zlib
from base64 import b64decode
from html import unescape
from pathlib import Path

import fake_run
import numpy as np
import pytest
import xarray as xr

from joistbay import solve, view
from sim.case import load_case, parse_case
from sim.cli.main import main
from sim.problems.last_state import last_state_in, last_state_of
from sim.results.report import Report
from sim.store.run_folder import StoreError, versions, write_run
from viz.choice import Choice, Outline
from viz.view.build import _uncovered, build_scene
from viz.view.lines import FollowedAir, stream_lines
from viz.view.pack import LARGEST_PAGE, MOST_CELLS, coded, thinned
from viz.view.page import scene_page
from viz.view.parts import Volume

CASE = """
title = "{title}"
span = "bay"
[bay]
joist_spacing = "406.4 mm"
length = "0.9 m"
[[floor.covering]]
material = "oak"
thickness = "10 mm"
[plates]
spacing = "450 mm"
[rim]
outdoor_temperature = "-5 degC"
[water]
supply = "48 degC"
[room]
temperature = "20 degC"
"""


def make_case(title="Oak"):
    return parse_case(CASE.format(title=title), "oak")


def make_scene(title="Oak", fields=None, **how):
    fields = fake_run.make_fields() if fields is None else fields
    return build_scene(Choice("", fields, fake_run.make_report(fake_run.make_fields()), title), make_case(title), **how)


def with_roll(fields, omega=0.5, moving=1.0):
    """The fields with air in a cylinder that turns about the bay's axis, ω [1/s], warm on its left."""
    x, y, z = np.linspace(0.02, 0.38, 37), np.linspace(0.0, 0.9, 10), np.linspace(0.10, 0.24, 29)
    centres = [(edge[1:] + edge[:-1]) / 2 for edge in (x, y, z)]
    a, _, c = np.meshgrid(*centres, indexing="ij")
    turning = {"x": -omega * moving * (c - 0.17), "y": 0.0 * a, "z": omega * moving * (a - 0.2)}
    space = ("air_x", "air_y", "air_z")
    added = {f"air_velocity_{axis}": (space, values) for axis, values in turning.items()}
    added["air_temperature"] = (space, 305.0 + 20.0 * (0.38 - a))
    places = {f"air_{axis}": (f"air_{axis}", centre) for axis, centre in zip("xyz", centres, strict=True)}
    edges = {f"air_{axis}_edge": (f"air_{axis}_edge", edge) for axis, edge in zip("xyz", (x, y, z), strict=True)}
    return fields.assign(added).assign_coords(places | edges)


def data_in(page):
    """What the page's script reads."""
    return json.loads(re.search(r'<script type="application/json" id="scene">(.*?)</script>', page, re.S)[1])


def plain(page):
    return unescape(re.sub(r"<[^>]+>", "", re.sub(r"<(script|style).*?</\1>", "", page, flags=re.S)))


def test_layers_of_a_bay_hold_what_the_run_holds():
    scene = make_scene()
    fields = fake_run.make_fields()
    assert {solid.label for solid in scene.solids if solid.floor} == {"oak"}
    np.testing.assert_array_equal(scene.floor.surface, fields["floor_temperature"].values)
    assert (scene.floor.low, scene.floor.high) == (289.15, 305.15)  # 4 K below a room of 20 °C to 12 K above
    assert [tube.flows_on for tube in scene.tubes] == [True, False]
    assert scene.scales["water"] == pytest.approx((44.0 + 273.15, 48.0 + 273.15), abs=0.1)
    assert "air.model" in scene.air.why_none and not scene.air.lines


def test_parts_end_where_later_ones_paint_over_them():
    wool = Outline("wool", "insulation", (0.0, 0.4, 0.0, 1.0, 0.0, 0.1))
    left, right = (Outline("joist", "joist", (x, x + 0.02, 0.0, 1.0, -0.1, 0.2)) for x in (0.0, 0.38))
    inner = Outline("hole", "block", (0.1, 0.2, 0.2, 0.4, 0.02, 0.05))
    kept = _uncovered([wool, left, right, inner])
    assert kept[0].box == pytest.approx((0.02, 0.38, 0.0, 1.0, 0.0, 0.1)) and len(kept) == 4
    assert len(_uncovered([inner, wool])) == 1


def test_streamlines_of_a_turning_cylinder_are_circles_gone_round_in_time():
    omega = 0.5
    flow = FollowedAir(Choice("", with_roll(fake_run.make_fields(), omega), {}))
    lines = stream_lines(flow, ())
    assert len(lines) >= 24
    for line in lines:
        dx, dz = line.points[:, 0] - 0.2, line.points[:, 2] - 0.17
        radius = np.hypot(dx, dz)
        np.testing.assert_allclose(radius, radius[0], rtol=0.02)
        turned = np.unwrap(np.arctan2(dz, dx))
        np.testing.assert_allclose(turned - turned[0], omega * line.seconds, rtol=0.03, atol=0.02)
        inner = np.abs(dx) < 0.17  # within the outermost cell centres
        np.testing.assert_allclose(line.kelvin[inner], 305.0 + 20.0 * (0.18 - dx[inner]), atol=1e-6)


def test_air_at_rest_is_said_to_be_at_rest():
    scene = make_scene(fields=with_roll(fake_run.make_fields(), moving=1e-12))
    assert not scene.air.lines and "at rest" in scene.air.why_none
    assert "at rest" in plain(scene_page(scene))
    assert len(make_scene(fields=with_roll(fake_run.make_fields())).air.lines) >= 24


def test_a_cut_of_one_pitch_is_repeated_with_its_air():
    fields = with_roll(fake_run.make_fields(length=0.45)).assign_attrs(span="pitch")
    fields = fields.assign_attrs(outlines=fake_run.make_fields(length=0.45).attrs["outlines"])
    fields = fields.assign_coords(air_y_edge=fields["air_y_edge"] / 2, air_y=fields["air_y"] / 2)
    scene = make_scene(fields=fields)
    assert scene.bounds[3] == pytest.approx(1.2)
    assert max(line.points[:, 1].max() for line in scene.air.lines) > 0.9
    assert "repeated by symmetry" in scene.note


def test_pieces_of_a_run_across_the_joists_carry_its_water():
    fields = fake_run.make_fields(length=0.45)
    parts = [part for part in json.loads(fields.attrs["outlines"]) if part["kind"] != "tube"]
    parts.append({"name": "tube run 1", "kind": "tube", "box": [0.0, 0.4, 0.2, 0.216, 0.22, 0.236]})
    fields = fields.assign_attrs(span="pitch", outlines=json.dumps(parts))
    tubes = make_scene(fields=fields).tubes
    assert len(tubes) == 3 and {tube.label for tube in tubes} == {"tube run 1"}
    for tube in tubes:
        assert tube.kelvin[0] == pytest.approx(47.0 + 273.15, abs=0.1)


def test_the_page_is_whole_small_and_keeps_hostile_titles_as_text():
    title = '</script><img src=x onerror=alert(1)>&\\"'
    page = scene_page(make_scene(title, fields=with_roll(fake_run.make_fields()), units="ip"))
    assert len(page.encode()) < 1_000_000
    assert "<img" not in page and page.count("</script>") == 2
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", page) and "default-src 'none'" in page
    data = data_in(page)
    assert data["floor"]["x"] and data["air"]["counts"] and 'class="inches"' in page
    said = ("Emissivity ε: oak 0.90 (materials library", "Fixed scale: 4 K", "In numbers", "°F")
    for needed in said:
        assert needed in plain(page)


def test_arrays_come_back_from_the_page_within_a_hundredth_of_a_kelvin():
    field = np.array([290.0, np.nan, 300.0, 293.21])
    told = coded(field)
    codes = np.frombuffer(zlib.decompress(b64decode(told["codes"])), "<u2")
    back = np.where(codes == 65535, np.nan, told["low"] + codes * (told["high"] - told["low"]) / 65534)
    np.testing.assert_allclose(back, field, atol=0.01)


def test_a_large_bay_still_makes_a_page_of_ten_megabytes():
    shape = (150, 400, 90)
    noise = np.random.default_rng(1).normal(300.0, 5.0, shape)
    edges = [np.linspace(0.0, 1.0, count + 1) for count in shape]
    small = thinned(Volume(*edges, noise))
    assert small.kelvin.size <= MOST_CELLS and small.kelvin.shape[1] == small.y_edge.size - 1
    assert small.y_edge[-1] == 1.0
    # Noise does not deflate: nothing takes more room than this.
    assert 1.4 * len(coded(small.kelvin.ravel())["codes"]) < LARGEST_PAGE


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    fields = fake_run.make_fields()
    folder = tmp_path_factory.mktemp("view") / "oak"
    from sim.case.writing import case_text

    state = {"report": fake_run.make_report(fields), "history": fake_run.HISTORY, "versions": versions()}
    return write_run(folder, case_text=case_text(make_case()), fields=fields, **state)


def test_the_command_writes_its_page_beside_the_run_which_stays_replaceable(kept, capsys):
    from sim.store.target import check_target

    assert main(["view", str(kept)]) == 0
    assert (kept / "view.html").stat().st_size < LARGEST_PAGE and "view.html" in capsys.readouterr().out
    check_target(kept)
    assert view(kept).title.startswith("Oak")


def test_the_headline_speaks_the_units_of_the_scene(kept):
    # 450 mm / 25.4 = 17.7 in
    titles = [view(kept, units=units).title for units in ("si", "ip")]
    assert [title.split(": ")[1] for title in titles] == ["plates every 450 mm", "plates every 17 23/32 in"]


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["nowhere"], "no such folder"),
        (["{kept}", "--out", "page.pdf"], "ends in .html"),
        (["{kept}", "--out", "page.html", "--window"], "leave one of them out"),
        (["{several}"], "is no run itself but holds some; name one, such as"),
        (["{broken}"], "is a run that lacks report.json; solve its case anew"),
        (["{lesson}"], "is a lesson, which has its pages already"),
        (["{study}"], "is a study, which keeps no temperatures"),
        (["{house}"], "is a house"),
    ],
)
def test_what_cannot_be_shown_is_one_clear_line(arguments, line, kept, tmp_path, capsys):
    for name in ("several", "house"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "versions.json").write_text('{"joistbay": "1"}')
    (tmp_path / "house" / "house.json").write_text("{}")
    run = ("case.toml", "report.json", "fields.nc", "history.csv", "versions.json")
    hold = {"several/equal_water/1-oak": run, "broken": (*run[:1], *run[2:]), "lesson": ["lesson.json"]}
    for folder, names in (hold | {"study": ["study.json"]}).items():
        (tmp_path / folder).mkdir(parents=True)
        for name in names:
            (tmp_path / folder / name).touch()
    named = {"kept": kept} | {name: tmp_path / name for name in ("several", "house", "broken", "lesson", "study")}
    assert main(["view", *(argument.format(**named) for argument in arguments)]) == 2
    said = capsys.readouterr().err
    assert line in said and said.count("\n") == 1


def test_a_window_without_a_display_is_one_clear_line(kept, monkeypatch, capsys):
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("viz.view.window.sys.platform", "linux")
    assert main(["view", str(kept), "--window"]) == 2
    assert "without --window a page is written" in capsys.readouterr().err


def test_a_page_needs_neither_vtk_nor_a_driver(kept, monkeypatch):
    import sys

    for name in ("pyvista", "vtkmodules", "vtk"):
        monkeypatch.setitem(sys.modules, name, None)
    assert len(scene_page(view(kept))) > 10_000


def test_a_run_in_time_shows_its_last_state():
    fields = fake_run.make_fields()
    floor = xr.concat([fields["floor_temperature"] - 5.0, fields["floor_temperature"]], "time")
    series = xr.Dataset({"floor_temperature": floor, "room": ("time", [290.0, 294.0])})
    series = series.assign_coords(time=[0.0, 7200.0], x_edge=fields["x_edge"], y_edge=fields["y_edge"])

    class Followed:
        case, report = make_case(), Report("oak", {})

    Followed.series = series.assign_attrs(fields.attrs)
    state = last_state_of(Followed)
    assert state.room == 294.0 and "--snapshots" in state.missing[0]
    scene = view(Followed)
    np.testing.assert_array_equal(scene.floor.surface, fields["floor_temperature"].values)
    assert scene.floor.reflected == 294.0 and scene.volume is None and "after 2 h" in scene.note
    assert "--snapshots" in plain(scene_page(scene))


def test_blocks_are_shown_by_temperature():
    found = solve(load_case(Path(__file__).parents[2] / "cases/verification/layered-floor/case.toml"))
    scene = view(found)
    assert scene.floor is None and scene.volume is not None and len(scene.solids) > 1
    page = scene_page(scene)
    assert '<input type="checkbox" id="layer-warm" checked>' in page and "layer-floor" not in page


def test_a_stranger_is_refused_by_its_type():
    with pytest.raises(TypeError, match="not int"):
        view(3)
    with pytest.raises(StoreError, match="not a run folder|no such"):
        last_state_in("tests")


def test_pyvista_draws_the_same_scene():
    from viz.scene import DisplayError

    scene = make_scene(fields=with_roll(fake_run.make_fields(step=0.03)))
    try:
        plotter = scene.plotter(off_screen=True)
    except DisplayError as lacking:
        pytest.skip(str(lacking))
    painted = [bar for bar in ("read by a camera, °C", "plates and air, °C", "water, °C") if bar in plotter.scalar_bars]
    assert len(painted) == 3 and len(plotter.actors) > len(scene.solids)
    plotter.close()


def test_a_notebook_gets_the_page_and_a_prompt_a_few_lines():
    scene = make_scene()
    assert scene._repr_html_().startswith('<iframe sandbox="allow-scripts"') and len(repr(scene)) < 600
