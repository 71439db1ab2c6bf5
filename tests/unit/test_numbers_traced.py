"""Where a number on the screen comes from: what the guide says of it is what the program does."""

import re
from pathlib import Path

import pytest

from sim.case.conditions import FILMS_BELOW
from sim.case.load import parse_case
from sim.case.sizes import BOND_CLASSES, CONTACT_CLASSES
from sim.physics.foot import SOLE
from sim.physics.surroundings import StandardFloor
from sim.results.bay_answer import _noticed
from sim.results.people import QUANTITIES
from sim.solver.balance import TOLERANCE

GUIDE = (Path(__file__).parents[2] / "docs/start.md").read_text("utf-8")
SECTION = GUIDE.partition("## Where a number comes from")[2].partition("\n## ")[0]
ROWS = dict(re.findall(r"^\| ([^|]+?) \| ([^|]+?) \|$", SECTION, re.M))


@pytest.mark.parametrize("label", [
    "return", "share of heat down", "place among learned bays", "its heat past correlations' range",
    "energy not accounted for", "bare sole", "people in shoes who mind",
])  # fmt: skip
def test_what_is_explained_is_what_the_report_calls_it(label):
    assert label in ROWS
    assert any(quantity.label.startswith(label) for quantity in QUANTITIES.values()), label


def test_the_values_are_those_of_the_program():
    assert f"{BOND_CLASSES['snug']:g} m·K/W" in ROWS["`bond` snug"] and "0.02 and 0.15" in ROWS["`bond` snug"]
    assert {BOND_CLASSES["bonded"], BOND_CLASSES["loose"]} == {0.02, 0.15}
    assert f"{CONTACT_CLASSES['tight']:g} m²K/W" in ROWS["`contact` tight"]
    below = [FILMS_BELOW[kind] for kind in ("heated room", "unheated space", "outdoors")]
    assert below == [1 / 0.17, 1 / 0.17, 1 / 0.04]
    water = parse_case('[water]\nsupply = "120 degF"\n[room]\ntemperature = "68 degF"\n', "usual").water
    assert (water.circuit_length, water.drop) == (60.0, 5.5)
    assert f"a sole of {SOLE:g} °C" in ROWS["bare sole"]
    assert StandardFloor(293.15).flux(303.15) == pytest.approx(8.92 * 10.0**1.1)
    assert TOLERANCE == 1e-6


@pytest.mark.parametrize(("ripple", "word"), [(0.4, "very faint"), (1.9, "faint"), (3.9, "plain"), (4.1, "strong")])
def test_words_for_stripes_are_those_of_the_guide(ripple, word):
    assert _noticed(ripple) == word
    assert "below 2 K, below 4 K, above; very faint below 0.5 K" in ROWS["faint, plain, strong stripes"]
