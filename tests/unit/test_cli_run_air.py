"""`joistbay run` and `joistbay check` of air alone."""

import json
import re
from types import SimpleNamespace

import pytest

from sim.case.load import parse_case
from sim.cli.main import main
from sim.results.air_answer import air_answer

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


def test_run_prints_a_report_and_keeps_a_folder(case, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("viz.movie.find_encoder", lambda: None)
    assert main(["run", case, "--out", str(tmp_path / "kept")]) == 0
    printed = capsys.readouterr().out
    for words in ("Warm side", "Dimensionless: lengths in L", "Nusselt warm", "The flow is steady", "3 pictures"):
        assert words in printed, printed
    kept = {p.name.replace(".mp4", ".gif") for p in (tmp_path / "kept" / "pictures").iterdir()}  # as extras have it
    assert kept == {"air_section.png", "air_history.png", "air_start.gif"}
    assert main(["run", case, "--out", str(tmp_path / "kept"), "--no-pictures"]) == 0  # its own earlier run is replaced


def test_the_answer_of_a_flow_stands_before_its_numbers(case, capsys):
    """Side-heated square, Ra 1e4: Nu 2.243 (de Vahl Davis 1983), so 2.243 times what air at rest would conduct."""
    assert main(["run", case, "--no-pictures", "--no-page"]) == 0
    first = " ".join(capsys.readouterr().out.split("Dimensionless")[0].split())
    assert first.startswith("Warm side The warm gives ") and "the cool takes " in first
    times = float(re.search(r"That is (\S+) times what the same air would conduct", first)[1])
    assert abs(times / 2.243 - 1.0) < 0.1  # ten cells across
    assert "Rayleigh number 1e+04" not in first and "Rayleigh number 10,000" in first and "begins to turn over" in first


def test_a_cavity_of_any_shape_is_set_beside_air_at_rest():
    """Nu is for the height, 4 times the width: 16.4 of it is 4.1 times conduction across the 40 mm."""
    text = CASE.replace('x = ["0 m", "1 m"]', 'x = ["0 m", "0.25 m"]')
    told = air_answer(parse_case(text), {"nusselt_warm": 16.4, "nusselt_cool": 16.4}, "si")
    assert told[0] == "That is 4.1 times what the same air would conduct if it could not move."
    tilted = parse_case(text.replace('on = "x+"', 'on = "z+"'))
    assert not air_answer(tilted, {"nusselt_warm": 16.4, "nusselt_cool": 16.4}, "si")


def test_air_alone_goes_to_other_programs(case, tmp_path, capsys):
    """Its mean and its last state, in the scales of a dimensionless case; a floor it has none."""
    import meshio

    assert main(["run", case, "--out", str(tmp_path / "kept"), "--no-pictures"]) == 0
    assert main(["export", str(tmp_path / "kept"), "--to", "vtu", "--out", str(tmp_path / "air.vtu")]) == 0
    read = meshio.read(tmp_path / "air.vtu")
    names = {f"{what}{now}_{unit}" for what, unit in (("temperature", "share_of_dT"), ("velocity", "alpha_over_L"))
             for now in ("", "_now")}
    assert set(read.cell_data) == names and set(read.point_data) == names
    capsys.readouterr()
    assert main(["export", str(tmp_path / "kept"), "--to", "csv"]) == 2
    assert "has no floor surface" in capsys.readouterr().err


def test_air_is_compared_over_a_key(case, tmp_path, capsys):
    out = tmp_path / "swept"
    assert main(["compare", case, "--vary", "air.rayleigh=1000,10000", "--out", str(out)]) == 0
    assert "Rayleigh" in capsys.readouterr().out  # its "number" stands below it where the terminal is narrow
    choices = json.loads((out / "air.json").read_text("utf-8"))["choices"]
    assert [choice["rayleigh"] for choice in choices] == pytest.approx([1000.0, 10000.0])
    assert 1.0 < choices[0]["nusselt_warm"] < choices[1]["nusselt_warm"]
    assert len(list((out / "choices").iterdir())) == 2
    assert [file.name for file in (out / "pictures").iterdir()] == ["nusselt.png"]
    assert main(["compare", case, "--vary", "air.rayleigh=1000", "--out", str(out), "--no-pictures"]) == 0  # replaced
    assert "another pattern of flow that could last" in " ".join(capsys.readouterr().out.split())


def test_blocks_are_compared_over_a_key(tmp_path, capsys):
    """Twice the temperature difference sends twice the heat through the plain build-up; the others stay as they are."""
    asked = ["compare", "cases/verification/layered-floor/case.toml", "--vary"]
    warm = "face[plain plate].temperature=30degC,40degC"
    assert main([*asked, warm, "--units", "ip", "--out", str(tmp_path / "out"), "--no-pictures"]) == 0
    told = capsys.readouterr().out
    assert "heat flow contact room" not in told and "more numbers are the same in all" in told and "W/m²" not in told
    rows = json.loads((tmp_path / "out/blocks.json").read_text("utf-8"))["choices"]
    low, high = (row["heat_flow_plain_room_W"] for row in rows)
    assert high == pytest.approx(2.0 * low, rel=1e-6) and low > 0.0
    assert main([*asked, warm, "--resume"]) == 2
    assert "--resume is for comparing joist bays" in capsys.readouterr().err


@pytest.mark.parametrize("other", ["demo/family-oak.toml", "verification/layered-floor/case.toml"])
def test_cases_of_several_kinds_are_refused_in_one_line(other, case, capsys):
    assert main(["compare", case, f"cases/{other}"]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and "is air alone" in told and "only cases of one kind are compared" in told


def test_sizes_are_compared_by_the_end_of_a_box(case, tmp_path, capsys):
    out = tmp_path / "sizes"
    wanted = ["compare", case, "--vary", "box[0].x[1]=0.9m,1.2m", "--out", str(out)]
    assert main([*wanted, "--no-pictures"]) == 0
    told = capsys.readouterr().out
    assert "x to 0.9 m" in told and "10,000" in told and "e+0" not in told and "±" in told
    assert {len(name.name) > 3 for name in (out / "choices").iterdir()} == {True}


def test_a_study_of_air_alone_gives_nusselt_numbers_with_their_own_error(case, tmp_path, capsys):
    out = tmp_path / "study"
    wanted = ["--inputs", "air.rayleigh=2000..8000", "box.0.x[1]=0.9..1.2 m", "--samples", "4", "--out", str(out)]
    assert main(["study", case, *wanted, "--no-pictures"]) == 0
    told = capsys.readouterr().out
    assert "own error too, by its cells and swings" in told and "box.0.x[1]" in told and "°C" not in told
    numbers = json.loads((out / "study.json").read_text("utf-8"))["numbers"]
    warm = numbers["nusselt_warm"]
    assert set(numbers) >= {"rayleigh", "nusselt_warm", "nusselt_cool"} and warm["air_band"] > 0.0
    assert warm["inputs"]["air.rayleigh"]["at_low"] < warm["inputs"]["air.rayleigh"]["at_high"]
    assert warm["low"] < warm["high"] and numbers["rayleigh"]["inputs"]["box.0.x[1]"]["coefficient"] is not None


@pytest.mark.parametrize("asked", [[], ["--spacing", "9in"], ["--vary", "air.rayleih=3"], ["--vary", "air.rayleigh=x"]])
def test_air_is_compared_only_over_what_it_has(asked, case, tmp_path, capsys):
    assert main(["compare", case, *asked, "--out", str(tmp_path / "swept")]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_run_prints_json(case, tmp_path, capsys):
    assert main(["run", case, "--out", str(tmp_path / "kept"), "--json", "--no-pictures"]) == 0
    report = json.loads(capsys.readouterr().out)["report"]
    assert report["steady"] == 1.0
    assert 2.0 < report["nusselt_warm"] < 2.6


def test_check_prints_what_would_be_followed(case, capsys):
    assert main(["check", case]) == 0
    printed = capsys.readouterr().out
    assert "Rayleigh 10,000" in printed
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
    from sim.problems import air_run

    def broken(*_, **__):
        raise FlowError("temperature is nan at (0.1, 0.5, 0.3) m in step 20, time 0.001 s")

    monkeypatch.setattr(air_run, "solve_air", broken)
    assert main(["run", case]) == 1
    last = capsys.readouterr().err.strip().splitlines()[-1]
    assert "temperature is nan at (0.1, 0.5, 0.3) m in step 20" in last


AMONG_SOLIDS = """
kind = "blocks"
[[box]]
name = "lid"
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0.1 m", "0.12 m"]
conductivity = "0.04 W/(m*K)"
[[box]]
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0 m", "0.1 m"]
air = true
[[box]]
name = "base"
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["-0.02 m", "0 m"]
conductivity = "0.04 W/(m*K)"
[[face]]
on = "z-"
temperature = "20 degC"
[[face]]
on = "z+"
temperature = "40 degC"
[mesh]
across = "20 mm"
through = "10 mm"
[air]
model = "resolved"
cell = "20 mm"
wall_cell = "10 mm"
longest = "30 s"
"""


@pytest.fixture
def solids(tmp_path):
    (tmp_path / "solids.toml").write_text(AMONG_SOLIDS)
    return ["run", str(tmp_path / "solids.toml"), "--out", str(tmp_path / "kept"), "--no-pictures"]


def test_a_refused_save_loses_nothing(solids, tmp_path, capsys, monkeypatch):
    from sim.problems import save_result as save
    from sim.resolved import march
    from sim.store.run_folder import StoreError

    rounds, take, usual = [], march.take_round, save.save_result
    monkeypatch.setattr(march, "take_round", lambda course: rounds.append(1) or take(course))

    def refuse(result, folder):
        raise StoreError("the disk is full")

    monkeypatch.setattr(save, "save_result", refuse)
    assert main(solids) == 1
    assert rounds
    (kept,) = tmp_path.glob("kept.*.air.npz")
    rounds.clear()
    monkeypatch.setattr(save, "save_result", usual)
    assert main([*solids, "--resume"]) == 0
    assert not rounds
    assert not kept.exists()
    assert {entry.name for entry in tmp_path.iterdir()} == {"kept", "solids.toml"}


def test_a_file_in_the_place_of_the_checkpoint_is_left_alone(solids, tmp_path, capsys, monkeypatch):
    from sim.problems import save_result as save

    monkeypatch.setattr(save, "save_result", None)
    with pytest.raises(TypeError):
        main(solids)
    (kept,) = tmp_path.glob("kept.*.air.npz")
    kept.write_text("mine")
    for more in ([], ["--resume"]):
        assert main([*solids, *more]) == 2
        assert "is in the way" in capsys.readouterr().err
    assert kept.read_text() == "mine"


def test_uncertainty_keeps_every_mesh_and_goes_on_from_them(solids, tmp_path, capsys, monkeypatch):
    """Stopped on its own mesh, the two coarser ones are not followed again; the line says how to go on."""
    from sim.resolved import march

    rounds, take = [], march.take_round

    def counted(course):
        rounds.append(course.stepper.domain.cells)
        return take(course)

    def stopped(course):
        if rounds and course.stepper.domain.cells > rounds[-1] and len(set(rounds)) == 2:
            raise KeyboardInterrupt
        return counted(course)

    monkeypatch.setattr(march, "take_round", stopped)
    assert main([*solids, "--uncertainty"]) == 130
    assert len(list(tmp_path.glob("kept.*.air.mesh*.npz"))) == 2
    assert capsys.readouterr().err.strip().endswith("--uncertainty --resume goes on with it")
    meshes = len(set(rounds))
    rounds.clear()
    monkeypatch.setattr(march, "take_round", counted)
    assert main([*solids, "--uncertainty", "--resume"]) == 0
    assert meshes == 2 and len(set(rounds)) == 1
    assert {entry.name for entry in tmp_path.iterdir()} == {"kept", "solids.toml"}


def test_uncertainty_of_air_followed_too_briefly_says_so_in_place_of_an_empty_table(solids, tmp_path, capsys):
    path = tmp_path / "solids.toml"
    path.write_text(path.read_text().replace('"30 s"', '"2 s"'))
    assert main([*solids, "--uncertainty"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "No number has a ±" in told and "grid convergence index" not in told


@pytest.mark.parametrize("columns", ["80", "160"])
def test_mesh_and_chance_of_computed_air_stand_apart_and_together(columns, capsys, monkeypatch):
    from dataclasses import replace

    from sim.cli.grids import print_grids
    from sim.cli.show import console
    from sim.study.grid_convergence import GridStudy, estimate

    monkeypatch.setenv("COLUMNS", columns)
    found = replace(estimate((46.0, 45.0, 42.0), (1.5, 1.5)), band=3.0, scatter=4.0)
    shapes, told = ((9, 9, 9), (6, 6, 6), (4, 4, 4)), "2 plumes on the coarsest mesh, then 1, then 1."
    study = GridStudy(SimpleNamespace(air=object()), shapes, (1.5, 1.5), {"heat_flux_up_W_m2": found}, (told,))
    print_grids(console("si"), study, "si")
    out = " ".join(capsys.readouterr().out.split())
    for head, value in (("±", "5"), ("mesh", "3"), ("chance", "4")):
        assert head in out and (f"{head}: {value}" in out or f" {value} " in out)
    assert "mesh, and chance, twice" in out and told in out
    assert "convergence index" in out and "by a fit" not in out
    fitted = replace(study, estimates={"heat_flux_up_W_m2": replace(found, behaviour="fitted", order=float("nan"))})
    print_grids(console("si"), fitted, "si")
    out = " ".join(capsys.readouterr().out.split())
    assert "convergence" not in out and "by a fit of order 1.3" in out
    assert "mesh chance" in out  # as columns, at 80 letters too


@pytest.mark.parametrize(("cell", "why"), [("36", "9, 4, 4 cells"), ("70", "two cells")])
def test_cells_too_large_for_three_meshes_are_refused_at_once(cell, why, solids, tmp_path, capsys, monkeypatch):
    """Three and two cells across: larger cells make the same mesh twice, or none."""
    from sim.resolved import march

    monkeypatch.setattr(march, "take_round", lambda course: pytest.fail("followed"))
    path = tmp_path / "solids.toml"
    path.write_text(re.sub(r'cell = ".*"', f'cell = "{cell} mm"', path.read_text()))
    assert main([*solids, "--uncertainty"]) == 2
    told = capsys.readouterr().err.strip().splitlines()[-1]
    assert "too large for three meshes" in told and why in told
