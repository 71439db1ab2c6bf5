"""Every case and every variant that comes with the program can be read, laid out and solved."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from sim.case.house_load import load_house
from sim.case.load import load_case
from sim.cli.main import main
from sim.house.bay_solver import BaySolver
from sim.house.solve_house import HouseWish, check_house

HOUSE = Path("cases/house/demo-house.toml")
VARIANTS = ["", *(entry["name"] for entry in tomllib.loads(HOUSE.read_text("utf-8"))["variant"])]
CASES = sorted(file for file in Path("cases").rglob("*.toml") if file.name != "expected.toml" and file != HOUSE)
CASES = [file for file in CASES if file.name != "lesson.toml" and "{gap" not in file.read_text("utf-8")]  # of lessons
OWN = [file for file in CASES if "verification" not in file.parts]
"""Cases outside `cases/verification`, whose folders have tests of their own."""


@pytest.mark.parametrize("file", CASES, ids=str)
def test_every_case_can_be_read(file):
    assert load_case(file).name


@pytest.mark.parametrize("variant", VARIANTS)
def test_every_variant_can_be_laid_out(variant):
    rooms, sources = check_house(load_house(HOUSE), HouseWish(variant, "coarse"))
    assert len(rooms) == 5
    assert sources


def test_the_room_over_the_basement_without_insulation_has_its_curve(tmp_path):
    (room, *_), _ = check_house(load_house(HOUSE), HouseWish("no-insulation", "coarse"))
    (curve,) = BaySolver(tmp_path).curves([room.case.with_(plates=None)])
    # 20 °C above, 12 °C below: at little excess the room loses heat to the basement
    assert curve.flux(0.0) < curve.reports[0]["heat_flux_up_W_m2"] < 0.0
    assert curve.law.misfit < 0.05
    needed = curve.excess_for(30.0)
    np.testing.assert_allclose(curve.flux(needed), 30.0, rtol=1e-6, atol=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("variant", VARIANTS)
def test_every_variant_can_be_solved(variant, tmp_path, capsys):
    chosen = ["--variant", variant] if variant else []
    asked = ["house", str(HOUSE), *chosen, "--fineness", "coarse", "--out", str(tmp_path / "house")]
    assert main(asked) == 0
    assert "nan" not in capsys.readouterr().out.lower()


@pytest.mark.slow
@pytest.mark.parametrize("file", OWN, ids=str)
def test_every_case_can_be_solved(file, tmp_path, capsys):
    command = "warmup" if "in-time" in file.parts else "run"
    assert main([command, str(file), "--fineness", "coarse", "--out", str(tmp_path / "out")]) == 0
    assert "nan" not in capsys.readouterr().out.lower()
    assert list((tmp_path / "out" / "pictures").iterdir())


QUICK = ("air-layers-level", "daily-wave", "lump-over-still-air", "cube-heated-from-above", "nafems-t4", "plane-wall")


NEVER_AT_REST = ("semi-infinite-solid",)
"""Cases with a part that takes heat and gives none away."""


def _draws(file, tmp_path):
    """Run a verification case as a user would, with its pictures."""
    command = "warmup" if file.parent.name in NEVER_AT_REST else "run"
    assert main([command, str(file), "--out", str(tmp_path / "out")]) == 0
    assert list((tmp_path / "out" / "pictures").iterdir())


@pytest.mark.parametrize("name", QUICK)
def test_verification_cases_run_with_pictures(name, tmp_path, capsys):
    _draws(Path("cases/verification") / name / "case.toml", tmp_path)


def test_what_has_no_steady_state_is_sent_to_its_course_in_time(tmp_path, capsys):
    asked = ["run", "cases/verification/semi-infinite-solid/case.toml", "--out", str(tmp_path / "out")]
    assert main(asked) == 1
    told = capsys.readouterr().err
    assert "gives none away has no steady state; joistbay warmup follows [time]" in told and "Traceback" not in told


@pytest.mark.slow
@pytest.mark.parametrize("file", [f for f in CASES if f not in OWN and f.parent.name not in QUICK], ids=str)
def test_every_verification_case_runs_with_pictures(file, tmp_path, capsys):
    _draws(file, tmp_path)
