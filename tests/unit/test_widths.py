"""Every command at 40 and at 80 columns, in a pipe: no line longer than that, and no number lost."""

import contextlib
import io
import re
from collections import Counter
from pathlib import Path

import pytest
from house_cases import SMALL

from sim.cli.main import main
from sim.cli.sheet import WholeConsole
from sim.cli.show import print_tree
from tests.tiny_bays import TINY

COARSE = ["--fineness", "coarse"]
QUIETLY = ["--no-drawings", "--workers", "1"]
"""Of a house: no sheets, which say nothing at a terminal, and no processes to start."""

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
    ["lesson"],
    ["check", "cases/house/demo-house.toml"],
    ["warmup", "TINY", *COARSE, "--no-pictures", "--no-page"],
    ["warmup", "TINY", *COARSE, "--no-pictures", "--no-page", "--spacing", "240mm,none"],
    ["study", "TINY", *COARSE, "--inputs", "plates.emissivity_up=0.03..0.3", "--samples", "5", "--no-pictures"],
    ["house", "HOUSE", *COARSE, *QUIETLY],
]  # fmt: skip
PATH = re.compile(r"^Kept in|is sound; joistbay|^Wrote ")
OWN = re.compile(r"(?:solve time|time for all steps|per step and cell)\s+(\S+)")
"""Numbers that differ from run to run."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Two minutes of a tiny bay, a small house whose bays are solved, a stored run."""
    folder = tmp_path_factory.mktemp("widths")
    (folder / "tiny.toml").write_text(TINY + '[time]\nduration = "2 min"\n')
    (folder / "house.toml").write_text(SMALL.replace('[[source]]\nname = "heat pump"\nsupply = "42 degC"\n', ""))
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        assert main(["house", str(folder / "house.toml"), *COARSE, *QUIETLY, "--out", str(folder / "house")]) == 0
        run = ["run", str(folder / "tiny.toml"), *COARSE, "--no-pictures", "--no-page"]
        assert main([*run, "--out", str(folder / "run")]) == 0
    return folder


def told(command, width, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(command) == 0
    return out.getvalue()


class Replayed:
    """A function of which one command's calls are kept: the same command gets them again, one by one."""

    def __init__(self, function):
        self.function, self.kept, self.place = function, [], 0

    def __call__(self, *arguments, **more):
        if self.place == len(self.kept):
            self.kept.append(self.function(*arguments, **more))
        self.place += 1
        return self.kept[self.place - 1]


@pytest.fixture
def solvers(monkeypatch):
    """What solves, once: a command tells at every width of the same numbers."""
    import sim.problems.warm_up
    import sim.run

    places = [(sim.run, "solve_steady"), (sim.problems.warm_up, "march")]
    found = [(module, name, Replayed(getattr(module, name))) for module, name in places]
    for place in found:
        monkeypatch.setattr(*place)
    return [replayed for _, _, replayed in found]


def numbers(text):
    return Counter(re.findall(r"\d[\d.,]*\d|\d", text))


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: f"{command[0]} {command[-1]}")
def test_nothing_is_cut_and_no_number_lost(command, files, solvers, tmp_path, monkeypatch):
    named = {"TINY": files / "tiny.toml", "HOUSE": files / "house.toml"}
    if COARSE[0] in command and command[1].startswith("cases/"):
        named[command[1]] = files / Path(command[1]).name
        named[command[1]].write_text(Path(command[1]).read_text("utf-8") + "\n[mesh]\nlayer_cells = 1\n", "utf-8")
    command = [str(named.get(word, word)) for word in command]
    if command[0] in ("run", "compare", "warmup", "study", "house"):
        command = [*command, "--out", str(files / "house" if command[0] == "house" else tmp_path / "out")]
    wide = told(command, 400, monkeypatch)
    for width in (40, 80):
        for solver in solvers:
            solver.place = 0
        narrow = told(command, width, monkeypatch)
        lines = [line for line in narrow.splitlines() if not PATH.search(line)]
        own = (str(tmp_path), str(files))  # folders of the test, longer than lines
        assert [line for line in lines if len(line) > width and not any(folder in line for folder in own)] == []
        lost = numbers(wide) - numbers(narrow)
        assert not lost - numbers(" ".join(OWN.findall(wide))), lost


@pytest.mark.parametrize("command", ["export", "report"])
def test_what_is_written_for_others_is_named_and_nothing_more(command, files, tmp_path, monkeypatch):
    more = ["--to", "csv", "--out", str(tmp_path / "a.csv")] if command == "export" else ["--out", str(tmp_path)]
    monkeypatch.setattr("viz.report.paper.write_paper", lambda page, path, units: path)  # 2 s, and it is not read here
    for width in (40, 80):
        lines = told([command, str(files / "run"), *more], width, monkeypatch).splitlines()
        assert lines and all(line.startswith("Wrote ") for line in lines)


def test_remarks_are_one_line_in_a_pipe_and_fit_a_terminal(monkeypatch, capsys):
    from sim.cli.errors import say_note

    monkeypatch.setenv("COLUMNS", "40")
    said = "a.toml: " + "beyond the learned films " * 6
    say_note(said)
    assert capsys.readouterr().err == said + "\n"
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    say_note(said)
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) > 3 and all(len(line) <= 40 for line in lines)


def test_a_tree_goes_on_beside_its_branches():
    out = io.StringIO()
    tree = "top\n├── one branch with far too many words\n└── last one with as many words too"
    print_tree(WholeConsole(file=out, width=30), tree)
    assert out.getvalue().splitlines() == [
        "top", "├── one branch with far too", "│     many words", "└── last one with as many", "      words too",
    ]  # fmt: skip
