"""A house of eight rooms in feet and inches: lengths of its hardest circuits by hand."""

from pathlib import Path

import numpy as np
import pytest

from sim.case.house_load import load_house
from sim.cli.main import main
from sim.house.layout_only import count_house
from sim.house.solve_house import check_house

FILE = "tests/houses/eight-rooms.toml"
FOOT, BAY = 0.3048, 0.4064
RUN = 14 * FOOT - 0.12
"""A run of 14 ft, 60 mm short at both ends; runs of a bay lie 111.125 and 295.275 mm from its side."""


@pytest.fixture(scope="module")
def lengths():
    house = load_house(FILE)
    return {
        circuit.name: circuit.length
        for room in count_house(house, check_house(house)[0])
        for circuit in room.placed.split.circuits
    }


# The manifold of the ground hangs at (14 ft, 15 ft), 30 in above the joists; all in metres.
DOWN = 30 * 0.0254


def test_kitchen_past_the_duct(lengths):
    # bays 1 to 5, ten runs through the duct; entered at y = 14 ft, 1 ft from the manifold's line
    ends = 2 * (DOWN + FOOT + 0.06) + (14 * FOOT - 0.111125) + (14 * FOOT - 4 * BAY - 0.295275)
    wanted = 10 * RUN + 5 * 0.18415 + 4 * 0.22225 + ends
    np.testing.assert_allclose(lengths["K.1"], wanted, rtol=0.0, atol=1e-9)


def test_kitchen_up_to_the_flue(lengths):
    # bays 6 to 12; of bay 9 only the 6 ft before the flue
    ends = 2 * (DOWN + FOOT + 0.06) + (14 * FOOT - 5 * BAY - 0.111125) + abs(14 * FOOT - 11 * BAY - 0.295275)
    wanted = 12 * RUN + 2 * (6 * FOOT - 0.12) + 7 * 0.18415 + 6 * 0.22225 + ends
    np.testing.assert_allclose(lengths["K.2"], wanted, rtol=0.0, atol=1e-9)


def test_living_room_across(lengths):
    # seven strips of 20 ft, a foot apart; there along x = 16 ft, home from x = 36 ft
    there = DOWN + 2 * FOOT + 0.06 + (15.0 - 0.5) * FOOT
    home = 0.06 + (15.0 - 6.5) * FOOT + 22 * FOOT + DOWN
    wanted = 7 * (20 * FOOT - 0.12) + 6 * FOOT + there + home
    np.testing.assert_allclose(lengths["L.1"], wanted, rtol=0.0, atol=1e-9)


def test_dining_room_of_nine_single_runs(lengths):
    # runs in the middle of nine bays of 12 ft from x = 16 ft, y = 16 ft; home from y = 28 ft
    there = DOWN + FOOT + 2 * FOOT + BAY / 2 + 0.06
    home = 0.06 + 2 * FOOT + 8.5 * BAY + 13 * FOOT + DOWN
    wanted = 9 * (12 * FOOT - 0.12) + 8 * BAY + there + home
    np.testing.assert_allclose(lengths["D.1"], wanted, rtol=0.0, atol=1e-9)


@pytest.mark.parametrize("command", [["check", FILE], ["house", FILE, "--layout-only", "--units", "ip"]])
def test_commands_that_solve_nothing(command, capsys):
    assert main(command) == 0
    told = capsys.readouterr()
    assert "L.2" in told.out and "W.1" in told.out
    assert not told.err


def test_what_is_wrong_with_a_variant_says_which(tmp_path, capsys):
    """One run in a bay cannot come back from beyond the flue; as written, with two, the house is sound."""
    file = tmp_path / "h.toml"
    variant = '\n[[variant]]\nname = "single"\nchange = { "tube.runs" = 1 }\n'
    file.write_text(Path(FILE).read_text(encoding="utf-8") + variant, encoding="utf-8")
    assert main(["check", str(file)]) == 2
    said = capsys.readouterr().err
    assert 'with variant single: room "K".blocked' in said and "odd number of runs" in said
