"""Unfinished folders: found when their process was killed, left alone while it lives, never confused with others."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from sim.machine import unfinished
from sim.machine.unfinished import (
    MARK,
    passing_folder,
    sweep,
    sweep_inside,
    sweep_temporary,
    temporary_folder,
    unfinished_folder,
)
from sim.store.target import check_target

HOLD = """
import sys, time
from pathlib import Path
from sim.machine.unfinished import unfinished_folder
with unfinished_folder(Path(sys.argv[1])) as folder:
    (folder / "half.txt").write_text("half")
    print(folder, flush=True)
    time.sleep(60)
"""


@pytest.fixture
def at_work(tmp_path):
    """Another process that writes results, and its unfinished folder."""
    command = [sys.executable, "-c", HOLD, str(tmp_path / "out")]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        yield process, Path(process.stdout.readline().strip())
        process.kill()


def test_what_a_killed_command_left_goes_and_what_a_living_one_writes_stays(tmp_path, at_work):
    process, folder = at_work
    assert sweep(tmp_path / "out") == []
    assert (folder / "half.txt").read_text() == "half"
    process.kill()
    process.wait()
    check_target(tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_only_names_of_ours_go(tmp_path):
    strangers = [".out.partial.d", ".out.1234.partial", "out.12345678.partial", ".outer.12345678.partial"]
    for name in [*strangers, ".out.0a1b2c3d.partial"]:
        (tmp_path / name).mkdir()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / ".out.00000000.partial").symlink_to(elsewhere)
    assert [path.name for path in sweep(tmp_path / "out")] == [".out.0a1b2c3d.partial"]
    assert {path.name for path in tmp_path.iterdir()} == {*strangers, "elsewhere", ".out.00000000.partial"}


def test_results_that_were_moved_aside_come_back_unless_they_were_replaced(tmp_path):
    (tmp_path / ".out.0a1b2c3d.old").mkdir()
    (tmp_path / ".out.0a1b2c3d.old" / "report.json").write_text("{}")
    sweep(tmp_path / "out")
    assert (tmp_path / "out" / "report.json").read_text() == "{}"
    (tmp_path / ".out.0a1b2c3d.old").mkdir()
    sweep(tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_half_a_checkpoint_goes(tmp_path):
    for name in (".0123456789abcdef.npz.partial", ".0123456789abcdef.0a1b2c3d.partial", "0123456789abcdef.npz"):
        (tmp_path / name).touch()
    sweep_inside(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["0123456789abcdef.npz"]


def test_a_folder_is_gone_after_an_error(tmp_path):
    with pytest.raises(ValueError, match="no"), unfinished_folder(tmp_path / "out"):
        raise ValueError("no")
    assert list(tmp_path.iterdir()) == []


def test_the_temporary_folder_is_swept_of_marked_ones_that_nobody_holds(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    mine = temporary_folder()
    for name, marked in (("joistbay-left", True), ("joistbay-other", False)):
        (tmp_path / name).mkdir()
        if marked:
            (tmp_path / name / MARK).touch()
    assert [path.name for path in sweep_temporary()] == ["joistbay-left"]
    assert mine.is_dir() and (tmp_path / "joistbay-other").is_dir()


def test_an_empty_folder_without_a_mark_goes_when_it_is_old(tmp_path, monkeypatch):
    # killed between making the folder and marking it, or between removing the mark and the folder
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    for name, age, full in (("joistbay-a", 90, False), ("joistbay-b", 0, False), ("joistbay-c", 90, True)):
        (tmp_path / name).mkdir()
        if full:
            (tmp_path / name / "thesis.txt").touch()
        os.utime(tmp_path / name, (time.time() - age,) * 2)
    assert [path.name for path in sweep_temporary()] == ["joistbay-a"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["joistbay-b", "joistbay-c"]


def left_by_a_killed(place, monkeypatch):
    """What the work of a killed process leaves in the temporary folder; it is held until the process ends."""
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    monkeypatch.setattr("sim.machine.unfinished._open", {})
    with passing_folder() as folder:
        assert list(folder.iterdir()) == [] and sweep_temporary() == []
        (folder / "half.npz").touch()
        (held,) = unfinished._open.values()
        os.close(held)  # as the machine does when a process is killed
        unfinished._open.clear()


def test_what_passes_is_swept_when_its_process_was_killed_and_goes_by_itself_otherwise(tmp_path, monkeypatch):
    left_by_a_killed(tmp_path, monkeypatch)
    (left,) = tmp_path.iterdir()
    assert sweep_temporary() == [left] and list(tmp_path.iterdir()) == []
    with passing_folder():
        assert len(list(tmp_path.iterdir())) == 1
    assert list(tmp_path.iterdir()) == []


def test_a_house_that_is_stopped_in_a_script_leaves_no_folder_of_its_own(tmp_path, monkeypatch):
    import joistbay

    def struck(*_):
        assert [path.name[:9] for path in tmp_path.iterdir()] == ["joistbay-"] and unfinished._open
        raise KeyboardInterrupt

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr("sim.house.solve_house.solve_house", struck)
    with pytest.raises(KeyboardInterrupt):
        joistbay.solve_house("cases/house/demo-house.toml")
    assert list(tmp_path.iterdir()) == []
