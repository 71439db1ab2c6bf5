"""What is on disk already: only folders with our own mark are replaced or removed, one command at a time on each."""

import os
import re
import subprocess
import sys

import pytest

from sim.cli.stopping import stopped_line
from sim.cli.work import ALONE, Work, kept_work, lasting_work
from sim.jobs.job import Job
from sim.jobs.jobs import run_jobs
from sim.store.folder_lock import locked
from sim.store.own_folders import WORK_MARK, foreign_work
from sim.store.run_folder import StoreError
from sim.store.target import check_target
from sim.store.texts import file_name
from sim.store.whole_folder import write_folder


def write_note(folder):
    (folder / "part").mkdir()
    (folder / "part" / "note.txt").write_text("solved")


JOB = Job("a job", write_note, (), "one")


def begun(folder):
    """Work beside a folder of results that was interrupted after a job."""
    with pytest.raises(KeyboardInterrupt, match="--resume takes them up"), kept_work(folder, ALONE) as store:
        run_jobs([JOB], store)
        raise KeyboardInterrupt
    return store


def everything_in(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("work", [ALONE, Work(resume=True)], ids=["anew", "resumed"])
def test_a_folder_without_our_mark_is_left_alone(tmp_path, work):
    # somebody's own thesis.work beside thesis
    (tmp_path / "thesis.work").mkdir()
    (tmp_path / "thesis.work" / "chapter.txt").write_text("mine")
    with pytest.raises(StoreError, match=r"chapter.txt.*nothing was removed"), kept_work(tmp_path / "thesis", work):
        pytest.fail("begun")
    assert (tmp_path / "thesis.work" / "chapter.txt").read_text() == "mine"


@pytest.mark.parametrize("place", ["notes.txt", f"{JOB.key}/notes.txt", f"{JOB.key}/part/notes.txt", "sub/notes.txt"])
def test_one_foreign_file_keeps_the_whole_folder(tmp_path, place):
    store = begun(tmp_path / "out")
    (store / place).parent.mkdir(exist_ok=True)
    (store / place).write_text("mine")
    before = everything_in(store)
    with pytest.raises(StoreError, match="notes.txt|sub"), kept_work(tmp_path / "out", ALONE):
        pytest.fail("begun")
    assert everything_in(store) == before


def test_a_file_that_comes_while_working_keeps_the_folder(tmp_path):
    with kept_work(tmp_path / "out", ALONE) as store:
        (store / "notes.txt").write_text("mine")
    assert (store / "notes.txt").read_text() == "mine"


def test_our_own_work_is_taken_up_or_begun_anew_and_goes_in_the_end(tmp_path):
    store = begun(tmp_path / "out")
    assert foreign_work(store) == []
    with kept_work(tmp_path / "out", Work(resume=True)):
        assert (store / JOB.key / "part" / "note.txt").is_file()
        raise_later = store / WORK_MARK
        assert raise_later.is_file()
    assert not store.exists()
    begun(tmp_path / "out")
    with kept_work(tmp_path / "out", ALONE):
        assert not (store / JOB.key).exists()
    assert os.listdir(tmp_path) == []


def test_work_that_fails_before_its_first_job_leaves_nothing(tmp_path):
    with pytest.raises(ValueError, match="bad luck"), kept_work(tmp_path / "out", ALONE):
        raise ValueError("bad luck")
    assert os.listdir(tmp_path) == []


def test_results_are_replaced_only_with_our_mark_and_without_foreign_files(tmp_path):
    owned = ("case.toml", "versions.json", "pictures", "equal_water")

    def fill(partial):
        (partial / "case.toml").write_text("ours")
        (partial / "versions.json").write_text('{"joistbay": "1"}')
        (partial / "equal_water" / "1-none").mkdir(parents=True)
        (partial / "equal_water" / "1-none" / "report.json").write_text("{}")
        (partial / "pictures").mkdir()

    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "case.toml").write_text("title = 'written by hand'")
    for attempt in (lambda: write_folder(folder, fill, owned=owned), lambda: check_target(folder, owned)):
        with pytest.raises(StoreError, match="no versions.json of joistbay"):
            attempt()
    assert (folder / "case.toml").read_text() == "title = 'written by hand'"
    (folder / "case.toml").unlink()
    write_folder(folder, fill, owned=owned)
    (folder / "pictures" / "floor.png").write_bytes(b"drawn")
    write_folder(folder, fill, owned=owned)
    for place in ("pictures/notes.txt", "equal_water/1-none/notes.txt", "equal_water/notes.txt"):
        (folder / place).write_text("mine")
        with pytest.raises(StoreError, match=place):
            write_folder(folder, fill, owned=owned)
        assert (folder / place).read_text() == "mine"
        (folder / place).unlink()


def test_a_second_command_on_a_folder_is_told_who_works_there(tmp_path):
    with (
        locked(tmp_path / "out"),
        pytest.raises(StoreError, match=rf"works on it already \(process {os.getpid()}\)"),
        kept_work(tmp_path / "sub" / ".." / "out", ALONE),
    ):
        pytest.fail("begun")
    with locked(tmp_path / "out"), locked(tmp_path / "other"):
        pass
    assert os.listdir(tmp_path) in (["sub"], [])


def test_the_lock_of_a_killed_process_holds_nobody_back(tmp_path):
    program = f"""
import os, signal
from sim.store.folder_lock import locked
with locked({str(tmp_path / "out")!r}):
    os.kill(os.getpid(), signal.SIGKILL)
"""
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == -9
    (lock,) = tmp_path.iterdir()
    assert re.fullmatch(r"joistbay \d+\n", lock.read_text())
    with locked(tmp_path / "out"):
        pass
    assert os.listdir(tmp_path) == []


def test_a_file_in_the_place_of_the_lock_is_left_alone(tmp_path):
    (tmp_path / ".out.lock").write_text("mine")
    with pytest.raises(StoreError, match=r"not joistbay's"), locked(tmp_path / "out"):
        pytest.fail("begun")
    assert (tmp_path / ".out.lock").read_text() == "mine"


@pytest.mark.parametrize("name", [".", "..", "sub/.."])
def test_the_folder_one_is_in_is_no_place_for_results(tmp_path, monkeypatch, name):
    (tmp_path / "here" / "sub").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "here")
    with pytest.raises(StoreError, match="the folder you are in"):
        check_target(name)


def test_names_too_long_for_the_disk_are_met_before_any_work(tmp_path):
    for name in ("n" * 240, "n" * 300, f"{'n' * 240}/out"):
        with pytest.raises(StoreError, match="characters is too long"):
            check_target(tmp_path / name)
    check_target(tmp_path / ("n" * 120))


def test_names_for_people_become_names_for_files():
    assert file_name("oak / tile") == "oak-tile"
    assert file_name("../../etc") == "etc"
    assert len(file_name("a title without an end, " * 20)) <= 80


def test_a_run_of_computed_air_is_replaced_like_any_other(tmp_path):
    for name in ("case.toml", "report.json", "fields.nc", "history.csv", "air_films.json", "air_frames.nc"):
        (tmp_path / name).write_text("ours")
    (tmp_path / "versions.json").write_text('{"joistbay": "1"}')
    check_target(tmp_path)


def test_a_stopped_house_says_what_is_kept_and_nothing_where_nothing_is(tmp_path):
    store = tmp_path / "out.bays"
    with lasting_work(tmp_path / "out", store):
        assert stopped_line() == "stopped; no solve was finished yet"
        run_jobs([JOB], store)
        assert stopped_line() == f"stopped; finished solves are kept in {store}; the next run takes them up"
