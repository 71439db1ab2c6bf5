"""Every command at 40 and at 80 columns, in a pipe: no line longer than that, and no number lost."""

import contextlib
import io
import re
from collections import Counter

import pytest

from sim.cli.main import main
from sim.cli.sheet import WholeConsole
from sim.cli.show import print_tree

COARSE = ["--fineness", "coarse"]
COMMANDS = [
    ["check", "cases/demo/kitchen-vinyl.toml"],
    ["check", "cases/demo/bedroom-carpet.toml"],
    ["check", "cases/verification/plane-wall/case.toml"],
    ["run", "cases/demo/bathroom-tile.toml", *COARSE, "--no-pictures"],
    ["compare", "cases/demo/family-oak.toml", *COARSE, "--no-pictures", "--spacing", "9in,none"],
    ["water", "cases/demo/family-oak.toml", *COARSE, "--flux", "50 W/m^2"],
    ["spacing", "cases/demo/family-oak.toml", *COARSE, "--flux", "20 W/m^2"],
    ["keys"],
    ["materials"],
    ["materials", "oak"],
    ["verify", "layered-floor"],
]
PATH = re.compile(r"^Kept in|is sound; joistbay run")


def told(command, width, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(command) == 0
    return out.getvalue()


def numbers(text):
    return Counter(re.findall(r"\d[\d.,]*\d|\d", text))


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: f"{command[0]} {command[-1]}")
def test_nothing_is_cut_and_no_number_lost(command, tmp_path, monkeypatch):
    if command[0] in ("run", "compare"):
        command = [*command, "--out", str(tmp_path / "out")]
    wide = told(command, 400, monkeypatch)
    for width in (40, 80):
        narrow = told(command, width, monkeypatch)
        lines = [line for line in narrow.splitlines() if not PATH.search(line)]
        assert [line for line in lines if len(line) > width and str(tmp_path) not in line] == []
        lost = numbers(wide) - numbers(narrow)
        solve = re.search(r"solve time\s+(\S+)", wide)  # the only number that differs from run to run
        assert not lost - Counter([solve[1]] if solve else []), lost


def test_a_tree_goes_on_beside_its_branches():
    out = io.StringIO()
    tree = "top\n├── one branch with far too many words\n└── last one with as many words too"
    print_tree(WholeConsole(file=out, width=30), tree)
    assert out.getvalue().splitlines() == [
        "top", "├── one branch with far too", "│     many words", "└── last one with as many", "      words too",
    ]  # fmt: skip
