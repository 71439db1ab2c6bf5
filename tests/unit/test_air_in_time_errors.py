"""Bands of computed air in time: a march on cells twice as large, and words where there is none."""

import re
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from sim.case.load import parse_case
from sim.cli.main import main
from sim.problems.blocks_in_time import follow_blocks
from sim.resolved import in_time

LID = (Path(__file__).parents[2] / "cases" / "verification" / "lump-over-still-air" / "case.toml").read_text()


def quick(**changes):
    """The lid over still air on few cells for a moment."""
    wanted = {"cell": '"2.5 mm"', "wall_cell": '"2.5 mm"', "duration": '"1 s"', "report_at": '["0.5 s"]'} | changes
    text = LID
    for key, value in wanted.items():
        old = re.search(rf"\n{key} = .*", text)
        text = text.replace(old[0], f"\n{key} = {value}", 1) if old else text.replace(
            'model = "resolved"', f'model = "resolved"\n{key} = {value}', 1
        )
    return text


@pytest.fixture(autouse=True)
def few_meetings(monkeypatch):
    monkeypatch.setattr(in_time, "LEAST_INTERVALS", 10)


def test_a_band_is_what_cells_twice_as_large_change():
    found, larger = (
        follow_blocks(parse_case(quick(cell=f'"{size} mm"', wall_cell=f'"{size} mm"'))) for size in (2.5, 5.0)
    )
    for time in (0.5, 1.0):
        here, there = found.reports[time], larger.reports[time]
        apart = abs(here["wall_lid_mean_C"] - there["wall_lid_mean_C"])
        assert_allclose(here["wall_lid_mean_C_uncertainty"], apart, rtol=1e-6)
    assert apart > 0.0 and "left out" in found.remarks[0]
    assert_allclose(found.end.report["wall_lid_mean_C_uncertainty"], apart, rtol=1e-6)


@pytest.mark.parametrize(
    ("changes", "why"), [({"companion": "false"}, "air.companion is false"), ({"cell": '"10 mm"'}, "too few")]
)
def test_numbers_without_a_band_say_so(changes, why):
    more = {"wall_cell": '"10 mm"'} if "cell" in changes else {}
    found = follow_blocks(parse_case(quick(**changes, **more)))
    assert not any(key.endswith("_uncertainty") for key in found.reports[1.0].values)
    assert why in found.remarks[0] and "No error is told" in found.remarks[0]


def test_bands_stand_below_their_numbers(tmp_path, capsys):
    (tmp_path / "lid.toml").write_text(quick())
    assert main(["warmup", str(tmp_path / "lid.toml"), "--out", str(tmp_path / "run"), "--no-page"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"wall lid mean .*\n.*\n +± +K .*[1-9]", told) and "left out" in told
    assert "uncertainty" not in told and "mesh error" not in told
