"""The command line, called as a user calls it: what is printed, what is written, how it fails."""

import contextlib
import csv
import io
import json
import subprocess
import sys
import time
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from types import SimpleNamespace

import numpy as np
import pytest

import sim.problems
import sim.study
from sim.cli.choices import tidy
from sim.cli.main import main
from sim.cli.progress import Progress, compilation_announced
from sim.cli.sheet import WholeConsole
from sim.cli.show import print_choices
from sim.results.people import report_rows
from sim.results.spacing_names import spacing_name
from sim.store.run_folder import read_run
from tests import tiny_bays

TINY = tiny_bays.TINY + '\n[compare]\nspacing = ["120 mm", "8 in", "none"]\n'
RESET = """
[control]
water = "reset"
design_outdoor = "-5 degC"
[weather]
file = "nowhere.csv"
"""
SLAB = """
kind = "blocks"

[[box]]
x = ["0 mm", "100 mm"]
y = ["0 mm", "100 mm"]
z = ["0 mm", "100 mm"]
conductivity = "1 W/(m*K)"

[[face]]
name = "bottom"
on = "z-"
temperature = "30 degC"

[[face]]
name = "top"
on = "z+"
temperature = "20 degC"

[mesh]
fineness = "coarse"
"""


@dataclass
class Called:
    """What a command left behind."""

    code: int
    out: str
    err: str
    folder: Path

    def __getitem__(self, name):
        return json.loads((self.folder / name).read_text("utf-8"))


def call(*arguments, folder=Path()):
    """Call the command line and keep what it prints."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(argument) for argument in arguments])
    return Called(code, out.getvalue(), err.getvalue(), folder)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cases")
    (folder / "tiny.toml").write_text(TINY, "utf-8")
    (folder / "slab.toml").write_text(SLAB, "utf-8")
    return folder


@pytest.fixture(scope="module")
def solved(place):
    return call("run", place / "tiny.toml", "--out", place / "run", folder=place / "run")


@pytest.fixture(scope="module")
def compared(place):
    folder = place / "choices"
    return call("compare", place / "tiny.toml", "--out", folder, folder=folder)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty working folder beside the two cases."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tiny.toml").write_text(TINY, "utf-8")
    (tmp_path / "slab.toml").write_text(SLAB, "utf-8")
    (tmp_path / "untaught.toml").write_text(TINY + '[air]\ncalibration = "runs/none"\n', "utf-8")
    (tmp_path / "weather.toml").write_text(TINY + RESET, "utf-8")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "case.toml").write_text("title = 'written by hand'\n", "utf-8")
    (tmp_path / "huge.toml").write_text(TINY.replace('along = "60 mm"', 'along = "0.002 mm"'), "utf-8")
    return tmp_path


@pytest.fixture
def unsolved(monkeypatch):
    """Solving anything is a mistake: bad input is found before.

    What borrows the solvers by name is imported first, or it would keep what stands in for them here.
    """
    for room in (sim.problems, sim.study):
        for module in iter_modules(room.__path__, f"{room.__name__}."):
            import_module(module.name)
    solvers = "sim.run.prepare", "sim.run.solve_steady", "sim.study.compare.prepare", "sim.study.compare.solve_model"
    for name in solvers:
        monkeypatch.setattr(name, None)


INCH_BAY = """
[bay]
joist_spacing = "16 in"
length = "12 ft"
[water]
supply = "130 degF"
[room]
temperature = "68 degF"
"""


def everything_in(folder):
    return {path.relative_to(folder) for path in folder.rglob("*")}


def words(text):
    """The text with every run of spaces as one, so that column widths do not matter."""
    return " ".join(text.split())


def test_run_prints_the_report_in_both_unit_systems(solved):
    assert solved.code == 0
    report, printed = solved["report.json"], words(solved.out)
    for system in ("si", "ip"):
        for row in report_rows(report, system):
            assert row.text in printed, row
    assert "A tiny bay" in printed
    assert "upward heat flux" in printed


def test_run_keeps_a_run_folder_with_pictures(solved):
    with read_run(solved.folder) as run:
        assert run.fields["floor_temperature"].dims == ("x", "y")
        assert [row["pass"] for row in run.history] == list(range(len(run.history)))
        assert float(run.versions["seconds_solve"]) > 0.0
        assert "plates" in run.case_text
    pictures = {path.name for path in (solved.folder / "pictures").iterdir()}
    assert {"floor_map.png", "profiles.png", "section.png"} <= pictures
    assert "solving" in solved.err


def test_run_again_replaces_the_run_and_speaks_json(here, solved):
    for _ in range(2):
        called = call("run", "tiny.toml", "--json", "--no-pictures")
        assert called.code == 0
    printed = json.loads(called.out)
    assert printed["folder"] == str(Path("runs") / "tiny")
    kept = json.loads(Path("runs/tiny/report.json").read_text("utf-8"))
    assert printed["report"] == kept
    assert kept["heat_flux_up_W_m2"] == pytest.approx(solved["report.json"]["heat_flux_up_W_m2"], rel=1e-6)
    assert not any(Path("runs/tiny/pictures").iterdir())


def test_run_in_one_unit_system(here):
    called = call("run", "slab.toml", "--units", "ip")
    assert called.code == 0
    # 1 W/(m K) over 0.1 m, 10 K and 0.01 m2: 1 W = 3.412 Btu/h by hand.
    assert "heat flow top 3.412 Btu/h" in words(called.out)
    assert "W/m²" not in called.out


def test_run_with_another_fineness(here):
    assert call("run", "slab.toml", "--fineness", "finest", "--no-pictures").code == 0
    assert 'fineness = "finest"' in Path("runs/slab/case.toml").read_text("utf-8")


def test_compare_prints_what_it_keeps(compared):
    assert compared.code == 0
    kept, printed = compared["comparison.json"], words(compared.out)
    assert [row["choice"] for row in kept["equal_water"]] == [
        "plates every 120 mm",
        "plates every 8 in",
        "no plates",
    ]
    for equal, key in (("water", "heat_flux_up_W_m2"), ("heat", "water_supply_C")):
        line = " ".join(f"{row[key]:.1f}" for row in kept[f"equal_{equal}"])
        assert line in printed
    assert "plates every 120 mm 8 in no plates" in printed


def test_compare_delivers_equal_heat(compared):
    kept = compared["comparison.json"]
    flux = [row["heat_flux_up_W_m2"] for row in kept["equal_heat"]]
    np.testing.assert_allclose(flux, kept["flux_compared_W_m2"], rtol=2e-4, atol=0.0)
    supply = [row["water_supply_C"] for row in kept["equal_heat"]]
    assert supply == sorted(supply)  # fewer plates need hotter water


def test_compare_keeps_tables_runs_and_pictures(compared):
    for equal in ("water", "heat"):
        with (compared.folder / f"equal_{equal}.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert [row["plates.spacing [m]"] for row in rows] == ["0.12", "0.2032", ""]
        assert all("heat_flux_up_W_m2" in row for row in rows)
        names = sorted(path.name for path in (compared.folder / f"equal_{equal}").iterdir())
        assert names == ["1-plates-every-120-mm", "2-plates-every-8-in", "3-no-plates"]
        with read_run(compared.folder / f"equal_{equal}" / names[1]) as run:
            row = compared["comparison.json"][f"equal_{equal}"][1]
            assert run.report == {key: row[key] for key in run.report}
    pictures = sorted(path.name for path in (compared.folder / "pictures").iterdir())
    assert pictures == [
        "floor_maps_equal_heat.png",
        "floor_maps_equal_water.png",
        "heat_bars.png",
        "profiles_equal_heat.png",
        "profiles_equal_water.png",
    ]


def test_compare_any_key_at_a_stated_flux(here):
    called = call(
        "compare", "tiny.toml", "--vary", "water.supply=40degC,50degC", "--flux", "20 W/m^2", "--json", "--no-pictures"
    )
    assert called.code == 0
    printed = json.loads(called.out)
    assert [row["choice"] for row in printed["equal_water"]] == ["supply 40 °C", "supply 50 °C"]
    flux = [row["heat_flux_up_W_m2"] for row in printed["equal_heat"]]
    np.testing.assert_allclose(flux, 20.0, rtol=2e-4, atol=0.0)
    assert Path(printed["folder"]).is_dir()


def test_a_comparison_in_this_process_is_that_of_jobs(compared, here):
    """One way to compare, whether choices are jobs or not; `flux_compared` and all numbers but times agree."""
    import sim

    steps, kept = [], compared["comparison.json"]
    case = sim.load_case(here / "tiny.toml")
    found = sim.compare(case, "plates.spacing", case.compare.spacing, listener=steps.append).as_dict()
    assert [(step.number, step.total) for step in steps] == [(n, 6) for n in range(1, 7)]
    for table in ("equal_water", "equal_heat"):
        for own, other in zip(found[table], kept[table], strict=True):
            keys = [key for key in other if key not in ("choice", "value") and "time" not in key]
            values = ([row[key] for key in keys] for row in (own, other))
            np.testing.assert_allclose(*(np.array(row, dtype=float) for row in values), rtol=1e-9, atol=1e-9)


def test_compare_says_which_heat_is_out_of_reach(here):
    called = call("compare", "tiny.toml", "--spacing", "none", "--flux", "400 W/m^2", "--units", "si")
    assert called.code == 0
    assert "no plates: out of reach" in called.out
    assert "400.0 W/m² upwards" in called.out
    assert (here / "runs/tiny-compare/pictures/floor_maps_equal_water.png").is_file()


def test_an_interrupted_comparison_is_taken_up(here, monkeypatch):
    from sim.study import compare

    solve, solved = compare.solve_model, []

    def stop_at_the_second(model):
        if solved:
            raise KeyboardInterrupt
        solved.append(model)
        return solve(model)

    asked = ("compare", "tiny.toml", "--spacing", "120mm,200mm", "--no-pictures", "--json")
    monkeypatch.setattr(compare, "solve_model", stop_at_the_second)
    stopped = call(*asked)
    assert stopped.code == 130
    assert "--resume" in stopped.err
    assert not (here / "runs/tiny-compare").exists()

    def count(model):
        solved.append(model)
        return solve(model)

    monkeypatch.setattr(compare, "solve_model", count)
    resumed = call(*asked, "--resume")
    assert resumed.code == 0
    assert len(solved) == 2
    assert "taken up" in resumed.err
    assert not (here / "runs/tiny-compare.work").exists()
    assert len(json.loads(resumed.out)["equal_heat"]) == 2


def test_a_choice_that_fails_is_named_and_the_rest_stands(here, monkeypatch):
    from sim.run import NotConvergedError
    from sim.study import compare

    solve = compare.solve_model

    def fail_without_plates(model):
        if model.case.plates is None:
            raise NotConvergedError("pass limit")
        return solve(model)

    monkeypatch.setattr(compare, "solve_model", fail_without_plates)
    called = call("compare", "tiny.toml", "--spacing", "120mm,none", "--units", "si")
    assert called.code == 1
    assert "no plates: failed; NotConvergedError: pass limit" in called.err
    assert "upward heat flux" in called.out
    kept = json.loads((here / "runs/tiny-compare/comparison.json").read_text("utf-8"))
    assert kept["failures"] == {"no plates": "NotConvergedError: pass limit"}


@pytest.mark.parametrize("option", [("--workers", "0"), ("--workers", "2", "--scheduler", "tcp://127.0.0.1:1")])
def test_workers_that_make_no_sense_are_refused(here, option):
    called = call("compare", "tiny.toml", *option)
    assert called.code == 2
    assert len(called.err.strip().splitlines()) == 1
    assert "--workers" in called.err


def test_check_shows_everything_and_solves_nothing(here, monkeypatch):
    monkeypatch.setattr("sim.run.solve_steady", None)
    before = everything_in(here)
    short, called = call("check", "tiny.toml"), call("check", "tiny.toml", "--details")
    assert short.code == called.code == 0
    for word in ("Case tiny", "1 run along the joists", "is sound; joistbay run tiny.toml"):
        assert word in called.out and word in short.out
    for word in ("Grid", "Cells", "System"):
        assert word in called.out and word not in short.out
    assert everything_in(here) == before


@pytest.mark.parametrize("units, told, other", [("ip", "16 in", "406.4 mm (16 in)"), ("si", "406.4 mm", "(16 in)")])
def test_check_speaks_one_system_where_asked(here, units, told, other):
    (here / "inch.toml").write_text(INCH_BAY.replace("[room]", 'flow = "0.6 gpm"\n[room]'))
    case = call("check", "inch.toml", "--units", units).out.split("Geometry")[0]
    assert told in case and other not in case
    assert "kg/s" not in case and {"ip": "gpm", "si": "l/min"}[units] in case


def test_keys_come_from_the_schema():
    called = call("keys")
    assert called.code == 0
    for word in ("[plates]", "[[floor.covering]]", "[[box]]", "joist_spacing", "default: 406.4 mm (16 in)"):
        assert word in called.out
    section = call("keys", "cavity").out
    assert "[cavity.insulation]" in section
    assert "[plates]" not in section
    assert "[[box]]" in call("keys", "blocks").out


def test_materials_in_both_unit_systems():
    called = call("materials")
    assert called.code == 0
    assert "plywood" in called.out
    one = call("materials", "plywood").out
    # 0.12 W/(m K) is 0.832 Btu in/(h ft2 degF): 1 W/(m K) = 6.933 (ASHRAE HoF, conversion table, from memory).
    assert "0.12 W/(m·K) (0.832 Btu·in/(h·ft²·°F))" in one
    assert "source" in one
    assert "Btu" not in call("materials", "plywood", "--units", "si").out


@pytest.mark.parametrize("kind", ["vtu", "xdmf", "csv"])
def test_export(kind, solved, tmp_path):
    called = call("export", solved.folder, "--to", kind, "--out", tmp_path / f"bay.{kind}")
    assert called.code == 0
    assert (tmp_path / f"bay.{kind}").stat().st_size > 0


def test_export_lands_beside_the_run_folder(solved):
    assert call("export", solved.folder, "--to", "csv").code == 0
    with solved.folder.with_name("run.csv").open(encoding="utf-8") as file:
        kelvin = [float(row["floor_temperature_K"]) for row in csv.DictReader(file)]
    np.testing.assert_allclose(max(kelvin) - 273.15, solved["report.json"]["surface_peak_C"], rtol=0.0, atol=1e-4)


BROKEN_CASES = {
    "malformed": ("[bay]", "[bay", "not valid TOML"),
    "unknown key": ("runs = 1", "rans = 1", 'did you mean "runs"?'),
    "wrong dimension": ('"19 mm"', '"19 K"', '"K" is not the unit of a length'),
    "negative size": ('width = "80 mm"', 'width = "-80 mm"', "plates.width"),
    "absurd size": ('joist_depth = "150 mm"', 'joist_depth = "150 m"', "bay.joist_depth"),
    "plate wider than the bay": ('width = "80 mm"', 'width = "280 mm"', "plates.width"),
    "runs collide": ("runs = 1", 'runs = 2\npositions = ["150 mm", "152 mm"]', "tube.positions"),
    "insulation too deep": ('thickness = "50 mm"', 'thickness = "160 mm"', "cavity.insulation.thickness"),
    "cold water": ('supply = "45 degC"', 'supply = "15 degC"', "the water is not warmer than the room"),
}


@pytest.mark.parametrize("command", ["run", "compare", "check"])
@pytest.mark.parametrize("change", BROKEN_CASES.values(), ids=BROKEN_CASES)
def test_a_bad_case_writes_nothing(command, change, here, unsolved):
    old, new, told = change
    assert old in TINY
    Path("bad.toml").write_text(TINY.replace(old, new), "utf-8")
    before = everything_in(here)
    called = call(command, "bad.toml")
    assert called.code == 2
    assert called.out == ""
    lines = called.err.splitlines()
    assert lines[0] == "bad.toml"
    assert any(told in line for line in lines[1:-1]), called.err
    assert lines[-1].endswith("Nothing was run.")
    assert everything_in(here) == before


BAD_CALLS = {
    "no such case": (["run", "nowhere.toml"], "there is no such file"),
    "folder as a case": (["run", "."], "is a folder"),
    "no such command": (["rnu", "tiny.toml"], 'unknown command "rnu"; did you mean "run"?'),
    "command unlike any": (["frobnicate"], "commands: begin, run, compare, water,"),
    "no such option": (["run", "tiny.toml", "--outt", "x"], "Did you mean --out?"),
    "option before the command": (["--fast"], 'unknown option "--fast"'),
    "no case": (["run"], "CASE is missing"),
    "no value": (["run", "tiny.toml", "--out"], "--out needs a value"),
    "two cases": (["run", "tiny.toml", "slab.toml"], '"slab.toml" was not expected'),
    "no format": (["export", "."], "--to is missing"),
    "bad word": (["run", "tiny.toml", "--units", "cgs"], 'Choose from: "si", "ip", "both"'),
    "file as folder": (["run", "tiny.toml", "--out", "slab.toml"], "is not a folder"),
    "folder below a file": (["run", "tiny.toml", "--out", "slab.toml/a/b"], "cannot be written"),
    "folder of something else": (["run", "tiny.toml", "--out", "mine"], "nothing was overwritten"),
    "the folder one is in": (["run", "tiny.toml", "--out", "."], "the folder you are in"),
    "comparison below a file": (["compare", "tiny.toml", "--out", "slab.toml/a"], "cannot be written"),
    "spacing without unit": (["compare", "tiny.toml", "--spacing", "200,none"], "the unit is missing"),
    "spacing below the plate": (["compare", "tiny.toml", "--spacing", "90mm"], "at least the plate length"),
    "empty spacing": (["compare", "tiny.toml", "--spacing", "200mm,,none"], "parted by commas"),
    "no such key": (["compare", "tiny.toml", "--vary", "plates.spcing=1m"], 'did you mean "spacing"?'),
    "no values": (["compare", "tiny.toml", "--vary", "plates.drop"], "KEY=a,b,c"),
    "key twice": (["compare", "tiny.toml", "--vary", "plates.spacing=1m", "--spacing", "1m"], "is varied twice"),
    "value twice": (["compare", "tiny.toml", "--spacing", "1m,1m"], 'got "1m" twice'),
    "lists that do not pair": (
        ["compare", "tiny.toml", "--vary", "tube.runs=1,2", "--spacing", "1m", "--paired"], "lists of 1 and 2 values"
    ),
    "nothing to pair": (["compare", "tiny.toml", "--spacing", "1m", "--paired"], "two lists or more"),
    "a case beside itself": (["compare", "tiny.toml", "./tiny.toml"], "named twice"),
    "blocks beside a bay": (["compare", "tiny.toml", "slab.toml"], "only cases of one kind are compared"),
    "a list without number": (
        ["compare", "tiny.toml", "--vary", "floor.covering.thickness=8mm,9mm"], "write floor.covering.0.thickness"
    ),
    "no heat flux": (["compare", "tiny.toml", "--flux", "60 W"], '"W" is not the unit of a heat flux'),
    "negative heat flux": (["compare", "tiny.toml", "--flux", "-60 W/m^2"], "greater than 0"),
    "huge heat flux": (["compare", "tiny.toml", "--flux", "1e300 W/m^2"], "no floor gives more than 10,000 W/m²"),
    "blocks with nothing to compare": (["compare", "slab.toml"], "nothing to compare; add --vary"),
    "no such section": (["keys", "plats"], 'did you mean "plates"?'),
    "no such material": (["materials", "plywud"], 'did you mean "plywood"?'),
    "a wood that is not there": (["materials", "maple"], 'nearest in kind is "oak"'),
    "empty value": (["compare", "tiny.toml", "--vary", "plates.drop="], '--vary got ""'),
    "films from nowhere": (["run", "untaught.toml"], "no air_films.json there"),
    "films from nowhere in a comparison": (["compare", "untaught.toml"], "no air_films.json there"),
    "films from nowhere in time": (["warmup", "untaught.toml"], "no air_films.json there"),
    "no weather": (["check", "weather.toml"], "check weather.file"),
    "water on an absurd mesh": (["water", "huge.toml", "--flux", "50 W/m^2"], "choose larger cells in [mesh]"),
    "no such run": (["export", "runs/none", "--to", "vtu"], "no such folder"),
    "no such format": (["export", ".", "--to", "stl"], 'Choose from: "vtu", "xdmf", "csv"'),
}


@pytest.mark.parametrize("bad", BAD_CALLS.values(), ids=BAD_CALLS)
def test_a_bad_call_writes_nothing(bad, here, unsolved):
    arguments, told = bad
    before = everything_in(here)
    called = call(*arguments)
    assert called.code == 2
    assert called.out == ""
    assert told in called.err
    assert len([line for line in called.err.splitlines() if told in line]) == 1
    assert "Traceback" not in called.err
    assert everything_in(here) == before


def test_several_bad_values_are_reported_together(here, unsolved):
    called = call("compare", "tiny.toml", "--spacing", "90mm,20xy,300mm")
    assert called.code == 2
    assert "2 problems. Nothing was run." in called.err


def test_a_case_without_a_list_asks_for_one(here, unsolved):
    Path("bare.toml").write_text(TINY.split("[compare]")[0], "utf-8")
    called = call("compare", "bare.toml")
    assert called.code == 2
    assert "--spacing" in called.err


def test_csv_of_a_run_without_floor(here):
    assert call("run", "slab.toml").code == 0
    before = everything_in(here)
    called = call("export", "runs/slab", "--to", "csv")
    assert called.code == 2
    assert "no floor surface" in called.err
    assert everything_in(here) == before


@pytest.mark.parametrize("command", ["run", "compare", "check"])
def test_an_absurd_mesh_is_refused_before_it_is_built(command, here, unsolved):
    Path("fine.toml").write_text(TINY.replace('"25 mm"', '"0.02 mm"').replace('"60 mm"', '"0.1 mm"'), "utf-8")
    before = everything_in(here)
    called = call(command, "fine.toml")
    assert called.code == 2
    assert "million cells" in called.err
    assert everything_in(here) == before


def failing_solve(**limits):
    from sim.solver.steady import SteadyOptions, solve_steady

    def solve(system, options, listener, start):
        return solve_steady(system, SteadyOptions(**limits), listener, start)

    return solve


def test_a_run_that_does_not_converge_fails(here, monkeypatch):
    monkeypatch.setattr("sim.run.solve_steady", failing_solve(passes=1))
    before = everything_in(here)
    called = call("run", "tiny.toml")
    assert called.code == 1
    assert "tiny: pass limit" in called.err
    assert called.out == ""
    assert everything_in(here) == before


def test_an_audit_that_does_not_close_fails_with_its_table(here, monkeypatch):
    from sim.solver.balance import audit

    monkeypatch.setattr("sim.run.audit", lambda balance: audit(balance, tolerance=-1.0))
    before = everything_in(here)
    called = call("run", "tiny.toml")
    assert called.code == 1
    assert "the energy audit does not close" in called.err
    assert "out  up" in called.err
    assert everything_in(here) == before


@pytest.mark.parametrize(("where", "code"), [("sim.run.prepare", 2), ("sim.run.solve_model", 1)])
def test_a_value_that_the_physics_refuses(where, code, here, monkeypatch):
    def refuse(*_, **__):
        raise ValueError("Reynolds number 1e9 is outside 0 to 1e7")

    monkeypatch.setattr(where, refuse)
    called = call("run", "tiny.toml")
    assert called.code == code
    assert "Reynolds number 1e9 is outside 0 to 1e7" in called.err.splitlines()[-1]


def test_ctrl_c_leaves_nothing(here, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("sim.run.solve_steady", stop)
    before = everything_in(here)
    called = call("run", "tiny.toml")
    assert called.code == 130
    assert called.err.splitlines()[-1] == "stopped"
    assert everything_in(here) == before


def test_what_breaks_while_stopping_is_no_error_of_the_program(here, monkeypatch):
    def stop(*_, **__):
        try:
            raise KeyboardInterrupt
        finally:
            raise AssertionError("workers that had not quite started")

    monkeypatch.setattr("sim.run.solve_steady", stop)
    called = call("run", "tiny.toml")
    assert (called.code, called.err.splitlines()[-1]) == (130, "stopped")


def test_a_comparison_without_any_choice_left_says_why(here, monkeypatch):
    def fail(*_, **__):
        raise ValueError("no such luck")

    monkeypatch.setattr("sim.study.compare.solve_model", fail)
    called = call("compare", "tiny.toml", "--out", "out")
    assert called.code == 1
    assert called.err.count("no such luck") == 3


def test_an_error_of_the_program_is_not_hidden(here, monkeypatch):
    def fail(*_, **__):
        raise RuntimeError("a mistake in the program")

    monkeypatch.setattr("sim.run.prepare", fail)
    with pytest.raises(RuntimeError):
        call("run", "tiny.toml")


def test_help_names_every_command():
    called = call("--help")
    assert called.code == 0
    for command in ("run", "compare", "check", "keys", "materials", "export"):
        assert command in called.out
        one = call(command, "--help")
        assert one.code == 0
        assert f"joistbay {command}" in one.out


def test_help_runs_on_where_lines_end_in_our_sources_and_offers_no_empty_list(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "400")
    assert main(["compare", "--help"]) == 0
    told = capsys.readouterr().out
    assert "then every value of one goes with every value of the others." in told
    assert "--empty" not in told


def seconds_of(*arguments):
    """Shortest of three times that a fresh interpreter takes [s]."""
    times = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - began)
    return min(times)


def test_help_is_quick():
    """A ratio to starting Python at all: a loaded machine slows both."""
    assert seconds_of("-m", "sim", "--help") < 20.0 * seconds_of("-c", "pass")


def test_help_imports_nothing_heavy():
    """Neither the overview nor the help of a command."""
    code = """
import sys
from sim.cli.main import main
from sim.cli.usage import EXAMPLES
for command in ([], *([name] for name in EXAMPLES)):
    main([*command, "--help"])
heavy = {"numpy", "scipy", "pydantic", "pint", "numba", "xarray", "matplotlib", "pyvista", "vtkmodules"}
sys.exit(" ".join(heavy & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", code], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    assert done.stderr.strip() == ""


def test_a_reader_that_leaves_early_gets_no_traceback():
    with subprocess.Popen(
        [sys.executable, "-m", "sim", "keys"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        process.stdout.close()
        said = process.stderr.read().splitlines()
        assert not [line for line in said if "keys: starting" not in line]  # which a busy machine says


def test_progress_is_plain_lines_where_nobody_looks(capsys):
    with Progress() as progress:
        progress.stage("mesh")
        progress.on_pass(SimpleNamespace(number=1, residual=1e-3))
        tell = progress.outcomes(2)
        tell(SimpleNamespace(name="first", failure="", reused=False, seconds=1.25))
        tell(SimpleNamespace(name="second", failure="no", reused=False, seconds=0.5))
    assert capsys.readouterr().err == "mesh\n1 of 2 done: first, 1.2 s\n2 of 2 done: second, failed\n"


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_progress_is_one_line_on_a_terminal(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with Progress() as progress:
        progress.stage("solving")
        progress.on_pass(SimpleNamespace(number=4, residual=2e-5))
        progress.stage("writing")
    written = terminal.getvalue()
    assert "solving" in written
    assert "writing" in written
    assert written.count("\n") <= 1


def test_compilation_is_announced_once_and_only_when_it_happens(capsys):
    from numba.core import event

    with Progress() as progress, compilation_announced(progress):
        assert capsys.readouterr().err == ""
        for _ in range(2):
            with event.trigger_event("numba:compile"):
                pass
    assert capsys.readouterr().err.count("Compiling kernels") == 1


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("200mm", "200 mm"),
        ("7 1/2in", "7 1/2 in"),
        ("45degC", "45 °C"),
        ("R-19", "R-19"),
        ("2", "2"),
        ("3/4in", "3/4 in"),
    ],
)
def test_typed_values_are_tidied(typed, shown):
    assert tidy(typed) == shown


@pytest.mark.parametrize(
    ("spacing", "shown"),
    [
        (0.2286, "9 in"),
        (0.3, "300 mm"),
        (0.3048, "12 in"),
        (0.2254, "225.4 mm"),
        (0.254, "254 mm"),
    ],
)
def test_spacings_read_in_the_unit_where_they_are_round(spacing, shown):
    assert spacing_name(spacing) == f"plates every {shown}"


@pytest.mark.parametrize(("width", "lines"), [(110, 1), (70, 2), (30, 0)])
def test_choices_stand_beside_each_other_as_far_as_they_fit(width, lines):
    """One table, two, or one block a quantity in which all choices stand below each other; no number is lost."""
    paper = io.StringIO()
    rows = [{"choice": f"plates every {200 + 10 * n} mm", "ripple_K": 2.0 + n / 10} for n in range(6)]
    labels = {"ripple_K": "ripple, warmest - coolest"}
    print_choices(WholeConsole(file=paper, width=width), rows, labels, "si", "plates every")
    text = paper.getvalue()
    assert text.count("ripple, warmest") == max(lines, 1)
    assert max(map(len, text.splitlines())) <= width
    assert all(f"{2.0 + n / 10:.2f}" in text and f"{200 + 10 * n} mm" in text for n in range(6))


def test_check_loads_and_traces_only_what_it_shows():
    """Half a second each: optimisation, dense algebra, traced rays; a third of a second: a unit library.

    Regions of the air are labelled (0.12 s) wherever films have learned, so that is not late.
    """
    code = """
import sys
from sim.cli.main import main
main(["check", "cases/demo/family-oak.toml", "--details"])
late = {"pint", "scipy.optimize", "scipy.interpolate", "scipy.linalg", "xarray"}
sys.exit(" ".join((late | {"sim.physics.view_factors", "sim.resolved.march", "matplotlib"}) & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stderr.strip() == "family-oak: mesh and view factors"
    assert "radiation patches" in done.stdout


def test_a_sketch_cannot_be_taken_for_a_model():
    """Its view factors are NaN, so that nothing that uses them passes for a result."""
    import numpy as np

    from sim.case.load import load_case
    from sim.problems.kinds import BAY

    cavity = BAY.sketch(load_case("cases/demo/kitchen-vinyl.toml")).system.cavity
    assert np.isnan(cavity.patches.exchange).all()
