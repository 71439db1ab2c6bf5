"""`joistbay run` and `joistbay check` of air alone."""

import json

import pytest

from sim.cli.main import main

CASE = """
kind = "blocks"
title = "Warm side"
[[box]]
x = ["0 m", "1 m"]
y = ["0 m", "1 m"]
z = ["0 m", "1 m"]
air = true
[[face]]
name = "warm"
on = "x-"
temperature = "1 K"
[[face]]
name = "cool"
on = "x+"
temperature = "0 K"
[air]
model = "resolved"
two_dimensional = true
rayleigh = 1e4
cell = "0.1 m"
steady = 0.2
frames = 3
frames_until = "0.005 s"
"""


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "square.toml"
    path.write_text(CASE)
    return str(path)


def test_run_prints_a_report_and_keeps_a_folder(case, tmp_path, capsys):
    assert main(["run", case, "--out", str(tmp_path / "kept")]) == 0
    printed = capsys.readouterr().out
    for words in ("Warm side", "Dimensionless: lengths in L", "nusselt warm", "The flow is steady", "2 pictures"):
        assert words in printed, printed
    assert {p.name for p in (tmp_path / "kept" / "pictures").iterdir()} == {"air_section.png", "air_start.gif"}
    assert main(["run", case, "--out", str(tmp_path / "kept"), "--no-pictures"]) == 0  # its own earlier run is replaced


def test_export_says_that_there_are_no_solids(case, tmp_path, capsys):
    assert main(["run", case, "--out", str(tmp_path / "kept"), "--no-pictures"]) == 0
    capsys.readouterr()
    assert main(["export", str(tmp_path / "kept"), "--to", "vtu"]) == 2
    assert "is air alone" in capsys.readouterr().err


def test_run_prints_json(case, tmp_path, capsys):
    assert main(["run", case, "--out", str(tmp_path / "kept"), "--json", "--no-pictures"]) == 0
    report = json.loads(capsys.readouterr().out)["report"]
    assert report["steady"] == 1.0
    assert 2.0 < report["nusselt_warm"] < 2.6


def test_check_prints_what_would_be_followed(case, capsys):
    assert main(["check", case]) == 0
    printed = capsys.readouterr().out
    assert "Rayleigh 1e+04" in printed
    assert "is sound" in printed


@pytest.mark.parametrize(
    ("old", "new", "arguments", "words", "code"),
    [
        ('cell = "0.1 m"', 'cell = "0.1 m"', ["--uncertainty"], "air alone", 2),
        ('cell = "0.1 m"', 'cell = "0.0004 m"', [], "larger cells", 2),
        ('cell = "0.1 m"', 'sell = "0.1 m"', [], 'did you mean "cell"', 2),
    ],
)
def test_what_cannot_be_is_one_line(case, capsys, old, new, arguments, words, code):
    with open(case, "w", encoding="utf-8") as file:
        file.write(CASE.replace(old, new))
    assert main(["run", case, *arguments]) == code
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said


def test_a_flow_that_breaks_down_is_one_line(case, capsys, monkeypatch):
    from sim.airflow.watch import FlowError
    from sim.study import air_alone

    def broken(*_, **__):
        raise FlowError("temperature is nan at (0.1, 0.5, 0.3) m in step 20, time 0.001 s")

    monkeypatch.setattr(air_alone, "solve_air", broken)
    assert main(["run", case]) == 1
    last = capsys.readouterr().err.strip().splitlines()[-1]
    assert "temperature is nan at (0.1, 0.5, 0.3) m in step 20" in last
