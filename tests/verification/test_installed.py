"""Installed, in an empty folder: cases, problems with a known answer and the examples of `--help` are there."""

import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from sim.machine.shipped import shipped

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The package as it is installed."""
    place = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(place), str(ROOT)]
    subprocess.run(build, check=True, env=os.environ | {"PIP_DISABLE_PIP_VERSION_CHECK": "1"})
    return next(place.glob("*.whl"))


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A function that runs a command of the installed package in an empty folder: code, output, stderr."""
    site, here = tmp_path_factory.mktemp("site"), tmp_path_factory.mktemp("empty")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)

    def run(*arguments):
        clean = os.environ | {"PYTHONPATH": str(site)}
        done = subprocess.run(
            [sys.executable, "-P", "-m", "sim", *arguments], cwd=here, env=clean, capture_output=True, text=True
        )
        return done.returncode, done.stdout, done.stderr

    return run


@pytest.mark.slow
def test_a_wheel_carries_every_case(wheel):
    listed = subprocess.run(["git", "ls-files", "cases"], cwd=ROOT, capture_output=True, text=True, check=True)
    names = set(zipfile.ZipFile(wheel).namelist())
    wanted = {f"sim/{name}" for name in listed.stdout.split()}
    assert len(wanted) > 100
    assert not wanted - names
    assert not {name.split("/")[0] for name in names if not re.match(r"(sim|viz|joistbay)(/|-)", name)}


@pytest.mark.slow
def test_a_source_archive_carries_everything_and_makes_the_same_wheel(wheel, tmp_path):
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    tree = tmp_path / "tree"
    for name in tracked:
        (tree / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / name, tree / name)
    build = "from setuptools import build_meta; build_meta.build_sdist('../made')"
    subprocess.run([sys.executable, "-c", build], cwd=tree, check=True, capture_output=True)
    (made,) = (tmp_path / "made").glob("*.tar.gz")
    with tarfile.open(made) as archive:
        held = {name.partition("/")[2] for name in archive.getnames()}
    assert {name for name in tracked if not name.startswith(".")} <= held
    again = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(tmp_path / "again"), str(made)]
    subprocess.run(again, check=True)
    (other,) = (tmp_path / "again").glob("*.whl")
    assert contents(other) == contents(wheel)


def contents(wheel):
    """What a wheel holds, each file with its sum, but for its own list, which stands in the order of the build."""
    with zipfile.ZipFile(wheel) as archive:
        return {info.filename: info.CRC for info in archive.infolist() if not info.filename.endswith("/RECORD")}


@pytest.mark.slow
def test_problems_with_a_known_answer_are_solved(installed):
    code, told, said = installed("verify", "plane-wall", "layered-floor")
    assert code == 0, said
    assert "numbers within their limits" in told


@pytest.mark.slow
def test_a_case_of_the_examples_is_solved_and_says_where_it_is_from(installed):
    code, told, said = installed("run", "cases/demo/family-oak.toml", "--fineness", "coarse", "--no-pictures")
    assert code == 0, said
    assert "taken from those that come with the program" in said
    assert "Kept in runs/family-oak" in told


@pytest.mark.slow
def test_a_house_of_the_examples_is_laid_out(installed):
    code, told, said = installed("house", "cases/house/demo-house.toml", "--layout-only")
    assert code == 0, said
    assert "R5.1" in told


def test_every_path_of_the_examples_comes_with_the_program(tmp_path, monkeypatch, capsys):
    from sim.cli.main import main

    monkeypatch.chdir(tmp_path)
    assert main(["--help"]) == 0
    paths = set(re.findall(r"cases/\S+\.toml", capsys.readouterr().out))
    assert len(paths) >= 3
    assert all(shipped(path) for path in paths)
