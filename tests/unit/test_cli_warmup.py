"""`joistbay warmup`: one case and several, what the folder holds, resuming, bad input."""

import json
import re
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from PIL import Image

from sim.cli.main import main
from sim.cli.show import console, report_table
from sim.cli.warmup import _in_short, _known, _lines
from sim.results.in_time import _ENERGIES, read_series, warm_up_values
from sim.results.report import Report
from tests.tiny_bays import TINY

SHORT = '[time]\nduration = "20 min"\ntolerance = "0.06 K"\n'
PLAINLY = ["--no-pictures", "--no-page"]
"""Where it is not told of how a warm-up is drawn."""


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.setattr("sim.problems.warm_up.STEPS_AT_LEAST", 8)  # nobody looks at how smooth its series are
    path = tmp_path / "bay.toml"
    path.write_text(TINY + SHORT, encoding="utf-8")
    return path


def test_the_hours_are_told_first():
    report = {"flux_63_h": 0.7, "flux_90_h": 1.98, "flux_end_percent": 99.2, "surface_highest_C": 27.2}
    choice = SimpleNamespace(name="plates every 9 in", report=SimpleNamespace(as_dict=lambda: report))
    told = _in_short(choice, "si", named=True)
    assert told.startswith("plates every 9 in: 63 % of the steady heat comes up after 0.70 h, 90 % after 1.98 h; ")
    report["flux_90_h"] = float("nan")
    assert "after 0.70 h, 90 % not by the end; the floor gets 27.2 °C" in _in_short(choice, "si", named=False)
    report |= {"flux_63_h": None, "flux_end_percent": 41.3}
    assert _in_short(choice, "si", named=False).startswith("41 % of the steady heat comes up at the end, and never ")


def test_a_floor_that_loses_heat_says_so_in_one_sentence(capsys):
    series = xr.Dataset(
        {"heat_up": ("time", [5.0, 3.0, 2.0])} | {f"energy_{kind}": ("time", [0.0] * 3) for kind in _ENERGIES}
        | {n: ("time", [293.0, 292.0, 291.0]) for n in ("surface_mean", "surface_peak", "wood_peak", "room")}
        | {"water_supply": ("time", [300.0] * 3)}, {"time": [0.0, 600.0, 1200.0]},
    )  # fmt: skip
    values = warm_up_values(series, {"heat_flux_up_W_m2": 1.0, "surface_mean_C": 17.0})
    choice = SimpleNamespace(name="porch", report=Report("porch", values))
    told = _in_short(choice, "si", named=False)
    assert told.startswith("The floor gains no heat on the way to its steady") and told.endswith(" 19.9 °C at most.")
    console("both").print(report_table(_known(choice), "both"))
    printed = capsys.readouterr().out
    assert "floor, warmest ever" in printed and "n/a" not in printed and "nan" not in printed and "63 %" not in printed


def test_one_case(case, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("viz.floor_movie.FRAMES", 3)
    monkeypatch.setattr("viz.movie.find_encoder", lambda: None)
    folder = tmp_path / "out"
    assert main(["warmup", str(case), "--snapshots", "10min", "--out", str(folder), "--units", "si"]) == 0
    printed, said = capsys.readouterr()
    assert "upward heat, at the end" in printed and "n/a" not in printed, "it never comes to 63 %"
    assert "drawing floor_movie\n" in said, "a movie chooses its own format"
    assert "3 pictures" in printed
    assert (folder / "pictures" / "section_0.1667h.png").stat().st_size > 10_000
    (choice,) = (folder / "choices").iterdir()
    series = read_series(choice / "series.nc")
    rows = (choice / "series.csv").read_text("utf-8").splitlines()
    assert rows[0].startswith("time_h,water_supply_C,")
    assert len(rows) == len(series["time"]) + 1
    np.testing.assert_allclose(float(rows[-1].split(",")[0]), 1 / 3, rtol=1e-6, atol=0.0)
    with Image.open(folder / "pictures" / "floor_movie.gif") as movie:
        assert movie.n_frames == 3
    assert (folder / "pictures" / "time_series.png").stat().st_size > 10_000


def test_what_the_water_gives_is_the_sum_of_the_lines_below_it():
    energies = {"in": 549.0, "up": 391.0, "down": 34.0, "edge": 0.0, "stored": 124.0}
    row = {f"energy_{kind}_Wh_m2": value for kind, value in energies.items()}
    shown = [key for key in _lines([row]) if key.startswith("energy_")]
    assert shown == [f"energy_{kind}_Wh_m2" for kind in ("in", "up", "down", "stored")]
    assert sum(row[key] for key in shown[1:]) == row[shown[0]]
    assert "energy_edge_Wh_m2" in _lines([row, row | {"energy_edge_Wh_m2": 3.0}])


def test_several_choices_as_json(case, tmp_path, capsys):
    folder = tmp_path / "out"
    asked = ["warmup", str(case), "--vary", "water.supply=40degC,50degC", "--out", str(folder)]
    assert main([*asked, *PLAINLY, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["choices"]
    assert [choice["name"] for choice in found] == ["supply 40 °C", "supply 50 °C"]
    assert found[0]["energy_in_Wh_m2"] < found[1]["energy_in_Wh_m2"]
    assert all(choice["audit_residual"] <= 1e-6 for choice in found)
    assert len(list((folder / "choices").iterdir())) == 2


def test_a_choice_that_fails_is_named(case, tmp_path, capsys, monkeypatch):
    def fail(case, **_):
        raise ValueError("no such luck")

    monkeypatch.setattr("sim.problems.save_warm_up.warm_up", fail)
    assert main(["warmup", str(case), "--out", str(tmp_path / "out")]) == 1
    assert "no such luck" in capsys.readouterr().err


def test_an_interrupted_run_is_taken_up(case, tmp_path, capsys, monkeypatch):
    from sim.problems import save_warm_up

    asked = ["warmup", str(case), "--vary", "water.supply=40degC,50degC"]
    asked += ["--out", str(tmp_path / "out"), *PLAINLY]
    usual, done = save_warm_up.warm_up, []

    def stop(case, **more):
        if done:
            raise KeyboardInterrupt
        done.append(case)
        return usual(case, **more)

    monkeypatch.setattr(save_warm_up, "warm_up", stop)
    assert main(asked) == 130
    assert "--resume" in capsys.readouterr().err
    monkeypatch.setattr(save_warm_up, "warm_up", usual)
    assert main([*asked, "--resume"]) == 0
    assert "taken up" in capsys.readouterr().err


def test_weather_that_is_not_there_is_bad_input(case, capsys):
    case.write_text(case.read_text("utf-8") + '\n[weather]\nfile = "none.csv"\n', encoding="utf-8")
    assert main(["warmup", str(case)]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_snapshots_go_to_other_programs(case, tmp_path, capsys):
    import meshio

    out, target = tmp_path / "out", tmp_path / "late.vtu"
    assert main(["warmup", str(case), "--snapshots", "0h,10min", "--out", str(out), *PLAINLY]) == 0
    assert main(["export", str(out), "--to", "vtu", "--at", "600 s", "--out", str(target)]) == 0
    warm = meshio.read(target).cell_data["temperature_K"][0]
    assert 313.15 < warm.max() < 318.15
    (choice,) = (out / "choices").iterdir()
    assert main(["export", str(choice), "--to", "csv", "--at", "0 h", "--out", str(tmp_path / "cold.csv")]) == 0
    rows = (tmp_path / "cold.csv").read_text("utf-8").splitlines()
    assert rows[0] == "x_m,y_m,floor_temperature_K,floor_heat_flux_W_m2"
    np.testing.assert_allclose([float(row.split(",")[2]) for row in rows[1:]], 293.15, rtol=0.0, atol=1e-3)
    capsys.readouterr()
    for asked, words in ((["--at", "5 min"], "0h, 0.166667h"), ([], "0h, 0.166667h"), (["--at", "soon"], "no number")):
        assert main(["export", str(out), "--to", "vtu", *asked]) == 2
        assert words in capsys.readouterr().err


def test_export_of_a_warm_up_without_snapshots(case, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["warmup", str(case), "--out", str(out), *PLAINLY, "--vary", "water.supply=40degC,50degC"]) == 0
    (first, _) = sorted((out / "choices").iterdir())
    assert main(["export", str(first), "--to", "vtu", "--at", "5 min"]) == 2
    assert "kept no snapshots" in capsys.readouterr().err
    assert main(["export", str(out), "--to", "vtu", "--at", "5 min"]) == 2
    assert "several choices" in capsys.readouterr().err


def test_progress_of_each_step(case, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("sim.cli.progress.PLAIN_PAUSE", 0.0)
    assert main(["warmup", str(case), "--out", str(tmp_path / "out"), *PLAINLY]) == 0
    told = [line for line in capsys.readouterr().err.splitlines() if " % done" in line]
    shares = [int(re.search(r"(\d+) % done", line)[1]) for line in told]
    assert shares == sorted(shares)
    assert shares[-1] == 100
    assert re.search(r"0\.33 of 0\.333 h, 100 % done, step [\d.]+ s, \d+\.\d W/m² up", told[-1])


@pytest.mark.parametrize(
    ("text", "options", "words"),
    [
        ("", ["--snapshots", "soon"], "no number"),
        ("", ["--snapshots", "3m"], "not the unit of a time"),
        ("", ["--snapshots", "13h"], "at most the duration"),
        ("", ["--vary", "control.sensor=strip"], 'did you mean "stripe"?'),
        ("", ["--spacing", "300mm", "--vary", "water.supply=40degC"], "exclude each other"),
        ("", ["--workers", "0"], "at least 1"),
        ('[control]\nthermostat = "floor"\nsensor = ["5 m", "0 m"]\n', [], "beside the modelled floor"),
        ('[control]\nshutdown_outdoor = "15 degC"\n', [], "weather.temperature"),
        ('[room.node]\nloss = "1 W/(m^2*K)"\n', [], "room.node.capacity"),
        ('[weather]\nfile = "none.csv"\n', [], "weather.file"),
    ],
)
def test_nonsense_is_one_clear_line(case, tmp_path, capsys, text, options, words):
    case.write_text(case.read_text("utf-8") + "\n" + text, encoding="utf-8")
    assert main(["warmup", str(case), "--out", str(tmp_path / "out"), *options]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists()
