"""What the machine refuses: full disks, no driver, no place for kernels, no reader. One line each, nothing lost."""

import errno
import os
import shutil
import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import pytest

from sim.cli.environment import settle_environment
from sim.cli.keeping import NotKeptError
from sim.cli.main import main
from sim.machine import kernels
from sim.machine.helpers import CrashError, in_own_process
from sim.machine.remarks import Remark
from sim.solver import checkpoint_file
from tests.tiny_bays import TINY

ROOT = Path(__file__).parents[2]
ON_A_SMALL_DISK = """
mount -t tmpfs -o size=64k none "$1" || exit 9
"$2" -m sim run tiny.toml --out "$1/out" --units si
code=$?
ls -A "$1" > left.txt
exit $code
"""


def command(place, *arguments, out=subprocess.PIPE, **environment):
    """A command as a program of its own."""
    (place / "tiny.toml").write_text(TINY, encoding="utf-8")
    (place / "tmp").mkdir(exist_ok=True)
    more = {"PYTHONPATH": str(ROOT), "TMPDIR": str(place / "tmp")} | environment
    return subprocess.run(arguments, cwd=place, env=os.environ | more, stdout=out, stderr=subprocess.PIPE, text=True)


def may_mount():
    """Whether a small disk of one's own can be had here."""
    if shutil.which("unshare") is None:
        return False
    test = ["unshare", "-Urm", "mount", "-t", "tmpfs", "-o", "size=64k", "none", "/tmp"]
    return subprocess.run(test, capture_output=True).returncode == 0


@pytest.mark.skipif(not may_mount(), reason="this machine lets nobody mount a small disk")
def test_a_full_disk_loses_nothing(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    done = command(tmp_path, "unshare", "-Urm", "sh", "-c", ON_A_SMALL_DISK, "sh", str(disk), sys.executable)
    last = done.stderr.splitlines()[-1]
    assert done.returncode == 1
    assert (tmp_path / "left.txt").read_text() == ""
    assert "cannot be written (No space left on device)" in last and "Traceback" not in done.stderr
    kept = Path(last.rpartition("the results are in ")[2])
    assert f"Kept in {kept}" in done.stdout and "upward heat" in done.stdout
    assert (kept / "fields.nc").is_file() and (kept / "report.json").is_file()


def test_a_result_that_can_be_kept_nowhere_is_shown(tmp_path, capsys, monkeypatch):
    from sim.cli.main import main

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "tiny.toml").write_text(TINY, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sim.study.save_study.write_folder", lambda *a, **k: _refused(full))
    asked = ["study", "tiny.toml", "--inputs", "air.film_factor=0.9..1.1", "--samples", "2", "--no-pictures"]
    assert main([*asked, "--out", "out"]) == 1
    said = capsys.readouterr()
    assert "Not kept." in said.out and "2 samples" in said.out
    assert "kept nowhere" in said.err.splitlines()[-1]
    monkeypatch.undo()
    monkeypatch.chdir(tmp_path)
    assert main([*asked, "--out", "out", "--resume"]) == 0
    assert "taken up" in capsys.readouterr().err


def _refused(write):
    from sim.store.run_folder import StoreError

    try:
        write()
    except OSError as error:
        raise StoreError("out: cannot be written (No space left on device)") from error


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_netcdf_on_a_full_disk_is_an_error_and_no_crash():
    import xarray

    from sim.store.netcdf import write_netcdf

    fields = xarray.Dataset({"a": (("x",), np.arange(3e5))})
    with pytest.raises(OSError, match="No space left"):
        write_netcdf(Path("/dev/full"), fields, {})


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_output_that_nobody_can_take_is_one_line(tmp_path):
    with open("/dev/full", "w") as full:
        done = command(tmp_path, sys.executable, "-m", "sim", "keys", out=full)
    assert done.returncode == 1
    said = [line for line in done.stderr.splitlines() if "keys: starting" not in line]  # on a busy machine
    assert len(said) == 1 and "No space left on device" in said[0]


def test_a_checkpoint_that_cannot_be_written_is_a_remark(tmp_path, monkeypatch):
    def full(file, **_):
        file.write(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "march.npz"
    checkpoint_file.write_checkpoint_file(path, {"time": 1.0}, {})
    monkeypatch.setattr(np, "savez", full)
    with pytest.warns(Remark, match="No space left on device.*goes on"):
        checkpoint_file.try_to_write(lambda: checkpoint_file.write_checkpoint_file(path, {"time": 2.0}, {}), path)
    assert [file.name for file in tmp_path.iterdir()] == ["march.npz"]
    assert checkpoint_file.read_checkpoint_file(path)[0] == {"time": 1.0}


def test_a_crash_where_pictures_are_drawn_is_named():
    from viz.scene import DisplayError, drawn_apart

    with pytest.raises(CrashError, match="signal 6"):
        in_own_process(os.abort)
    if sys.platform.startswith("linux"):
        with pytest.raises(DisplayError, match="signal 6.*driver.*apt-get install"):
            drawn_apart(os.abort)


def test_another_process_gives_values_and_errors():
    assert in_own_process(divmod, 17, 5) == (3, 2)
    with pytest.raises(ZeroDivisionError):
        in_own_process(divmod, 1, 0)


def test_a_picture_that_the_disk_does_not_take_is_left_out(tmp_path, capsys):
    from sim.cli.pictures import save_each
    from sim.cli.progress import Progress

    def full(path):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with Progress() as progress:
        files = save_each({"a.png": full, "b.png": lambda path: path}, tmp_path, progress)
    assert [file.name for file in files] == ["b.png"]
    assert "a.png was left out: No space left on device" in capsys.readouterr().err
    assert list((tmp_path / "pictures").iterdir()) == []


@pytest.fixture
def nowhere_to_write(monkeypatch):
    """Neither beside the source nor in the user's cache folder; the process's own settings are put back."""
    monkeypatch.setattr(kernels, "_takes_files", lambda folder: False)
    for name in (kernels.ASK, kernels._MINE):
        monkeypatch.setenv(name, "")
        monkeypatch.delenv(name)
    numba = pytest.importorskip("numba")
    monkeypatch.setattr(numba.config, "CACHE_DIR", numba.config.CACHE_DIR)


def test_kernels_that_can_be_kept_nowhere_go_to_a_folder_for_this_command(nowhere_to_write):
    kernels.find_place(ROOT / "sim")
    place = Path(os.environ[kernels.ASK])
    assert place.is_dir() and place.stat().st_mode & 0o077 == 0
    assert not kernels.are_kept()
    kernels.drop_temporary(place)
    assert not place.exists()


@pytest.mark.parametrize("installed", [True, False])
def test_an_installed_package_keeps_its_kernels_out_of_its_folders(tmp_path, monkeypatch, installed):
    """What an installer did not write it leaves behind: a folder sim, which hid the editable install that followed."""
    import numba

    (tmp_path / "here/sim/physics").mkdir(parents=True)
    (tmp_path / "here/sim/physics/__init__.py").touch()
    if not installed:
        (tmp_path / "here/pyproject.toml").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv(kernels.ASK, "")
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr(numba.config, "CACHE_DIR", numba.config.CACHE_DIR)
    kernels.find_place(tmp_path / "here/sim")
    assert os.environ[kernels.ASK] == (str(tmp_path / "cache/joistbay") if installed else "")
    assert (tmp_path / "here/sim/physics/__pycache__").exists() is not installed


def test_a_kernel_that_the_disk_does_not_take_works_all_the_same(tmp_path, monkeypatch):
    from numba import njit
    from numba.core import caching

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("numba.config.CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(caching.IndexDataCacheFile, "save", full)
    kernels.forgive_full_cache()

    @njit(cache=True)
    def twice(x):
        return 2 * x

    assert twice(21) == 42


def test_a_cluster_without_tls_is_cautioned_about(capsys):
    from sim.cli.work import Work

    Work(scheduler="tls://host:8786").pool()
    assert capsys.readouterr().err == ""
    Work(scheduler="tcp://host:8786").pool()
    assert "can run code as its owner" in capsys.readouterr().err


def test_remarks_are_plain_lines_and_warnings_are_not(monkeypatch):
    from sim.machine.remarks import show_remarks_plainly

    monkeypatch.setattr(warnings, "formatwarning", warnings.formatwarning)
    show_remarks_plainly()
    show_remarks_plainly()
    assert warnings.formatwarning("disk full", Remark, "file.py", 3) == "disk full\n"
    assert "file.py:3" in warnings.formatwarning("other", UserWarning, "file.py", 3)


def test_a_script_without_a_guard_is_not_run_again_by_helpers(tmp_path):
    # scripts of beginners have no `if __name__ == "__main__"`
    (tmp_path / "script.py").write_text(
        "from sim.machine.helpers import in_own_process\nprint('once')\nprint(in_own_process(divmod, 17, 5))\n", "utf-8"
    )
    done = subprocess.run(
        [sys.executable, str(tmp_path / "script.py")], capture_output=True, text=True, check=True, env=os.environ
    )
    assert done.stdout.split("\n")[:2] == ["once", "(3, 2)"]


CLOSED = {"stdin": "<&-", "stdout": ">&-", "stderr": "2>&-", "all": "<&- >&- 2>&-"}


@pytest.mark.parametrize("closed", CLOSED)
def test_closed_streams_cost_nothing(tmp_path, closed):
    done = command(tmp_path, "sh", "-c", f'"$0" -m sim check tiny.toml {CLOSED[closed]}', sys.executable)
    assert done.returncode == 0 and "Traceback" not in done.stderr
    assert ("is sound" in done.stdout) == (closed not in ("stdout", "all"))


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no file that is always full")
def test_what_is_said_on_the_way_must_not_cost_the_work(tmp_path):
    done = command(tmp_path, "sh", "-c", '"$0" -m sim check tiny.toml 2> /dev/full', sys.executable)
    assert done.returncode == 0 and "is sound" in done.stdout


@pytest.mark.parametrize(
    ("name", "value"), [*(("NUMBA_NUM_THREADS", each) for each in ("0", "x", "-1", "²")), ("SOURCE_DATE_EPOCH", "x")]
)
def test_a_number_that_is_none_is_left_out_of_the_environment(monkeypatch, capsys, name, value):
    monkeypatch.setenv(name, value)
    monkeypatch.setenv("MPLBACKEND", "module://of.somebody.else")
    settle_environment()
    assert name not in os.environ and os.environ["MPLBACKEND"] == "agg"
    assert f'{name} got "{value}"' in capsys.readouterr().err


def test_a_command_in_a_folder_that_is_no_more_says_so(tmp_path):
    done = command(tmp_path, "sh", "-c", 'mkdir g; cd g; rmdir ../g; "$0" -m sim keys plates', sys.executable)
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr == "joistbay: the folder you are in is no more; go to one that is there\n"


BLOCK = """
kind = "blocks"
[[box]]
name = "block"
x = ["0 mm", "100 mm"]
y = ["0 mm", "100 mm"]
z = ["0 mm", "100 mm"]
conductivity = "1 W/(m*K)"
[[face]]
name = "low"
on = "z-"
temperature = "20 degC"
"""
"""The quickest case that is solved and drawn."""


def test_a_command_surrounded_by_odd_variables_works(tmp_path):
    odd = {"NUMBA_NUM_THREADS": "0", "MPLBACKEND": "nonsense", "SOURCE_DATE_EPOCH": "x"}
    (tmp_path / "block.toml").write_text(BLOCK, "utf-8")
    done = command(tmp_path, sys.executable, "-m", "sim", "run", "block.toml", "--no-page", "--out", "out", **odd)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "pictures" / "section.png").is_file()


def test_results_and_output_on_one_full_disk_end_in_plain_lines(capsys, monkeypatch):
    def show():
        raise OSError(errno.ENOSPC, "No space left on device")

    def fail(*_, **__):
        raise NotKeptError("out: cannot be written; the results are in spare/joistbay-kept", show)

    monkeypatch.setattr("sim.cli.keys.keys", fail)
    assert main(["keys"]) == 1
    told = capsys.readouterr().err
    assert "the results are in spare/joistbay-kept" in told and "No space left on device" in told
    assert "Traceback" not in told and len(told.splitlines()) == 2


def test_a_full_disk_is_told_once_where_a_folder_holds_others(tmp_path):
    from sim.store.run_folder import StoreError
    from sim.store.whole_folder import write_folder

    def full(folder):
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(StoreError) as told:
        write_folder(tmp_path / "out", lambda folder: write_folder(folder / "1", full, owned=()), owned=())
    assert str(told.value) == f"{tmp_path / 'out'}: cannot be written (No space left on device); choose another folder"


def test_a_page_that_the_disk_does_not_take_is_named(tmp_path, monkeypatch):
    from sim.cli.report import written_whole

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(OSError, match="No space left") as told:
        written_whole(tmp_path / "report.html", "page")
    assert told.value.filename == str(tmp_path / "report.html")


def test_a_page_that_the_disk_does_not_take_leaves_no_empty_folder(tmp_path, capsys, monkeypatch):
    def full(path, *_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("sim.cli.report.page_of", lambda folder: (None, "si"))
    monkeypatch.setattr("sim.cli.report.write_html", full)
    assert main(["report", str(tmp_path), "--out", str(tmp_path / "page")]) == 1
    assert "No space left" in capsys.readouterr().err and list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("out", "rule"), [("~/x", "would make a folder named ~"), (" ", "is blank; give a name")])
def test_results_go_into_no_folder_that_is_none_to_a_shell(out, rule, tmp_path, monkeypatch, capsys):
    root = Path.cwd()
    monkeypatch.chdir(tmp_path)
    assert main(["run", str(root / "cases/demo/kitchen-vinyl.toml"), f"--out={out}"]) == 2
    assert rule in capsys.readouterr().err and list(tmp_path.iterdir()) == []
