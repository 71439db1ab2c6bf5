"""Run folders of every form can be read, those of later ones say so; the same input gives the same report again.

`tests/data/samples` holds a small folder of each form; nothing here compares its numbers with today's.
"""

import json
import shutil
from pathlib import Path

import numba
import numpy as np
import pytest

from sim.case.load import load_case
from sim.cli.main import main
from sim.results.people import QUANTITIES
from sim.run import solve
from sim.store.formats import FORM, STEPS, form_of, to_this_form
from sim.store.run_folder import read_run

SAMPLES = sorted(Path("tests/data/samples").iterdir())
SAMPLE = SAMPLES[-1]
THREADS_AGREE = 1e-9
"""Largest difference of a report number between thread counts, as a share: only sums may take another order."""


@pytest.fixture
def copy(tmp_path):
    return Path(shutil.copytree(SAMPLE, tmp_path / "run"))


def state(folder, **changes):
    """Say something else in a folder's versions."""
    file = folder / "versions.json"
    stated = json.loads(file.read_text("utf-8")) | changes
    file.write_text(json.dumps({key: value for key, value in stated.items() if value is not None}), "utf-8")


def test_there_is_a_sample_and_a_step_for_every_form():
    assert sorted(STEPS) == list(range(FORM))
    assert {form_of(read_run(folder).versions) for folder in SAMPLES} == set(range(1, FORM + 1))


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda folder: folder.name)
def test_a_sample_is_read_shown_and_exported(folder, tmp_path, capsys):
    with read_run(folder) as run:
        assert set(run.report) <= set(QUANTITIES), "every number has a label"
        assert run.report["surface_trough_C"] < run.report["surface_mean_C"] < run.report["surface_peak_C"]
        assert np.isfinite(run.fields["floor_temperature"].values).all()
    assert main(["export", str(folder), "--to", "csv", "--out", str(tmp_path / "floor.csv")]) == 0
    assert (tmp_path / "floor.csv").read_text("utf-8").startswith("x_m,y_m,floor_temperature_K")


def test_a_folder_without_a_form_is_read_as_before(copy):
    state(copy, form=None)
    assert dict(read_run(copy).report) == dict(read_run(SAMPLE).report)


@pytest.mark.parametrize(
    ("form", "said"), [(str(FORM + 1), "later joistbay"), ("x", "no whole number"), (-1, "no whole number")]
)
def test_a_form_that_cannot_be_read_is_one_line(copy, form, said, capsys):
    state(copy, form=form)
    assert main(["export", str(copy), "--to", "csv"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert said in line and str(copy) in line


def test_steps_are_taken_one_after_the_other(monkeypatch):
    monkeypatch.setattr("sim.store.formats.FORM", 3)
    steps = {0: dict, 1: lambda old: {"b": old["a"]}, 2: lambda old: old | {"c": 1.0}}
    monkeypatch.setattr("sim.store.formats.STEPS", steps)
    assert to_this_form({"a": 2.0}, 1) == {"b": 2.0, "c": 1.0}
    assert to_this_form({"b": 2.0}, 3) == {"b": 2.0}


def report_of(folder):
    values = json.loads((folder / "report.json").read_text("utf-8"))
    return {key: value for key, value in values.items() if key != "solve_time_s"}


def test_a_run_is_repeated_from_its_own_folder_bit_for_bit(tmp_path):
    first, again = tmp_path / "first", tmp_path / "again"
    assert main(["run", str(SAMPLE / "case.toml"), "--no-pictures", "--out", str(first)]) == 0
    assert main(["run", str(first / "case.toml"), "--no-pictures", "--out", str(again)]) == 0
    assert report_of(again) == report_of(first)
    assert (again / "case.toml").read_text("utf-8") == (first / "case.toml").read_text("utf-8")
    with read_run(first) as one, read_run(again) as two:
        assert one.fields.equals(two.fields)


@pytest.mark.skipif(numba.config.NUMBA_NUM_THREADS < 2, reason="one thread only")
def test_one_thread_and_two_agree():
    case, had = load_case(SAMPLE / "case.toml"), numba.get_num_threads()
    try:
        reports = []
        for threads in (1, 2):
            numba.set_num_threads(threads)
            reports.append(solve(case).report.as_dict())
    finally:
        numba.set_num_threads(had)
    for key, value in reports[0].items():
        if key != "solve_time_s" and "residual" not in key:
            np.testing.assert_allclose(reports[1][key], value, rtol=THREADS_AGREE, atol=1e-12, err_msg=key)


KEPT = {path.name: path for path in sorted(Path("tests/data/kept").iterdir())}
"""As form 1 keeps them: a warm-up with two snapshots, a comparison of two, blocks with computed air, air alone."""


@pytest.fixture
def kept(request, tmp_path):
    return Path(shutil.copytree(KEPT[request.param], tmp_path / request.param))


@pytest.mark.parametrize("kept", KEPT, indirect=True)
def test_a_kept_folder_has_its_page_again(kept, capsys):
    assert main(["report", str(kept)]) == 0, capsys.readouterr().err
    assert (kept / "report.html").stat().st_size > 20_000


def test_a_kept_snapshot_is_exported(tmp_path, capsys):
    out = tmp_path / "floor.csv"
    asked = ["export", str(KEPT["warm-up-1"]), "--at", "30min", "--to", "csv", "--out", str(out)]
    assert main(asked) == 0, capsys.readouterr().err
    floor = [float(line.split(",")[2]) for line in out.read_text("utf-8").splitlines()[1:]]
    assert all(293.0 < kelvin < 310.0 for kelvin in floor)


@pytest.mark.parametrize("kept", KEPT, indirect=True)
def test_a_kept_folder_of_a_later_form_is_one_line(kept, capsys):
    state(kept, form=str(FORM + 1))
    commands = [["report", str(kept)]]
    if kept.name == "warm-up-1":
        (choice,) = (kept / "choices").iterdir()
        commands += [["export", str(place), "--at", "0h", "--to", "csv"] for place in (kept, choice)]
    for command in commands:
        assert main(command) == 2
        (line,) = capsys.readouterr().err.splitlines()
        assert "later joistbay" in line


@pytest.mark.parametrize("kept", KEPT, indirect=True)
def test_the_case_of_a_kept_folder_is_a_case(kept):
    (case,) = {load_case(file).title for file in kept.glob("case.toml")}
    assert case == load_case(kept / "written.toml").title


@pytest.mark.parametrize("kept", ["blocks-1", "air-1"], indirect=True)
def test_a_kept_run_is_turned_and_exported(kept, tmp_path, capsys):
    assert main(["view", str(kept), "--out", str(tmp_path / "view.html")]) == 0, capsys.readouterr().err
    assert main(["export", str(kept), "--to", "vtu", "--out", str(tmp_path / "all.vtu")]) == 0, capsys.readouterr().err
    assert (tmp_path / "all.vtu").stat().st_size > 5_000


@pytest.mark.parametrize("kept", ["air-1"], indirect=True)
def test_kept_air_is_gone_on_from(kept, tmp_path, capsys):
    case = tmp_path / "on.toml"
    case.write_text((kept / "written.toml").read_text("utf-8") + 'start_from = "air-1"\n', "utf-8")
    assert main(["run", str(case), "--no-pictures", "--no-page", "--out", str(tmp_path / "on")]) == 0
    assert "air-1" in capsys.readouterr().out + (tmp_path / "on" / "case.toml").read_text("utf-8")
