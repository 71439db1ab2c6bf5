"""Solved bays kept beside a result: taken up while nothing has changed, solved anew when something has, bounded."""

import os
import shutil
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest
from house_cases import SMALL, small

import sim
from sim.case.house_load import bay_case
from sim.cli.main import main
from sim.cli.progress import Progress
from sim.house.bay_jobs import solve_points
from sim.house.bay_solver import BaySolver, _job
from sim.house.kept_bays import code_identity, keep_newest, kept_folder

ONE = SMALL[: SMALL.index("[[source]]")] + '[[source]]\nname = "condensing boiler"\n'
ONE += SMALL[SMALL.rindex("[[room]]") :].replace('{ room = "A" }', '{ kind = "heated room" }')
ONE = ONE.replace('spacings = ["235 mm", "none"]', 'spacings = ["235 mm"]')


def run(file, out):
    with redirect_stdout(StringIO()) as printed, redirect_stderr(StringIO()) as told:
        code = main(["house", str(file), "--out", str(out), "--fineness", "coarse", "--no-drawings", "--workers", "1"])
    assert code == 0, told.getvalue()
    return next(line for line in printed.getvalue().splitlines() if "bay solves" in line)


def test_moving_a_manifold_solves_no_bay(tmp_path, monkeypatch):
    file, out = tmp_path / "one.toml", tmp_path / "out"
    file.write_text(ONE)
    first = run(file, out)
    assert "taken up" not in first and not first.startswith("0 ")
    assert kept_folder(out).is_dir()
    file.write_text(ONE.replace('x = "1 m"', 'x = "2 m"'))
    monkeypatch.setattr("sim.run.prepare", lambda *_: pytest.fail("a bay was solved"))
    second = run(file, out)
    assert second.startswith("0 bay solves") and "taken up from earlier runs" in second
    monkeypatch.undo()
    # a little less load asks for other water with the same flow: the curve is taken up, the rest is solved
    file.write_text(ONE.replace('"430 W"', '"425 W"'))
    third = run(file, out)
    assert not third.startswith("0 ") and "4 taken up" in third
    # an answer that cannot be read is solved anew
    for folder in filter(Path.is_dir, kept_folder(out).iterdir()):
        (folder / "answer.json").write_text("{")
    assert "taken up" not in run(file, out)


def key(case, numbers=(6.0,)):
    return _job(case, solve_points, numbers).key


def test_a_key_follows_from_all_that_an_answer_follows_from(monkeypatch):
    case = bay_case(small(), 0)
    assert key(case) == key(case.with_(**{"water.supply": "41 degC"}))
    assert key(case) != key(case, (7.0,))
    assert key(case) != key(case.with_(**{"room.temperature": "21 degC"}))
    assert key(case) == key(bay_case(small(), 1))
    before = key(case)
    monkeypatch.setattr("sim.house.bay_solver.code_identity", lambda: "another program")
    assert key(case) != before


def test_the_longest_unused_go_first(tmp_path):
    for number, name in enumerate("abcd"):
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (number, number))
    assert keep_newest(tmp_path, ["a"], most=2) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "d"]
    assert keep_newest(tmp_path / "nowhere", []) == 0


def test_an_unread_store_is_empty(tmp_path):
    assert BaySolver(tmp_path).used == ()


def test_no_silence_where_nobody_looks(capsys):
    from time import sleep

    with Progress(pulse=0.1) as progress:
        progress.stage("bays")
        sleep(0.6)
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "bays" and len(lines) >= 3
    assert all(line.startswith("bays, ") for line in lines[1:])


@pytest.mark.parametrize(
    ("name", "matters"),
    [
        ("solver/steady.py", True),
        ("case/materials.toml", True),
        ("physics/learned_films.json", True),
        ("house/bay_solver.py", True),
        ("house/season.py", False),
        ("results/house_words.py", False),
    ],
)
def test_what_the_answer_of_a_bay_follows_from(tmp_path, monkeypatch, name, matters):
    """Code, tables and taught coefficients; not what only counts or tells."""
    ours = Path(sim.__file__).parent
    shutil.copytree(ours, tmp_path / "sim", ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr("sim.house.kept_bays.files", lambda package: tmp_path / package)
    before = code_identity.__wrapped__()
    with (tmp_path / "sim" / name).open("a") as file:
        file.write("\n")
    assert (code_identity.__wrapped__() != before) == matters


def test_a_house_whose_bays_are_kept_loads_no_solver():
    """A compiler and the searches of a library take longer to load than a house takes to be laid out."""
    code = (
        "import sys, sim.house.solve_house, sim.house.save_house, sim.problems.buildable, viz.house_page\n"
        "from sim.physics.tube import water_march; water_march(320.0, 50.0, [1.0] * 12, [300.0] * 12)\n"
        "print(*{'numba', 'scipy.optimize', 'sim.run', 'matplotlib'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""
