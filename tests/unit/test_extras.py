"""What the main job can do without: one line says what is missing, and everything else works."""

import sys
import tomllib
from pathlib import Path

import pytest

from sim.cli.main import main
from sim.machine import extras
from sim.machine.shipped import SHIPPED, shipped

SLAB = SHIPPED / "verification" / "plane-wall" / "case.toml"
BAY = """
[floor.sheathing]
thickness = "19 mm"
[tube]
runs = 1
[cavity.insulation]
thickness = "100 mm"
[water]
supply = "45 degC"
[room]
temperature = "20 degC"
[air]
model = "still"
[mesh]
fineness = "coarse"
"""


@pytest.fixture
def bare(monkeypatch):
    """A machine without the libraries of the extras."""
    monkeypatch.setattr(extras, "find_spec", lambda name: None)


def test_a_picture_that_needs_one_is_left_out_and_says_what_to_install(bare, tmp_path, capsys):
    (tmp_path / "bay.toml").write_text(BAY, "utf-8")
    assert main(["run", str(tmp_path / "bay.toml"), "--out", str(tmp_path / "out")]) == 0
    told, said = capsys.readouterr()
    assert "3 pictures" in told
    assert "cutaway.png was left out: pyvista is not installed; pip install 'pyvista' brings it" in said
    assert "Traceback" not in said


def test_a_cluster_without_its_library_is_one_line(bare, tmp_path, capsys):
    asked = ["compare", str(SHIPPED / "demo" / "family-oak.toml"), "--scheduler", "tls://127.0.0.1:8786"]
    assert main([*asked, "--out", str(tmp_path / "out")]) == 2
    last = capsys.readouterr().err.strip().splitlines()[-1]
    assert last.startswith("tls://127.0.0.1:8786: distributed is not installed; pip install 'dask[distributed]'")


def test_extras_are_those_that_the_package_states():
    stated = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    for package, extra in extras.EXTRAS.values():
        assert any(line.startswith(package) for line in stated[extra])
        assert extra in stated["test"][0]


def test_a_case_that_comes_with_the_program_is_found_from_anywhere(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["check", "cases/verification/plane-wall/case.toml"]) == 0
    assert "those that come with the program" in capsys.readouterr().err
    assert main(["check", "cases/no-such.toml"]) == 2
    assert "no such file" in capsys.readouterr().err
    assert shipped("cases/../cases/demo") is None
    assert shipped("demo/family-oak.toml") is None
    assert shipped(str(SLAB)) is None
    (tmp_path / "cases").mkdir()
    (tmp_path / "cases" / "own.toml").write_text(BAY, "utf-8")
    assert shipped("cases/own.toml") is None, "what lies here comes first"


def test_tables_without_pandas_are_refused_in_one_line(monkeypatch):
    from sim.machine.notebook import frame
    from sim.results.report import Report

    monkeypatch.setitem(sys.modules, "pandas", None)
    for ask in (Report("a", {"ripple_K": 1.0}).to_pandas, lambda: frame([{"a": 1}])):
        with pytest.raises(ModuleNotFoundError, match="pandas is not installed, .* pip install 'pandas'") as raised:
            ask()
        assert "\n" not in str(raised.value) and raised.value.__suppress_context__
