"""Pictures of computed air: sections, streamlines, movie; drawn from fields whose flow is known."""

import json
from dataclasses import replace

import numpy as np
import pytest
import xarray
from sheets import check_sheet

from viz import air_movie, air_section, air_streams, air_sweep, air_view
from viz.air_lines import lines_from
from viz.choice import Choice

PLATE = {"name": "plate", "kind": "sheet", "box": [0.1, 0.2, 0.0, 0.4, 0.12, 0.12]}
TUBE = {"name": "tube", "kind": "tube", "box": [0.14, 0.16, 0.0, 0.4, 0.1, 0.12]}


def vortex(rows, dimensionless=0, times=None):
    """A vortex in a box 0.3 m × 0.4 m × 0.2 m, warm below: velocities from a stream function; a solid corner."""
    edges = [np.linspace(0.0, end, n + 1) for end, n in ((0.3, 18), (0.4, rows), (0.2, 14))]
    x, y, z = np.meshgrid(*(0.5 * (e[1:] + e[:-1]) for e in edges), indexing="ij")
    across = 0.05 * np.sin(np.pi * x / 0.3) * np.cos(np.pi * z / 0.2)
    up = -0.05 * (0.2 / 0.3) * np.cos(np.pi * x / 0.3) * np.sin(np.pi * z / 0.2)
    fields = {"temperature": 300.0 + 20.0 * (0.2 - z), "velocity_x": across, "velocity_y": 0.002 * y, "velocity_z": up}
    solid = (x < 0.05) & (z < 0.04)
    dims = ("air_x", "air_y", "air_z")
    seen = {name: np.where(solid, np.nan, values) for name, values in fields.items()}
    variables = {f"air_{name}{end}": (dims, values) for name, values in seen.items() for end in ("", "_now")}
    coords = {f"air_{a}": (f"air_{a}", 0.5 * (e[1:] + e[:-1])) for a, e in zip("xyz", edges, strict=True)}
    coords |= {f"air_{a}_edge": (f"air_{a}_edge", e) for a, e in zip("xyz", edges, strict=True)}
    attrs = {"title": "Vortex", "dimensionless": dimensionless, "outlines": json.dumps([PLATE, TUBE])}
    found = xarray.Dataset(variables, coords=coords, attrs=attrs)
    if times is None:
        return Choice("", found, {}, "Vortex")
    names = ("air_temperature", "air_velocity_x", "air_velocity_z")
    frames = {n: (("time", "air_x", "air_z"), np.stack([found[n].values[:, 0] * s for s in times])) for n in names}
    return Choice("", xarray.Dataset(frames, coords=coords | {"time": ("time", times)}, attrs=attrs), {}, "Vortex")


@pytest.mark.parametrize(("rows", "units"), [(1, "si"), (6, "ip")])
def test_section_is_drawn_with_its_fastest_speed(rows, units, tmp_path):
    words = check_sheet(air_section.draw_air_section(vortex(rows), units=units), tmp_path)
    fastest = air_view.air_section(vortex(rows)).fastest
    unit = f"{1e3 * fastest:.1f} mm/s" if units == "si" else f"{fastest / 0.0254:.2f} in/s"
    assert unit in words
    assert ("°C" if units == "si" else "°F") in words


def test_dimensionless_section_speaks_in_scales(tmp_path):
    moving = replace(vortex(1, dimensionless=1), report={"peclet": 50.0})
    words = check_sheet(air_section.draw_air_section(moving), tmp_path)
    assert "ΔT" in words
    assert "α/L" in words
    assert "°C" not in words


def test_stream_lines_hold_equal_flow():
    """ψ reaches 0.05 m/s · 0.2 m / π; LINES levels lie evenly between 0 and that."""
    section = air_view.air_section(vortex(1))
    psi, levels = air_section.stream_lines(section)
    np.testing.assert_allclose(np.abs(psi).max(), 0.05 * 0.2 / np.pi, rtol=0.02, atol=0.0)
    np.testing.assert_allclose(np.diff(levels), levels[1] - levels[0], rtol=1e-9, atol=0.0)
    assert np.sum((levels > 0.0) & (levels < psi.max())) == air_section.LINES


def test_flows_stand_at_their_rayleigh_numbers_where_these_rise_and_else_side_by_side():
    def places(*numbers):
        return air_sweep._places([{"rayleigh": each, "choice": f"{each:g}"} for each in numbers])

    assert places(1e3, 2e3, 5e3) == ([1e3, 2e3, 5e3], [])
    assert places(5e3, 2e3) == ([0.0, 1.0], ["5000", "2000"])
    assert places(2e3, 2e3) == ([0.0, 1.0], ["2000", "2000"])
    assert places(2e3) == ([0.0], ["2000"])


def test_a_run_without_air_is_refused():
    with pytest.raises(ValueError, match="no computed air"):
        air_view.air_section(Choice("dry", xarray.Dataset(), {}))


def test_streamlines_in_three_dimensions(tmp_path):
    check_sheet(air_streams.draw_air_streams(vortex(8), pixels=(420, 300)), tmp_path)


def test_streamlines_follow_the_vortex():
    """Along a line its stream function sin πx/0.3 · sin πz/0.2 stays what it was, well inside."""
    choice = vortex(8)
    fields = choice.fields.copy(deep=True)
    fields["air_velocity_y"][:] = 0.0
    grid = air_streams.air_grid(Choice("", fields, {}), "", air_view.air_scale([fields["air_temperature"]], False))
    lines, checked = air_streams.stream_lines(grid), 0
    for number in range(lines.n_cells):
        x, _, z = lines.get_cell(number).points.T
        psi = np.sin(np.pi * x / 0.3) * np.sin(np.pi * z / 0.2)
        if np.ptp(x) > 0.03 and psi[0] > 0.4:
            assert np.ptp(psi) < 0.05
            checked += 1
    assert checked >= 5


def test_a_long_cavity_shows_the_stretch_in_its_middle(tmp_path, monkeypatch):
    """0.4 m is more than 1.1 · 0.3 m, by 35 mm at each end: three whole cells of 10 mm are left out there."""
    monkeypatch.setattr(air_streams, "STRETCH", 1.1)
    choice = vortex(40)
    grid = air_streams.air_grid(choice, "", air_view.air_scale([choice.fields["air_temperature"]], False))
    np.testing.assert_allclose(grid.bounds, (0.0, 0.3, 0.03, 0.37, 0.0, 0.2), rtol=0.0, atol=1e-12)
    assert "stretch" in check_sheet(air_streams.draw_air_streams(choice, pixels=(420, 300)), tmp_path)


def test_streamlines_of_a_flat_flow_are_refused():
    with pytest.raises(ValueError, match="three dimensions"):
        air_streams.draw_air_streams(vortex(1))


def test_a_line_that_winds_in_is_drawn_once_round():
    """A section of a flow in three dimensions may wind in for ever: one turn is a picture, more are a knot."""
    edges = np.linspace(-0.1, 0.1, 41)
    middles = 0.5 * (edges[1:] + edges[:-1])
    x, z = np.meshgrid(middles, middles, indexing="ij")
    across, up = -z - 0.02 * x, x - 0.02 * z  # a turn brings a line nearer to the middle by an eighth
    section = replace(
        air_view.air_section(vortex(6)), x_edge=edges, z_edge=edges, temperature=300.0 + x, across=across, up=up
    )
    (line,) = lines_from(section, [(0.02, 0.0)], most=1)
    turned = np.unwrap(np.arctan2(*line.points.T[::-1]))
    assert 1.5 * np.pi < abs(turned[-1] - turned[0]) < 2.6 * np.pi


def test_a_section_of_a_bay_is_numbered_in_millimetres(tmp_path):
    """0.05 m is nobody's notation on a site."""
    words = check_sheet(air_section.draw_air_section(vortex(6)), tmp_path)
    assert "across, mm" in words and "height, mm" in words and "0.05" not in words.split()
    assert "across, in" in check_sheet(air_section.draw_air_section(vortex(6), units="ip"), tmp_path)


def test_movie_has_all_its_pictures(tmp_path, monkeypatch):
    from PIL import Image

    monkeypatch.setattr("viz.movie.find_encoder", lambda: None)
    frames = vortex(1, times=np.array([0.0, 0.5, 1.0]))
    with Image.open(air_movie.save_air_movie(frames, tmp_path / "new" / "start.gif")) as movie:
        assert movie.n_frames == 3
        first = np.asarray(movie.convert("RGB"), float)
        movie.seek(2)
        assert np.abs(np.asarray(movie.convert("RGB"), float) - first).mean() > 1.0


def test_movie_of_one_picture_is_refused(tmp_path):
    with pytest.raises(ValueError, match="at least 2"):
        air_movie.save_air_movie(vortex(1, times=np.array([0.0])), tmp_path / "start.gif")
