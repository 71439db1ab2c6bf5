"""The run store: round trip, atomic writing, refusal to overwrite, readable errors."""

import json
import os
import platform

import fake_run
import numpy as np
import pytest

from sim.store import run_folder as store


def save(folder, **changes):
    fields = fake_run.make_fields(length=0.45, step=0.03)
    values = {
        "case_text": fake_run.CASE_TEXT,
        "report": fake_run.make_report(fields),
        "fields": fields,
        "history": fake_run.HISTORY,
        "versions": store.versions(),
    }
    return store.write_run(folder, **{**values, **changes})


def test_what_is_written_is_read_back(tmp_path):
    fields = fake_run.make_fields(length=0.45, step=0.03)
    folder = save(tmp_path / "runs" / "den")
    assert folder == tmp_path / "runs" / "den"
    with store.read_run(folder) as run:
        assert run.case_text == fake_run.CASE_TEXT
        assert run.report == fake_run.make_report(fields)
        np.testing.assert_array_equal(run.fields["temperature"], fields["temperature"])
        np.testing.assert_array_equal(run.fields["material"], fields["material"])
        assert run.fields["material"].dtype == np.int8
        assert run.fields.attrs["outlines"] == fields.attrs["outlines"]
        assert run.history[0] == {"iteration": 1.0, "residual": 1e-2, "imbalance": 0.3}
        assert run.history[1]["note"] == "done"
        assert str(run).startswith("Run den\n|-- report")
    assert sorted(os.listdir(folder)) == [
        "case.toml",
        "fields.nc",
        "history.csv",
        "pictures",
        "report.json",
        "versions.json",
    ]


def test_fields_are_read_when_used(tmp_path):
    with store.read_run(save(tmp_path / "den")) as run:
        assert not run.fields["temperature"].variable._in_memory


def test_nothing_stays_when_writing_fails_half_way(tmp_path, monkeypatch):
    def full(path, *_):
        path.write_text("half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "write_netcdf", full)
    with pytest.raises(store.StoreError, match="den: cannot be written .No space left"):
        save(tmp_path / "den")
    assert os.listdir(tmp_path) == []


def test_a_failed_rewrite_keeps_the_old_run(tmp_path):
    folder = save(tmp_path / "den")
    with pytest.raises(TypeError):
        save(folder, report={"odd": object()})
    assert store.is_run(folder)
    assert os.listdir(tmp_path) == ["den"]


def test_an_earlier_run_is_replaced_but_nothing_else(tmp_path):
    folder = save(tmp_path / "den")
    (folder / "pictures" / "old.png").write_text("old")
    save(folder, case_text="title = 'second'\n")
    assert (folder / "case.toml").read_text() == "title = 'second'\n"
    assert os.listdir(folder / "pictures") == []
    (folder / "notes.txt").write_text("mine")
    with pytest.raises(store.StoreError, match="notes.txt"):
        save(folder)
    assert (folder / "notes.txt").read_text() == "mine"


def test_a_folder_of_somebody_else_or_a_file_is_refused(tmp_path):
    (tmp_path / "thesis").mkdir()
    (tmp_path / "thesis" / "chapter.txt").write_text("mine")
    with pytest.raises(store.StoreError, match="chapter.txt"):
        save(tmp_path / "thesis")
    with pytest.raises(store.StoreError, match="not a folder"):
        save(tmp_path / "thesis" / "chapter.txt")
    assert (tmp_path / "thesis" / "chapter.txt").read_text() == "mine"


def test_an_empty_folder_may_be_used(tmp_path):
    (tmp_path / "den").mkdir()
    assert store.is_run(save(tmp_path / "den"))


def test_a_place_that_cannot_be_written_says_so(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(store.StoreError, match="choose another folder"):
        save(tmp_path / "file" / "den")
    with pytest.raises(OSError):
        save("/proc/nowhere/den")


def test_reading_what_is_not_a_run(tmp_path):
    with pytest.raises(store.StoreError, match="no such run folder"):
        store.read_run(tmp_path / "missing")
    with pytest.raises(store.StoreError, match=r"missing case\.toml"):
        store.read_run(tmp_path)
    folder = save(tmp_path / "den")
    (folder / "report.json").write_text("{")
    with pytest.raises(store.StoreError, match="den: cannot be read"):
        store.read_run(folder)


def test_a_damaged_field_file_is_a_store_error(tmp_path):
    folder = save(tmp_path / "den")
    (folder / "fields.nc").write_bytes(b"not netcdf")
    with pytest.raises(store.StoreError, match="cannot be read"):
        store.read_run(folder)


def test_report_file_is_plain_json(tmp_path):
    report = {
        "ripple_K": np.float64(2.5),
        "plate_mean_C": float("nan"),
        "list": np.arange(2),
        "paths": [{"a": 1}],
    }
    folder = save(tmp_path / "den", report=report)
    text = (folder / "report.json").read_text()
    assert json.loads(text) == {"ripple_K": 2.5, "plate_mean_C": None, "list": [0, 1], "paths": [{"a": 1}]}


def test_versions_name_libraries_but_not_the_machine():
    found = store.versions()
    assert {"python", "platform", "numpy", "xarray"} <= set(found)
    assert not platform.node() or platform.node() not in " ".join(found.values())


def test_importing_the_store_does_not_import_xarray():
    import subprocess
    import sys

    code = "import sys, sim.store.run_folder, sim.results.people; sys.exit('xarray' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
