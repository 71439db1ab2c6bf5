"""Pictures: files are made and not blank, one scale is shared, units are right, no text overlaps."""

import json
import subprocess
import sys

import fake_run
import numpy as np
import pytest
from sheets import check_sheet

from sim.results.spacing_names import spacing_name
from viz import bars, choice, cutaway, floor_map, layout, profiles, scales, scene, section


def make_choice(name="plates every 300 mm", span=None, case="Oak family room", **shape):
    fields = fake_run.make_fields(**{"step": 0.03, **shape})
    fields = fields.assign_attrs(span=span) if span else fields
    return choice.Choice(name, fields, fake_run.make_report(fields), case)


@pytest.fixture(scope="module")
def four():
    """One pitch of four spacings, as a comparison makes them."""
    shapes = [(0.2, 0.2), (0.3, 0.3), (0.45, 0.45), (0.45, None)]
    return [
        make_choice(spacing_name(pitch), "pitch", length=length, pitch=pitch, plate_length=0.19)
        for length, pitch in shapes
    ]


def test_a_floor_colder_than_its_room_is_drawn_round_that_room():
    """Its ripple has no ratio to what the floor is above the room, which older fields tell their room by."""
    plain = make_choice()
    report = {**plain.report, "ripple_ratio": float("nan")}
    told = choice.Choice(plain.name, plain.fields.assign_attrs(room=294.15), report, plain.case)
    assert told.room == 294.15 and scales.window_of([told.room]) == scales.Scale(17.0, 33.0)
    untold = choice.Choice(plain.name, plain.fields, report, plain.case)
    assert untold.room is None and scales.window_of([untold.room]) is None
    floor_map.draw_floor_map(untold)


def test_display_temperature_in_fahrenheit():
    # Water freezes at 273.15 K = 32 °F and boils (1 atm) at 373.15 K = 212 °F.
    np.testing.assert_allclose(
        scales.display_temperature([273.15, 373.15], "ip"), [32.0, 212.0], rtol=0.0, atol=1e-9
    )


def test_one_scale_covers_all_fields_and_ignores_gaps():
    scale = scales.shared_scale([[290.0, np.nan], [300.0, 305.0]], "si")
    np.testing.assert_allclose([scale.low, scale.high], [16.85, 31.85], rtol=0.0, atol=1e-9)
    assert scale.unit == "°C"
    with pytest.raises(ValueError, match="no finite"):
        scales.shared_scale([[np.nan]])


def test_a_nearly_even_floor_keeps_a_readable_scale():
    scale = scales.shared_scale([[300.0, 300.01]], "ip")
    np.testing.assert_allclose(scale.high - scale.low, 1.8, rtol=1e-9, atol=0.0)


def test_ticks_are_round_and_inside():
    ticks = scales.Scale(75.9, 87.4, "ip").ticks()
    np.testing.assert_allclose(ticks, [76, 78, 80, 82, 84, 86], rtol=0.0, atol=1e-9)


def lightness(colours):
    """CIE 1976 L* of sRGB colours (IEC 61966-2-1 transfer, CIE 15 lightness)."""
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    return 116.0 * np.cbrt(luminance) - 16.0


def test_colours_rise_steadily_in_lightness_for_all_eyes():
    colours = scales.temperature_colours()(np.arange(256))[:, :3]
    steps = np.diff(lightness(colours))
    assert steps.min() > 0.15 and steps.max() < 0.45
    # Full deuteranopia, G. Machado, M. Oliveira, L. Fernandes 2009, table for severity 1.0.
    blind = np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]]
    )
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ blind.T, 0.0, 1.0)
    assert (np.diff(seen @ [0.2126, 0.7152, 0.0722])[::8] > 0).all()


def test_line_styles_differ():
    assert len(set(scales.line_colours(14))) == 14


def test_repeating_a_pitch_mirrors_it_and_joins_its_parts():
    plan = choice.floor_plans([make_choice(span="pitch", length=0.3, pitch=0.3, plate_length=0.19)])[0]
    np.testing.assert_allclose(plan.length, choice.REPEATED_LENGTH, rtol=1e-9, atol=0.0)
    once = int(np.searchsorted(plan.y_edge, 0.3 - 1e-9))
    np.testing.assert_array_equal(
        plan.temperature[:, :once], plan.temperature[:, 2 * once - 1 : once - 1 : -1]
    )
    kinds = [outline.kind for outline in plan.outlines]
    assert kinds.count("joist") == 2 and kinds.count("tube") == 2 and kinds.count("plate") == 8
    tube = next(outline for outline in plan.outlines if outline.kind == "tube")
    np.testing.assert_allclose(tube.box[2:4], [0.0, 1.2], rtol=0.0, atol=1e-9)


def test_plates_cut_by_the_plane_of_symmetry_become_whole():
    fields = fake_run.make_fields(length=0.3, pitch=0.3, plate_length=0.19, step=0.03)
    half = [{"name": "plate", "kind": "plate", "box": [0.05, 0.15, 0.2, 0.3, 0.2, 0.21]}]
    cut = choice.Choice("half", fields.assign_attrs(span="pitch", outlines=json.dumps(half)), {})
    boxes = sorted(outline.box[2:4] for outline in choice.floor_plans([cut])[0].outlines)
    np.testing.assert_allclose(boxes, [[0.2, 0.4], [0.8, 1.0]], rtol=0.0, atol=1e-9)


def test_maps_of_a_comparison_share_one_scale(four, tmp_path):
    figure = floor_map.draw_floor_maps(four, title="Four spacings at equal water temperature")
    words = check_sheet(figure, tmp_path)
    maps = [axes.collections[0] for axes in figure.axes if axes.collections]
    assert len(maps) == 4
    limits = {mesh.get_clim() for mesh in maps}
    plans = choice.floor_plans(four)
    lowest = min(plan.temperature.min() for plan in plans) - 273.15
    highest = max(plan.temperature.max() for plan in plans) - 273.15
    np.testing.assert_allclose(sorted(limits), [(lowest, highest)], rtol=0.0, atol=1e-9)
    for name in ("plates every 200 mm", "no plates", "°C", "across the joists, m", "plate below"):
        assert name in words
    assert "one plate pitch, repeated by symmetry" in words


def test_map_values_and_units_in_ip(four, tmp_path):
    words = check_sheet(floor_map.draw_floor_maps(four[1:3], units="ip"), tmp_path)
    mean = four[1].report["surface_mean_C"] * 9 / 5 + 32
    ripple = four[1].report["ripple_K"] * 9 / 5
    assert f"mean {mean:.1f} °F, ripple {ripple:.2f} °F" in words
    assert ", in |" in words and "°C" not in words


def test_a_long_bay_lies_on_its_side_and_keeps_its_shape(tmp_path):
    figure = floor_map.draw_floor_maps(
        [make_choice(length=4.0, pitch=0.5), make_choice(length=4.0, pitch=None)]
    )
    check_sheet(figure, tmp_path)
    axes = figure.axes[0]
    np.testing.assert_allclose(axes.get_xlim(), [0.0, 4.0], rtol=0.0, atol=1e-9)
    box = axes.get_window_extent()
    np.testing.assert_allclose(box.width / box.height, 4.0 / fake_run.WIDTH, rtol=0.01, atol=0.0)


def test_long_titles_and_names_are_wrapped(four, tmp_path):
    long = "a very long name that says everything about the plates, their bond and their screws " * 3
    many = [choice.Choice(long, c.fields, c.report, long) for c in four]
    check_sheet(floor_map.draw_floor_maps(many, title=long), tmp_path)
    check_sheet(profiles.draw_profiles(many, title=long), tmp_path)
    check_sheet(bars.draw_bars(many, many, title=long), tmp_path)


def test_an_even_floor_and_a_rug_are_drawn(tmp_path):
    fields = fake_run.make_fields(length=0.9, step=0.03)
    parts = json.loads(fields.attrs["outlines"])
    parts.append({"name": "wool rug", "kind": "rug", "box": [0.05, 0.3, 0.2, 0.7, 0.27, 0.28]})
    even = fields.assign(floor_temperature=fields["floor_temperature"] * 0.0 + 297.0)
    even = even.assign_attrs(outlines=json.dumps(parts))
    picture = floor_map.draw_floor_map(choice.Choice("even", even, fake_run.make_report(even)))
    assert "rug" in check_sheet(picture, tmp_path)


def test_profiles_pass_through_the_warmest_spot(four, tmp_path):
    plan = choice.floor_plans(four[:1])[0]
    for axis in (0, 1):
        at, kelvin = profiles.profile(plan, axis)
        assert kelvin.max() == plan.temperature.max() and at.size == plan.temperature.shape[axis]
    figure = profiles.draw_profiles(four, units="ip")
    words = check_sheet(figure, tmp_path)
    assert "floor surface, °F" in words and "along the joists, in" in words
    peak = max(line.get_ydata().max() for line in figure.axes[0].lines)
    expected = max(c.report["surface_peak_C"] for c in four) * 9 / 5 + 32
    np.testing.assert_allclose(peak, expected, rtol=0.0, atol=1e-9)


def test_section_shows_air_and_water_in_their_temperature(tmp_path):
    run = make_choice()
    figure = section.draw_section(run, units="ip", at=0.45)
    words = check_sheet(figure, tmp_path)
    nearest = run.fields["y"].values[np.abs(run.fields["y"].values - 0.45).argmin()]
    assert f"{nearest / 0.0254:.3g} in along the bay" in words and "cavity air, 93.6 °F" in words
    assert "softwood joist" in words and "plywood subfloor" in words and "°C" not in words
    cells = figure.axes[0].collections[1]
    shown = np.ma.filled(cells.get_array(), np.nan).reshape(run.fields["z"].size, run.fields["x"].size)
    # Lower air zone: 307 K = 92.93 °F.
    air = shown[np.abs(run.fields["z"].values - 0.15).argmin(), run.fields["x"].size // 2]
    np.testing.assert_allclose(air, 92.93, rtol=0.0, atol=1e-6)
    first, second = figure.axes[0].patches
    supply = scales.display_temperature(321.15 - 2.0 * nearest / 0.9, "ip")
    np.testing.assert_allclose(
        first.get_facecolor(), scales.temperature_colours()(cells.norm(supply)), rtol=0.0, atol=1e-9
    )
    assert first.get_facecolor() != second.get_facecolor()


def test_section_without_air_temperature_leaves_the_cavity_neutral(tmp_path):
    run = make_choice()
    still = choice.Choice("still", run.fields.drop_vars(["air_zone", "water_position"]), run.report)
    figure = section.draw_section(still)
    assert "plate" in check_sheet(figure, tmp_path)
    neutral, cells = (mesh.get_array() for mesh in figure.axes[0].collections[:2])
    empty = np.ma.getmaskarray(cells)
    bare = np.isin(run.fields["material"].values, (0, 7))  # air, and tubes, which are drawn round over it
    assert any(np.array_equal(empty, plane.T) for plane in bare.swapaxes(0, 1))
    np.testing.assert_array_equal(np.ma.getmaskarray(neutral) | empty, True)


def test_section_across_tubes_that_run_across(tmp_path):
    run = make_choice()
    parts = [part for part in json.loads(run.fields.attrs["outlines"]) if part["kind"] != "tube"]
    parts.append({"name": "PEX tube", "kind": "tube", "box": [0.0, 0.4064, 0.2, 0.216, 0.2, 0.216]})
    fields = run.fields.assign_attrs(outlines=json.dumps(parts))
    figure = section.draw_section(choice.Choice("across", fields, run.report), at=0.21)
    assert " tube |" in check_sheet(figure, tmp_path)


@pytest.mark.parametrize("units", ["si", "ip"])
def test_bars_show_flows_and_water(four, tmp_path, units):
    needed = [choice.Choice(c.name, c.fields, {**c.report, "heat_flux_up_W_m2": 50.0}) for c in four]
    words = check_sheet(bars.draw_bars(four, [*needed[:3], None], units=units), tmp_path)
    # 50 W/m2 / 3.154591 W/m2 per Btu/(h ft2) = 15.85 (NIST SP 811); supply 48 °C = 118.4 °F.
    expected = (
        ("50.0 W/m²", "48.0 °C", "W/m²") if units == "si" else ("15.8 Btu/h·ft²", "118.4 °F", "Btu/h·ft²")
    )
    assert all(text in words for text in (*expected, "not reached", "up into the room"))


def test_heat_per_area_counts_heat_and_incoming_heat_stands_left(four, tmp_path):
    report = {
        "floor_area_m2": 2.0,
        "heat_flow_up_W": 100.0,
        "heat_flow_down_W": -10.0,
        "heat_flow_edge_W": None,
    }
    np.testing.assert_allclose(bars.heat_per_area(report), [50.0, -5.0, 0.0], rtol=1e-12, atol=0.0)
    figure = bars.draw_bars([choice.Choice("warm below", four[0].fields, report)])
    check_sheet(figure, tmp_path)
    assert figure.axes[0].get_xlim()[0] < -5.0


def test_floor_ends_without_a_floor_are_left_out():
    run = make_choice()
    floor = run.fields["floor_temperature"].copy()
    floor[:, :3] = np.nan
    plan = choice.floor_plans([choice.Choice("rim", run.fields.assign(floor_temperature=floor), {})])[0]
    np.testing.assert_allclose(plan.y_edge[0], run.fields["y_edge"].values[3], rtol=0.0, atol=1e-12)
    assert np.isfinite(plan.temperature).all()
    assert min(outline.box[2] for outline in plan.outlines) >= plan.y_edge[0]


def test_nothing_to_draw_is_refused(four):
    without = choice.Choice("blocks", four[0].fields.drop_vars("floor_temperature"), {})
    with pytest.raises(ValueError, match="no floor surface"):
        floor_map.draw_floor_map(without)
    for draw in (floor_map.draw_floor_maps, profiles.draw_profiles, bars.draw_bars):
        with pytest.raises(ValueError, match="no run to draw"):
            draw([])
    with pytest.raises(ValueError, match="4 choices but 1"):
        bars.draw_bars(four, four[:1])


def test_cutaway_names_its_parts(tmp_path):
    run = make_choice(case="Oak family room")
    words = check_sheet(cutaway.draw_cutaway(run, units="ip", pixels=(420, 300)), tmp_path)
    for part in (
        "oak",
        "plywood subfloor",
        "softwood joist",
        "plate",
        "tube",
        "glass wool",
        "board ceiling",
    ):
        assert f"{part} |" in words
    assert "°F" in words and "35.4 in of the bay" in words


def test_cutaway_colours_mean_temperature():
    run = make_choice()
    plan, _ = scene.shown_plan(run)
    scale = scales.shared_scale([plan.temperature])
    view = scene.render(run, scale, size=(320, 240))
    assert view.picture.shape == (240, 320, 3)
    column, row, depth = cutaway.visible_spot(view, view.names.index("plate"))
    assert depth > 2 and view.part[int(row), int(column)] == view.names.index("plate")
    shown = view.picture[int(row), int(column)] / 255.0
    cells = run.fields["temperature"].values[run.fields["material"].values == 6]
    expected = scales.temperature_colours()(scale.norm(np.median(cells) - 273.15))[:3]
    np.testing.assert_allclose(shown, expected, rtol=0.0, atol=0.2)


def test_cutaway_of_a_long_bay_shows_its_middle_and_of_a_pitch_more():
    plan, _ = scene.shown_plan(make_choice(length=4.0, pitch=0.5))
    np.testing.assert_allclose([plan.y_edge[0], plan.length], [1.4, 1.2], rtol=0.0, atol=0.05)
    plan, _ = scene.shown_plan(make_choice(span="pitch", length=0.3, pitch=0.3, plate_length=0.19))
    np.testing.assert_allclose(plan.length, 1.2, rtol=1e-9, atol=0.0)


def test_a_machine_that_cannot_draw_says_what_to_install(monkeypatch):
    monkeypatch.setattr(scene, "_loads", lambda name: False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    with pytest.raises(scene.DisplayError, match="apt-get install libegl1"):
        scene.check_display()


@pytest.mark.parametrize("text", ["客厅", "floor 😀", "two\nlines", "a\tb"])
def test_letters_that_the_type_lacks_have_a_width(text):
    plain = "".join(letter for letter in text if letter.isascii() and letter.isprintable())
    assert layout.text_width(text, 72.0) >= layout.text_width(plain, 72.0) + 1.0


@pytest.mark.parametrize(("text", "weight"), [("high-temperature boiler", "normal"), ("416.54 m² AVA", "bold")])
def test_widths_of_texts_are_those_that_are_set_also_after_a_renderer_changed_the_type(text, weight):
    from matplotlib.font_manager import FontProperties, findfont, get_font
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=9.0, weight=weight)
    get_font(findfont(font)).set_size(7.0, 72.0)
    wide = text_to_path.get_text_width_height_descent(text, font, ismath=False)[0] / 72.0
    # letters in pairs stand up to some hundredths closer
    assert wide <= layout.text_width(text, 9.0, weight) * 1.002 <= 1.06 * wide


def test_wrapping_and_spreading():
    lines = layout.wrap("one two three four five six", 0.7, 10.0, most=2)
    assert len(lines) == 2 and lines[1].endswith("…")
    assert all(layout.text_width(line, 10.0) <= 0.7 for line in lines)
    assert layout.wrap("", 1.0, 10.0) == []
    places = layout.spread([0.5, 0.51, 0.9, 0.0], 0.2, 0.0, 1.0)
    assert np.diff(sorted(places)).min() >= 0.2 - 1e-12 and min(places) >= 0.0 and max(places) <= 1.0
    assert list(np.argsort(places)) == [3, 0, 1, 2]
    crowded = layout.spread([0.0, 0.01, 0.02], 0.2, 0.0, 1.0)
    np.testing.assert_allclose(crowded, [0.0, 0.2, 0.4], rtol=0.0, atol=1e-12)
    assert layout.spread([0.5] * 11, 0.2, 0.0, 1.0)[-1] <= 1.0 + 1e-9


def test_names_of_spacings():
    # 0.3048 m = 12 in by definition of the inch.
    assert spacing_name(0.3048, "ip") == "plates every 12 in"
    assert spacing_name(9.125 * 0.0254) == "plates every 9.125 in", "a whole number of eighths"
    assert spacing_name(0.45, "si") == "plates every 450 mm"


def test_importing_viz_is_light():
    code = (
        "import sys, viz.floor_map, viz.cutaway, viz.section, viz.profiles, viz.bars;"
        "sys.exit(any(m in sys.modules for m in ('matplotlib', 'pyvista', 'vtkmodules', 'xarray', 'scipy')))"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_of_web_and_flange_a_plan_shows_the_flange():
    run = make_choice()
    parts = json.loads(run.fields.attrs["outlines"])
    parts.append({"name": "softwood joist", "kind": "joist", "box": [0.0, 0.005, 0.0, 0.9, 0.05, 0.2]})
    fields = run.fields.assign_attrs(outlines=json.dumps(parts))
    plan = choice.floor_plans([choice.Choice("I-joist", fields, {})])[0]
    joists = choice.seen_from_above(plan, ("joist",))
    assert sorted(joist.box[1] for joist in joists) == [0.01905, 0.4064]
