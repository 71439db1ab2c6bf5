"""`joistbay study` and `joistbay run --uncertainty`, called as a user calls them."""

import csv
import json

import pytest

from sim.cli.main import main
from sim.cli.study import _coefficient
from sim.store.run_folder import read_run
from sim.study.save_study import STUDY_ENTRIES
from tests.tiny_bays import INSULATION, MESH, PLAIN

TINY = PLAIN + INSULATION + MESH
INPUTS = ["--inputs", "plates.contact=0.001..0.04 m^2*K/W log", "--input", "plates.emissivity_down=0.05..0.9"]


@pytest.fixture
def tiny(tmp_path, monkeypatch):
    """A folder with a small case, in which commands are called."""
    (tmp_path / "tiny.toml").write_text(TINY, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_study_is_printed_and_kept(tiny, capsys):
    assert main(["study", "tiny.toml", *INPUTS, "--samples", "4"]) == 0
    told = capsys.readouterr()
    assert "9 of 9 done" in told.err
    first = told.out.splitlines()[1]  # under the title
    assert first.startswith("Upward heat flux: ")
    assert "by 4 draws, too few to say how often" in " ".join(told.out.split())
    assert "moves it most" in " ".join(told.out.split())
    for words in ("4 samples", "95 %", "plates.contact", "Btu/h·ft²", "Kept in runs/tiny-study, 7 pictures"):
        assert words in told.out
    folder = tiny / "runs" / "tiny-study"
    assert {path.name for path in folder.iterdir()} == set(STUDY_ENTRIES) - {"report.pdf"}  # joistbay report sets it
    assert (folder / "pictures" / "tornado_ripple_K.png").stat().st_size > 10_000
    with (folder / "ends.csv").open(encoding="utf-8") as file:
        ends = {row["solve"]: row for row in csv.DictReader(file)}
    # A worse contact lets less heat through.
    low, high = (float(ends[f"plates.contact {end}"]["heat_flux_up_W_m2"]) for end in ("low", "high"))
    assert low > float(ends["the case itself"]["heat_flux_up_W_m2"]) > high
    assert not (tiny / "runs" / "tiny-study.work").exists()


def test_a_study_as_json_with_a_failing_sample(tiny, capsys):
    # Either alone fits under the 150 mm joist; the plate hung deep over thick insulation does not.
    hung = TINY.replace('spacing = "120 mm"', 'spacing = "120 mm"\nposition = "hung"\ndrop = "20 mm"')
    (tiny / "tiny.toml").write_text(hung, encoding="utf-8")
    inputs = ["plates.drop=20..70 mm", "cavity.insulation.thickness=20..100 mm"]
    code = main(["study", "tiny.toml", "--inputs", *inputs, "--samples", "6", "--json", "--no-pictures"])
    told = capsys.readouterr()
    kept = json.loads(told.out)
    lost = len(kept["failures"])
    assert code == 1 and 0 < lost < 6 and "reaches into the insulation" in told.err
    assert kept["numbers"]["heat_flux_up_W_m2"]["count"] == 6 - lost


def test_a_study_of_blocks_tells_what_moves_and_nothing_twice(tmp_path, capsys, monkeypatch):
    """Of three build-ups one is varied: the others, and the heat into it beside that out of it, go untold."""
    monkeypatch.setenv("COLUMNS", "120")  # names in one line
    oak = "box[plain oak].conductivity=0.12..0.2 W/(m*K)"
    asked = ["study", "cases/verification/layered-floor/case.toml", "--inputs", oak]
    assert main([*asked, "--samples", "2", "--out", str(tmp_path / "o"), "--no-pictures", "--units", "ip"]) == 0
    told = capsys.readouterr().out
    assert "heat flow plain room" in told and "contact" not in told and "layer" not in told
    moved = told.partition("What moves each result")[2]
    assert "heat flow plain plate" in moved and "heat flow plain room" not in moved


@pytest.mark.parametrize(("arguments", "words"), [
    ([], "at least one input"),
    (["--inputs", "plates.contact"], "write KEY=LOW..HIGH UNIT"),
    (["--inputs", "plates.contct=0.1..0.2 m^2*K/W"], "did you mean"),
    (["--inputs", "plates.contact=0.004..0.04"], "unit is missing"),
    ([*INPUTS, "--samples", "1"], "at least 2"),
    ([*INPUTS, "--seed", "-1"], "--seed got -1; must be at least 0"),
    ([*INPUTS, "--workers", "1000000"], "each worker fills memory; give at most"),
    ([*INPUTS, "--workers", "0"], "must be at least 1"),
])  # fmt: skip
def test_a_study_that_cannot_be_done_writes_nothing(tiny, capsys, arguments, words):
    assert main(["study", "tiny.toml", *arguments]) == 2
    assert words in capsys.readouterr().err
    assert not (tiny / "runs").exists()


def test_a_run_with_uncertainty(tiny, capsys):
    assert main(["run", "tiny.toml", "--uncertainty", "--no-pictures"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "±" in told and "grid convergence index" in told and "order" in told
    with read_run(tiny / "runs" / "tiny") as run:
        report = run.report
        assert report["heat_flux_up_W_m2"] > 20.0 * report["heat_flux_up_W_m2_uncertainty"] > 0.0
        assert f"{report['cells']:,.0f}" in told


def test_a_run_with_uncertainty_as_json(tiny, capsys):
    assert main(["run", "tiny.toml", "--uncertainty", "--json", "--no-pictures"]) == 0
    told = json.loads(capsys.readouterr().out)
    grids = told["grids"]
    assert grids["cells"] == sorted(grids["cells"], reverse=True) and len(grids["cells"]) == 3
    number = grids["numbers"]["ripple_K"]
    assert number["value"] == number["values"][0] == told["report"]["ripple_K"]
    assert number["uncertainty"] == told["report"]["ripple_K_uncertainty"]


def test_a_result_that_nothing_moves_has_no_coefficient():
    # a floor that stays below 29 °C everywhere: the share above it does not vary
    assert _coefficient(float("nan")) == "–"
    assert _coefficient(-0.5) == "-0.50"
    assert _coefficient(-0.001) == "0.00"
