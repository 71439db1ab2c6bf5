"""Files that nobody would write on purpose: each is refused in a few clear lines, soon, and steers no terminal."""

import os
import sys
import time

import pytest

from sim.case.errors import CaseError
from sim.case.load import load_case, parse_case
from sim.case.spreadsheet_file import spreadsheet_lines
from sim.case.weather import read_weather
from sim.cli.main import main
from tests.tiny_bays import TINY

CASE = 'title = "plain"\n[water]\nsupply = "45 degC"\n[room]\ntemperature = "20 degC"\n'


def refused(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text)
    return str(caught.value)


@pytest.mark.parametrize("deep", [30, 500, 5_000, 100_000])
@pytest.mark.parametrize("kind", ["lists", "tables", "dotted"])
def test_nesting_beyond_any_case_is_refused_in_one_line(kind, deep):
    text = {"lists": f"a = {'[' * deep}{']' * deep}", "tables": "a = " + "{a=" * deep + "1" + "}" * deep}.get(kind)
    before = time.perf_counter()
    line = refused(text or ".".join(["a"] * deep) + " = 1")
    assert "nested deeper" in line
    assert len(line) < 300 and time.perf_counter() - before < 5.0


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f", "\u2009", "\u3000"])
def test_a_blank_from_a_web_page_is_a_blank(blank):
    """Copied text has no-break and thin blanks, which nobody sees: between number and unit, and in the TOML itself."""
    assert parse_case(CASE.replace(" ", blank)) == parse_case(CASE)
    assert parse_case(CASE.replace("plain", f"a{blank}b")).title == "a b"


@pytest.mark.parametrize(
    "text",
    [
        f"x = {'9' * 5000}",
        f"{'k' * 5000} = 1",
        f'title = {"9" * 4000}',
        f'[water]\nsupply = "{"4" * 100_000} degC"',
        f"[water]\nsupply = [{'1, ' * 100_000}]",
        f'kind = "{"b" * 100_000}"',
        f'[water]\nsupply = "{"x" * 100_000}"',
        f'[floor.sheathing]\nmaterial = "{"x" * 10_000}"',
        f'[below]\nkind = "{"x" * 10_000}"',
        "\n".join(f"k{n} = 1" for n in range(5_000)),
    ],
    ids=range(10),
)
def test_huge_values_are_not_echoed(text):
    assert len(refused(text)) < 6_000
    assert max(map(len, refused(text).splitlines())) < 600


@pytest.mark.parametrize("escape", ["\\u001b[2J", "\\u0007", "\\u202e", "\\u009b31m"])
@pytest.mark.parametrize("where", ['title = "{}"', '"{}" = 1', '[water]\nsupply = "{}"', '[[a.b]]\nmaterial = "{}"'])
def test_control_characters_reach_no_terminal(where, escape):
    line = refused(where.format(escape))
    assert line.replace("\n", " ").isprintable()
    assert "control characters" in line


def test_a_name_on_the_command_line_steers_no_terminal(capfd, tmp_path):
    assert main(["check", str(tmp_path / "a\x1b[2Jb.toml")]) == 2
    told = capfd.readouterr()
    assert "\x1b" not in told.out + told.err and "control characters" in told.err


def test_a_file_whose_name_steers_is_not_read(capfd, tmp_path):
    file = tmp_path / "a\x1b[2Jb.toml"
    file.write_text(CASE, "utf-8")
    assert main(["check", str(file)]) == 2
    told = capfd.readouterr()
    assert "\x1b" not in told.out + told.err and "rename" in told.err


def test_a_byte_order_mark_is_no_fault(tmp_path):
    """Editors of Windows put one before a text."""
    file = tmp_path / "bom.toml"
    file.write_bytes(b"\xef\xbb\xbf" + CASE.replace("\n", "\r\n").encode())
    assert load_case(file).title == "plain"


def test_what_never_ends_is_no_case(tmp_path):
    with pytest.raises(CaseError, match="is a pipe or a device"):
        load_case("/dev/zero")
    with (tmp_path / "vast.toml").open("wb") as file:
        file.truncate(200_000_000)
    with pytest.raises(CaseError, match="larger than 4 MB"):
        load_case(tmp_path / "vast.toml")


def test_no_command_reads_more_of_a_file_than_a_case_may_hold(tmp_path, capsys):
    """Nor does it wait for who writes a pipe: each reader of what a case names asks first."""
    vast, pipe = tmp_path / "vast.toml", tmp_path / "pipe.toml"
    vast.write_text(CASE + "# x\n" * 15_000_000, "utf-8")
    os.mkfifo(pipe)
    began = time.process_time()
    for file in (vast, pipe):
        assert main(["check", str(file)]) == 2
    told = capsys.readouterr().err
    assert "larger than 4 MB" in told and "is a pipe or a device" in told
    assert time.process_time() - began < 2.0
    for read in (read_weather, spreadsheet_lines):
        for name in ("pipe.csv", "pipe.xlsx"):
            pipe = pipe.rename(tmp_path / name)
            with pytest.raises(CaseError, match="is a pipe or a device"):
                read(pipe)


CONTENTS = [b"\xff\xfe[\x00b\x00", b"\x00\x01\x02", b"\x1f\x8b\x08", b"{}", b"[[[[", b"a = 1979-99-99"]


@pytest.mark.parametrize("content", CONTENTS)
def test_other_content_is_refused(tmp_path, content):
    file = tmp_path / "odd.toml"
    file.write_bytes(content)
    with pytest.raises(CaseError, match=r"UTF-8|TOML"):
        load_case(file)


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_lines_may_end_as_other_systems_end_them(end, tmp_path):
    (tmp_path / "a.toml").write_bytes(CASE.replace("\n", end).encode())
    assert load_case(tmp_path / "a.toml").title == "plain"


def test_an_empty_file_is_not_taken_for_a_fault_of_the_program(tmp_path):
    file = tmp_path / "empty.toml"
    file.write_bytes(b"")
    with pytest.raises(CaseError, match="missing"):
        load_case(file)


EVERY = [["check"], ["run"], ["explore", "--no-browser"], ["house"], ["water", "--flux", "5 W/m^2"]]


@pytest.mark.parametrize("command", EVERY, ids=[command[0] for command in EVERY])
def test_every_command_refuses_nesting_beyond_any_case(command, tmp_path, capsys):
    file = tmp_path / "deep.toml"
    file.write_text(f"{CASE}a = {'[' * 5_000}{']' * 5_000}\n", "utf-8")
    assert main([command[0], str(file), *command[1:]]) == 2
    said = capsys.readouterr().err
    assert "nested deeper" in said and len(said) < 600


def test_a_house_with_a_byte_order_mark_is_a_house(tmp_path):
    from sim.cli.load import is_house

    (tmp_path / "house.toml").write_text('kind = "house"\n', "utf-8-sig")
    assert is_house(tmp_path / "house.toml")


def test_a_path_too_long_to_be_one_is_told_in_part(capsys):
    assert main(["check", "x" * 5_000]) == 2
    assert len(capsys.readouterr().err) < 600


@pytest.mark.skipif(sys.platform != "linux", reason="names of files are text there")
def test_a_name_that_is_no_text_costs_no_result(tmp_path, capsys, monkeypatch):
    """Of a disk from a machine with other letters: \\xfc is ü in latin-1."""
    monkeypatch.chdir(tmp_path)
    place = os.fsdecode(b"K\xfcche")
    os.mkdir(place)
    with open(f"{place}/B\udcfcro.toml", "w", encoding="utf-8") as file:
        file.write(TINY.replace('title = "A tiny bay"', ""))
    assert main(["run", f"{place}/B\udcfcro.toml", "--no-pictures"]) == 0
    assert "B\\udcfcro" in capsys.readouterr().out
    assert "B\\udcfcro" in (tmp_path / "runs/B\\udcfcro/report.html").read_text("utf-8")


def test_a_name_of_two_lines_is_told_in_one(tmp_path, capsys):
    (tmp_path / "a\nb.toml").write_text(CASE, "utf-8")
    assert main(["check", str(tmp_path / "a\nb.toml")]) == 2
    assert "a\\nb.toml\n" in capsys.readouterr().err


@pytest.mark.parametrize(("out", "rule"), [("o\nut", "control characters"), ("d/" * 3_000 + "x", "is too long")])
def test_no_results_go_where_they_could_not_be_named(out, rule, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "plain.toml").write_text(CASE, "utf-8")
    assert main(["run", "plain.toml", "--out", out]) == 2
    told = capsys.readouterr().err
    assert rule in told and len(told.splitlines()) == 1 and len(told) < 300
    assert [path.name for path in tmp_path.iterdir()] == ["plain.toml"]


def test_a_file_that_reads_as_an_option_is_told_how_to_be_named(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "-plain.toml").write_text(CASE, "utf-8")
    assert main(["check", "-plain.toml"]) == 2
    assert main(["run", "--", "-plain.toml", "--json"]) == 2
    first, second = capsys.readouterr().err.splitlines()
    assert "write ./-plain.toml" in first
    assert 'put --json before it' in second
