"""What the guide tells people to type: every command is one, with options that it has and cases that are there."""

import re
import shlex
from pathlib import Path

import pytest
from test_guide import PAGES

from sim.cli.main import build_app

ROOT = Path(__file__).parents[2]
STANDING_FOR = {"CASE": "cases/demo/family-oak.toml", "BLOCKS": "blocks.toml", "AIR": "cases/air/plate-end.toml",
                "HOUSE": "cases/house/demo-house.toml", "RUN": "runs/oak", "NAME": "fin"}  # fmt: skip


def typed_on(page):
    """Commands of a page, as arguments, with a name in place of what stands for one; `joistbay run` alone names one."""
    text = page.read_text("utf-8")
    lines = [line for block in re.findall(r"```sh\n(.*?)```", text, re.S) for line in block.splitlines()]
    lines += re.findall(r"`(joistbay [a-z]+ [^`]+)`", re.sub(r"```.*?```", "", text, flags=re.S))
    for line in lines:
        if line.startswith("joistbay "):
            words = shlex.split(re.sub(r"\[(CASE|NAME|--full)\]", r"\1", line))
            yield [STANDING_FOR.get(word, word) for word in words[1:]]


COMMANDS = {" ".join(words): words for page in PAGES for words in typed_on(page)}


def test_the_guide_names_many_commands():
    assert len(COMMANDS) > 30


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
def test_a_command_of_the_guide_is_one(words):
    """It is understood up to its last option, though not run; a case that it names comes with the program."""
    command, bound, *_ = build_app().parse_args(words, exit_on_error=False, print_error=False)
    assert callable(command) and bound
    for word in words:
        if word.startswith("cases/"):
            assert (ROOT / word).exists(), word
