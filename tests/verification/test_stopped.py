"""Long commands struck at random moments by Ctrl-C, by a request to end, and killed: then taken up and finished."""

import csv
import random
import shutil
import signal
import time

import pytest

from sim.cli.main import main
from tests.kills import LONG, TINY, Command, check_stopped, wait_until_alone

STRUCK = [("study, two workers", signal.SIGINT), ("compare", signal.SIGTERM), ("study", signal.SIGKILL)]
"""What the default tier strikes, once each."""


@pytest.fixture
def seed(request):
    return random.Random(request.node.name)


def strike_once(place, name, number, chance, longest, words=r"\S"):
    """Begin a command, strike it at a random moment after its first word, or others, and check what must hold."""
    command = Command(place, LONG[name])
    command.wait_for(words)
    time.sleep(chance.uniform(0.0, longest))
    seconds = command.strike(number)
    wait_until_alone(command)
    check_stopped(command, number, seconds)
    shutil.rmtree(place / "out", ignore_errors=True)


@pytest.mark.parametrize(("name", "number"), STRUCK)
def test_a_command_struck_at_a_random_moment(tmp_path, seed, name, number):
    strike_once(tmp_path, name, number, seed, 4.0)


@pytest.mark.slow
@pytest.mark.parametrize("name", LONG)
def test_a_command_struck_many_times(tmp_path, seed, name):
    for count in range(18):
        place = tmp_path / str(count)
        place.mkdir()
        strike_once(place, name, seed.choice([signal.SIGINT, signal.SIGTERM, signal.SIGKILL]), seed, 8.0)


LAST = {"run": r"writing report\.html", "study, two workers": r"drawing tornado_ripple"}
"""What a command says as one of its last words on stderr."""


@pytest.mark.slow
@pytest.mark.parametrize("name", LAST)
def test_a_command_struck_at_its_end(tmp_path, seed, name):
    for count in range(18):
        place = tmp_path / str(count)
        place.mkdir()
        strike_once(place, name, seed.choice([signal.SIGINT, signal.SIGTERM]), seed, 4.0, LAST[name])


FEW = (*LONG["study"][:-1], "8", "--no-pictures")
"""A study of 11 solves: enough that some are left after it was struck twice."""


def samples(place):
    """What a study found, but for the time that it took."""
    with (place / "out" / "samples.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [{key: text for key, text in row.items() if key != "solve_time_s"} for row in rows]


def test_a_study_killed_in_the_middle_is_taken_up_and_leaves_nothing(tmp_path, monkeypatch):
    for name in ("whole", "struck"):
        (tmp_path / name).mkdir()
    (tmp_path / "whole" / "tiny.toml").write_text(TINY, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "whole")
    assert main([*FEW, "--out", "out"]) == 0
    for number, workers in ((signal.SIGKILL, ("--workers", "2")), (signal.SIGINT, ())):
        command = Command(tmp_path / "struck", (*FEW, *workers, "--resume"))
        command.wait_for(r"\d of 11 done: .* s$")
        assert command.strike(number) < 2.0
        wait_until_alone(command)
    assert command.process.returncode == 130
    assert "--resume takes them up" in command.errors
    last = Command(tmp_path / "struck", (*FEW, "--resume"))
    assert last.process.wait(timeout=300) == 0, last.errors
    assert last.leftovers() == [] and "taken up" in last.errors
    assert samples(tmp_path / "struck") == samples(tmp_path / "whole")
