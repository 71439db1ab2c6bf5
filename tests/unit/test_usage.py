"""What `--help` says: examples that work as they stand, texts that flow, a screen each."""

import shlex
from pathlib import Path

import pytest

from sim.cli.main import build_app, main
from sim.cli.usage import ARGUMENTS, EXAMPLES

ROOT = Path(__file__).parents[2]

A_TALL_SCREEN = 52
"""Lines of a terminal over the height of a common display."""

TYPED = [f"{command} {rest}".strip() for command, many in EXAMPLES.items() for rest in many]


@pytest.fixture
def at_80_columns(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")


@pytest.mark.parametrize("typed", TYPED)
def test_every_example_is_understood(typed):
    tokens = shlex.split(typed)
    build_app().parse_args(tokens, exit_on_error=False, print_error=False)
    for token in tokens:
        assert not token.endswith(".toml") or tokens[0] == "begin" or (ROOT / token).is_file()
    assert len(f"  joistbay {typed}") <= 80


@pytest.mark.parametrize("command", EXAMPLES)
def test_help_of_a_command(command, at_80_columns, capsys):
    """How it is typed, an example, no text broken in the middle of its line, on one screen."""
    assert main([command, "--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == f"Usage: joistbay {command} {ARGUMENTS[command]} [OPTIONS]"
    assert f"  joistbay {command} {EXAMPLES[command][-1]}".rstrip() in lines
    assert len(lines) <= A_TALL_SCREEN
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if line != line.rstrip()]


def test_texts_of_options_flow(at_80_columns, capsys):
    """The lines that a text has in the code are no lines for the reader."""
    main(["compare", "--help"])
    assert "then every value of one goes with" in capsys.readouterr().out


def test_overview_shows_each_command_in_one_line(at_80_columns, capsys):
    main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Usage: joistbay COMMAND" and not [line for line in lines if line != line.rstrip()]
    for command in EXAMPLES:
        place = next(place for place, line in enumerate(lines) if line.startswith(f"│ {command} "))
        assert lines[place + 1][:4] != "│   "


@pytest.mark.parametrize(("kind", "sections"), [("bay", ("[bay]", "[plates]")), ("blocks", ("[[box]]", "[[face]]"))])
def test_keys_of_a_kind_are_all_of_its_sections(kind, sections, at_80_columns, capsys):
    """Of a bay as well, which is a section of its own besides."""
    assert main(["keys", kind]) == 0
    told = capsys.readouterr().out
    assert all(f"\n{section}\n" in told for section in sections)
