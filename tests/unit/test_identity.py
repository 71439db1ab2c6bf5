"""What makes work that is taken up the same work: the case, files that it names, the program and its tables."""

import shutil

import numpy as np
import pytest

from sim.case.load import load_case
from sim.house.bay_solver import bay_identity
from sim.jobs import identity
from sim.jobs.identity import case_identity
from sim.problems.save_warm_up import _job as warm_up_job
from sim.study.compare import AskedChoice
from sim.study.compare_jobs import _job as compare_job
from sim.study.sampling_jobs import _job as sampling_job

CASE = "cases/in-time/weather-reset.toml"


@pytest.fixture
def case(tmp_path):
    shutil.copy(CASE, tmp_path / "case.toml")
    shutil.copy("cases/in-time/winter-day.csv", tmp_path)
    return load_case(tmp_path / "case.toml")


def keys_of(case, store):
    """Keys of everything that is kept for a case."""
    jobs = [compare_job(AskedChoice("a", case), 50.0), sampling_job("a", case), warm_up_job("a", case, store, None)]
    return [*(job.key for job in jobs), bay_identity(case)]


def all_differ(one, other):
    return all(a != b for a, b in zip(one, other, strict=True))


def test_the_same_case_is_the_same_work(case, tmp_path):
    assert keys_of(case, tmp_path) == keys_of(load_case(tmp_path / "case.toml"), tmp_path)


def test_a_changed_weather_file_is_other_work(case, tmp_path):
    before = keys_of(case, tmp_path)
    weather = tmp_path / "winter-day.csv"
    weather.write_text(weather.read_text("utf-8").replace("-", "-1", 1), "utf-8")
    assert all_differ(keys_of(case, tmp_path), before)


def test_a_changed_calibration_is_other_work(case, tmp_path):
    (tmp_path / "taught").mkdir()
    taught = case.with_text("air.calibration", "taught")
    keys = []
    for text in (None, "one", "other"):
        if text:
            (tmp_path / "taught" / "air_films.json").write_text(text)
        keys.append(keys_of(taught, tmp_path))
    assert all_differ(keys[0], keys[1]) and all_differ(keys[1], keys[2])


@pytest.mark.parametrize("changed", ["version", "tables"])
def test_another_program_or_other_materials_are_other_work(case, tmp_path, monkeypatch, changed):
    before = keys_of(case, tmp_path)
    identity.program_identity.cache_clear()
    if changed == "version":
        monkeypatch.setattr(identity, "version", lambda name: "99.0")
    else:
        monkeypatch.setattr(identity, "files", lambda package: tmp_path)
    try:
        assert all_differ(keys_of(case, tmp_path), before)
    finally:
        identity.program_identity.cache_clear()


def test_identity_holds_every_key_of_the_case(case):
    assert case_identity(case) != case_identity(case.with_(**{"water.supply": np.float64(case.water.supply + 0.1)}))
