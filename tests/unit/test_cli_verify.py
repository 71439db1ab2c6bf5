"""`joistbay verify`: the table, JSON, exit codes."""

import json
from dataclasses import replace

import pytest

from sim.cli.main import main
from sim.cli.verify import _missed, _print_table
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
    [(["verify", "no-such-problem"], "no-such-problem; joistbay verify --list names all "),
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


@pytest.fixture
def problems(tmp_path):
    """A slab of 1 m and 1 W/(m K) between 30 and 20 °C, so 10 W, of which two others are expected."""
    folder = tmp_path / "slab"
    folder.mkdir()
    (folder / "case.toml").write_text(
        'kind = "blocks"\n[[box]]\nx = ["0 m", "1 m"]\ny = ["0 m", "1 m"]\nz = ["0 m", "1 m"]\n'
        'conductivity = "1 W/(m*K)"\n'
        '[[face]]\nname = "low"\non = "z-"\ntemperature = "30 degC"\n'
        '[[face]]\nname = "high"\non = "z+"\ntemperature = "20 degC"\n'
    )
    (folder / "expected.toml").write_text(
        '[[check]]\nsource = "Fourier, with a wrong number"\nunit = "W"\nabsolute = 0.02\n'
        "[check.published]\nheat_flow_high_W = 11.0\nheat_flow_low_W = -10.5\n"
    )
    (folder / "README.md").write_text("# Slab between two rooms\n\nText.\n")
    return tmp_path


def test_a_missed_number_fails_the_command_and_tells_by_how_much_and_whose_it_is(problems, capsys):
    assert main(["verify", "--cases", str(problems)]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "FAIL" in out and "0 of 2 numbers within" in out
    assert "2 missed, the worst: heat flow " in out and "Expected by: Fourier, with a wrong number." in out
    assert "README.md" in out


@pytest.mark.parametrize(
    ("off", "allowed", "told"), [(1.0, 0.02, "50 times"), (0.05, 0.02, "2.5 times"), (1.0, 0.0, "over a million times")]
)
def test_the_worst_of_a_source_is_told_as_a_multiple_of_what_is_allowed(off, allowed, told):
    row = AccuracyRow("slab", "heat_flow_high_W", "W", 11.0, 11.0 - off, -off, allowed, False, "a book")
    small = replace(row, quantity="heat_flow_low_W", difference=1.01 * allowed)
    text = _missed([small, row])
    assert text.startswith(f"2 missed, the worst: heat flow high, {11.0 - off:g} for 11 W, off by {off:g}, {told}")
    assert _missed([row]).startswith("Missed: heat flow high")


def test_a_problem_that_cannot_be_solved_does_not_hide_the_others(problems, capsys, monkeypatch):
    from sim.airflow.watch import FlowError
    from sim.run import NotConvergedError
    from sim.verify import accuracy

    solve = accuracy.solve_folder
    for error in (NotConvergedError("no answer after 40 passes"), FlowError("the flow is not finite")):

        def fails(folder, *others, error=error):
            if folder.name == "slab":
                raise error
            return solve(folder, *others)

        monkeypatch.setattr(accuracy, "solve_folder", fails)
        assert main(["verify", str(problems / "slab"), "layered-floor"]) == 1
        out = capsys.readouterr().out
        assert f"slab could not be solved: {error}" in out and "6 of 6 numbers within" in out
        assert main(["verify", str(problems / "slab"), "layered-floor", "--json"]) == 1
        found = json.loads(capsys.readouterr().out)
        assert found["unsolved"] == {"slab": str(error)} and len(found["rows"]) == 6


def test_problems_are_listed_with_their_titles_and_solved_by_their_paths(problems, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["verify", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("layered-floor ") and line.endswith(" 6") for line in lines)
    assert any("only with --full" in line for line in lines)
    assert max(map(len, lines)) <= 80
    assert main(["verify", "--list", str(problems / "slab")]) == 0
    assert capsys.readouterr().out.splitlines()[-1].split() == ["slab", "Slab", "between", "two", "rooms", "2"]
