"""`joistbay verify`: the table, JSON, exit codes."""

import json
from dataclasses import replace

import pytest

from sim.cli.main import main
from sim.cli.verify import _print_table
from sim.verify.accuracy import AccuracyRow


def test_table_names_problem_quantity_and_verdict(capsys):
    assert main(["verify", "layered-floor"]) == 0
    printed = capsys.readouterr().out
    assert "layered-floor" in printed
    assert "6 of 6 numbers within their limits" in printed
    assert "…" not in printed


def test_blocks_in_time_are_a_table_in_80_columns(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    row = AccuracyRow("brick-cooling", "probe_centre_C at 1000 s", "°C", 90.9664, 90.9028, -0.0636, 0.1, True, "a book")
    _print_table([row, replace(row, quantity="probe_x_face_C at 1000 s", passed=False)])
    head, _, problem, first, second, *_ = capsys.readouterr().out.splitlines()
    assert head.split() == ["problem", "and", "quantity", "published", "computed", "difference", "allowed"]
    assert problem == "brick-cooling"
    assert first.split() == ["probe", "centre", "at", "1000", "s,", "°C", "90.9664", "90.9028", "-0.064", "0.1", "pass"]
    assert second.startswith("  probe x face") and second.endswith("FAIL") and len(second) <= 80


def test_json_holds_every_number(capsys):
    assert main(["verify", "layered-floor", "nafems-t2", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    assert {row["case"] for row in rows} == {"layered-floor", "nafems-t2"}
    assert all(row["passed"] and row["source"] for row in rows)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(["verify", "no-such-problem"], "no-such-problem; there are air-layers-level, "),
     (["verify", "brick-coling"], 'did you mean "brick-cooling"?'), (["verify", "--cases", "nowhere"], "nowhere")],
)
def test_unknown_problems_are_one_line_and_exit_2(capsys, arguments, said):
    assert main(arguments) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 1
    assert said in told[0]


@pytest.mark.parametrize(("text", "told"), [
    ("x = [", "is not valid TOML"),
    ("x = 1", "check is missing"),
    ('[[check]]\nabsolute = 1\nsource = "a book"\n', "published is missing"),
])  # fmt: skip
def test_expected_numbers_that_cannot_be_read_are_one_line(tmp_path, capsys, text, told):
    (tmp_path / "slab").mkdir()
    (tmp_path / "slab" / "expected.toml").write_text(text, "utf-8")
    assert main(["verify", "--cases", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert str(tmp_path / "slab" / "expected.toml") in line and told in line


def test_a_missed_number_fails_the_command(tmp_path, capsys):
    folder = tmp_path / "slab"
    folder.mkdir()
    (folder / "case.toml").write_text(
        'kind = "blocks"\n[[box]]\nx = ["0 m", "1 m"]\ny = ["0 m", "1 m"]\nz = ["0 m", "1 m"]\n'
        'conductivity = "1 W/(m*K)"\n'
        '[[face]]\nname = "low"\non = "z-"\ntemperature = "30 degC"\n'
        '[[face]]\nname = "high"\non = "z+"\ntemperature = "20 degC"\n'
    )
    (folder / "expected.toml").write_text(
        '[[check]]\nsource = "Fourier, with a wrong number"\nunit = "W"\nrelative = 0.001\n'
        "[check.published]\nheat_flow_high_W = 11.0\n"
    )
    assert main(["verify", "--cases", str(tmp_path)]) == 1
    assert "FAIL" in capsys.readouterr().out
