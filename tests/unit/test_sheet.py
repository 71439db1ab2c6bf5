"""What is printed loses nothing: on narrow terminals, in pipes, and where the alphabet lacks letters."""

import contextlib
import io
import json
import os
import re
import subprocess
import sys
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.cli.letters import PLAIN, fitted
from sim.cli.main import main
from sim.cli.sheet import WholeConsole
from sim.cli.show import choices_table, plain_table, report_table
from sim.results.lines import LINES

NUMBER = re.compile(r"\d[\d.,]*")
VALUES = {key: 1000.0 + place for place, (key, _) in enumerate(line for group in LINES.values() for line in group)}


def printed(table, width, encoding="utf-8"):
    """What a table becomes on a terminal of some width."""
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    WholeConsole(file=file, width=width, highlight=False, markup=False).print(table)
    file.flush()
    return raw.getvalue().decode(encoding)


def numbers(text):
    return Counter(NUMBER.findall(text))


def same_numbers(make, width):
    wide, narrow = printed(make(), 400), printed(make(), width)
    assert not numbers(wide) - numbers(narrow)  # heads may be repeated
    assert "…" not in narrow


@pytest.mark.parametrize("width", [30, 40, 60, 80, 110])
@pytest.mark.parametrize("units", ["si", "ip", "both"])
def test_a_report_keeps_its_numbers(width, units):
    same_numbers(lambda: report_table(VALUES, units), width)


@pytest.mark.parametrize("width", [30, 40, 60, 80, 110])
def test_choices_keep_their_numbers(width):
    rows = [{"choice": f"plates every {n}05 mm and a long name of it", "surface_peak_C": 20.0 + n} for n in range(1, 9)]
    same_numbers(lambda: choices_table(rows, {"surface_peak_C": "floor"}, "both", "plates every"), width)


def wide_table(cells):
    table = plain_table()
    for number in range(len(cells)):
        table.add_column(f"head {'abcdefghijkl'[number]}", justify="right" if number else "left", no_wrap=not number)
    table.add_row(*cells)
    return table


@settings(max_examples=60, deadline=None)
@given(
    cells=st.lists(st.integers(0, 10**12).map(str) | st.just("4.6 m (15 ft)") | st.just(""), min_size=2, max_size=12),
    width=st.integers(30, 120),
)
def test_any_table_keeps_its_numbers(cells, width):
    same_numbers(lambda: wide_table(cells), width)


def test_a_table_that_fits_stays_a_table():
    assert "─" in printed(wide_table(["1", "2"]), 80)


def test_a_table_with_long_names_stays_a_table_in_80_columns():
    """Names go on in a second line; numbers stay one below the other, each beside its unit."""
    limits = plain_table()
    for head in ("limit", "here", "highest", "with water of", ""):
        limits.add_column(head, no_wrap=True)
    for name in ("subfloor, lasting loss of strength", "floor too warm for 10 % of people"):
        limits.add_row(name, "24.6 °C (76.2 °F)", "65.0 °C (149.0 °F)", "over 95.0 °C (203.0 °F)", "kept")
    text = printed(limits, 80)
    assert "─" in text and "here:" not in text and max(map(len, text.splitlines())) <= 80
    assert text.count("(203.0 °F)") == 2 and "10 %" in text
    assert "here: 24.6 °C (76.2 °F)" in printed(limits, 40)  # too narrow for five columns: blocks


@pytest.mark.parametrize("width", ["40", "80"])
@pytest.mark.parametrize("command", [["keys"], ["materials"], ["materials", "oak"]], ids=" ".join)
def test_commands_keep_their_numbers_in_a_narrow_pipe(command, width, monkeypatch):
    def told(columns):
        monkeypatch.setenv("COLUMNS", columns)
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            assert main(command) == 0
        return out.getvalue()

    narrow = told(width)
    assert numbers(narrow) == numbers(told("1000"))
    assert not re.search(r"[ \t]$", narrow, re.MULTILINE), "no line of a file ends in spaces"


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "cp437", "utf-8"])
def test_tables_stay_straight_in_any_alphabet(encoding):
    text = printed(report_table(VALUES, "si"), 110, encoding)
    assert "?" not in text
    ends = {len(line.rstrip()) for line in text.splitlines() if NUMBER.search(line)}
    assert len(ends) == 1  # numbers stand on the right, one below the other


def test_letters_have_plain_names():
    assert fitted("20 °C ± 1 m²·K", "ascii") == "20 degC +/- 1 m^2*K"
    assert fitted("20 °C ├", "latin-1") == "20 °C |"
    assert fitted("Küche ✓ 日", "ascii") == "Kuche yes ?"
    assert all(text.isascii() and '"' not in text and "\\" not in text for text in PLAIN.values())


CASE = '[water]\nsupply = "45 degC"\n[room]\ntemperature = "20 degC"\n'


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_commands_write_in_any_alphabet(encoding, tmp_path):
    (tmp_path / "bay.toml").write_text('title = "Küche ± ″日本″"\n' + CASE, "utf-8")
    script = (
        "import sys; from sim.cli.main import main\n"
        "calls = ['keys', 'plates'], ['materials', 'oak'], ['check', 'bay.toml'], ['check', 'ü']\n"
        "codes = [main(call) for call in calls]\n"
        "sys.exit(codes != [0, 0, 0, 2])"
    )
    environment = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": os.getcwd()}
    done = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, env=environment, capture_output=True)
    assert done.returncode == 0, done.stderr.decode(encoding)
    assert "is sound" in done.stdout.decode(encoding) and "Traceback" not in done.stderr.decode(encoding)


def test_json_in_a_small_alphabet_is_still_json(monkeypatch):
    from sim.cli.letters import settle_streams
    from sim.store.texts import json_text

    raw = io.BytesIO()
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(raw, encoding="ascii"))
    settle_streams()
    print(json_text({"title": "9″ ＂ “a” °"}))
    sys.stdout.flush()
    assert json.loads(raw.getvalue())["title"].isascii()


def test_a_bay_by_correlations_keeps_its_columns_in_a_narrow_pipe():
    """Its longest label leaves room for both systems of units."""
    values = {"air_beyond_range_percent": 60.6} | {key: 0.25 for key, _ in LINES["Resistance from water to room"]}
    assert WholeConsole(file=io.StringIO(), width=80).keeps(report_table(values, "both"))


PARTED = re.compile(r"[\d±≤≥] *\n *(?:[%°]|(?:K|W|in|ft|mm|m²|Btu)\b)|± *\n")
"""A number, or the sign before it, at the end of a line and its unit at the beginning of the next."""


@pytest.mark.parametrize("width", range(40, 100, 3))
def test_no_line_ends_between_a_number_and_its_unit(width):
    said = "At equal heat it is at 27.0 °C, at most 26.7 °C (80 °F), ± 20 %; holes of 1 3/8 in in joists of 9 in. "
    table = plain_table()
    table.add_column("subject", no_wrap=True)
    table.add_column("text")
    table.add_row("joists", said * 3)
    for shown in (printed(said * 4, width), printed(table, width)):
        assert not PARTED.search(shown) and "\ue000" not in shown
        assert "26.7 °C" in shown
