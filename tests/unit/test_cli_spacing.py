"""`joistbay spacing`: the answer with limits, JSON, what is possible when nothing fits; bad input."""

import json

import pytest

from sim.case.load import load_case
from sim.cli.main import main
from sim.cli.spacing import _step

CASE = "cases/demo/family-oak.toml"

RUG = """
floor.covering = [{ material = "oak", thickness = "3/4 in" }]
floor.rug = [{ material = "carpet", thickness = "3/8 in" }]
[plates]
length = "24 in"
[cavity.insulation]
thickness = "3 in"
[water]
supply = "135 degF"
[room]
temperature = "68 degF"
"""


def asked(*options):
    return ["spacing", CASE, "--fineness", "coarse", *options]


def test_answer_with_limits_and_cautions(capsys):
    assert main(asked("--flux", "50 W/m^2", "--supply", "52 degC", "--units", "si")) == 0
    told = capsys.readouterr()
    assert "Widest with 52.0 °C supply: plates every" in told.out
    assert "floor at most 29.0 °C" in told.out
    assert "share of heat down" in told.out
    assert "occupied floor" in told.out
    table = told.out.partition("Bays solved")[2].partition("Limits at")[0]
    assert table.count("plates every") == 1 and table.count("no plates") <= 1, "once, as the head of its column"
    assert "licensed professional" in told.out
    assert "solve 2, plates every 504 mm" in told.err  # learned films: 1.05 × 290 mm from plate to plate of 200 mm


@pytest.mark.parametrize(("spacing", "step"), [("30 in", 0.0254), ("762 mm", 0.025)])
def test_steps_are_in_the_notation_of_the_file(tmp_path, spacing, step):
    """30 in are 762 mm: only the file tells which its writer counts in."""
    case = tmp_path / "den.toml"
    text = 'water.supply = "50 degC"\nroom.temperature = "20 degC"\n'
    text += f'[plates]\nlength = "{spacing}"\nspacing = "{spacing}"\n'
    case.write_text(text, "utf-8")
    assert _step(load_case(case), None, "both") == step


def test_a_limit_that_the_search_does_not_heed_is_told_first(capsys, tmp_path):
    case = tmp_path / "rug.toml"
    case.write_text(RUG, "utf-8")
    assert main(["spacing", str(case), "--flux", "30 W/m^2", "--fineness", "coarse", "--units", "ip"]) == 0
    first = capsys.readouterr().out.partition("Wanted:")[0]
    assert "Widest with 135.0 °F supply" in first
    assert "BROKEN: oak at its surface" in first and "To keep all limits: water of at most" in first


def test_json(capsys):
    assert main(asked("--flux", "16 Btu/(h*ft^2)", "--ripple", "5 delta_degF", "--json")) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["found"]["heat_flux_up_W_m2"] >= 16 * 3.15459
    assert found["found"]["ripple_K"] <= 5 / 1.8
    assert found["solves"] == len(found["trials"]) <= 7
    assert all(row["source"] for row in found["limits"] + found["cautions"])


def test_what_is_possible_when_nothing_fits(capsys):
    assert main(asked("--flux", "90 W/m^2")) == 1
    told = capsys.readouterr().err
    assert "at least 90.0 W/m² (28.5 Btu/h·ft²) wanted" in told  # 3.15459 W/m² in a Btu/h·ft²
    assert "plates every 210 mm" in told


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--flux", "60"), "flux"),
        (("--flux", "60 W/m^2", "--peak", "15 degC"), "--peak"),
        (("--flux", "60 W/m^2", "--ripple", "0 K"), "--ripple"),
        (("--flux", "60 W/m^2", "--ripple", "3 m"), "--ripple"),
        ((), "--flux"),
    ],
)
def test_bad_options_are_one_line(capsys, options, said):
    assert main(asked(*options)) == 2
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert said in line


def test_bad_supply_names_its_key(capsys):
    assert main(asked("--flux", "60 W/m^2", "--supply", "200 degC")) == 2
    assert "water.supply" in capsys.readouterr().err
