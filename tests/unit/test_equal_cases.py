"""Cases that say the same are equal: read back from a run folder, written with their defaults, under another name."""

from pathlib import Path

import pytest

import joistbay
from sim.case.writing import case_text

CASES = Path(__file__).parents[2] / "cases"
BAY = '[mesh]\nfineness = "coarse"\n[water]\nsupply = "45 degC"\n[room]\ntemperature = "20 degC"\n'


def test_a_kept_run_holds_the_case_that_was_solved(tmp_path):
    case = joistbay.parse_case(BAY, "den")
    folder = joistbay.save(joistbay.solve(case), tmp_path / "kept")
    assert joistbay.read_run(folder).case == case


@pytest.mark.parametrize("name", ["demo/family-oak-rug", "air/plate-and-tube", "in-time/night-setback"])
def test_written_out_with_its_defaults_a_case_stays_equal(name):
    case = joistbay.load_case(CASES / f"{name}.toml")
    again = joistbay.parse_case(case_text(case), "another name")
    assert again == case and hash(again) == hash(case)
    assert len({again, case}) == 1


def test_another_value_is_another_case():
    case = joistbay.parse_case(BAY, "den")
    assert case.with_({"water.supply": "46 degC"}) != case
    assert case.with_({"tube.size": "1/2"}) == case, "what is the default anyway"
    assert case != case.water and case != "den"
