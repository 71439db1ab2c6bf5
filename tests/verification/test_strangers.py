"""Bays and houses of strangers: whatever is plausible ends in numbers that make sense, or in one clear line.

`tests/strangers.py` draws them; a few here, many in the slow tier, in two parts: `-k bays` and `-k houses`, the latter
also one by one (`-k "houses and [7]"`).
"""

import json
import re
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import strangers

from sim.case.load import parse_case
from sim.cli.main import main
from sim.run import solve

ROUGH = {"fineness": "coarse", "along": "40 mm", "across": "25 mm", "through": "20 mm", "layer_cells": 1}
ODD = re.compile(r"(?<![\w.])(-?nan|-?inf|NaN|Infinity|-0(\.0+)?)(?![\w.])")
"""What no number in an answer reads."""

COLD = """
plates = "none"
[bay]
length = "0.5 m"
joist_depth = "184 mm"
[tube]
depth = "15 mm"
[water]
supply = "35 degC"
[room]
temperature = "18 degC"
[below]
kind = "outdoors"
temperature = "-25 degC"
[mesh]
fineness = "coarse"
along = "80 mm"
"""


def solved(file, folder, capsys):
    """The report of a bay that a stranger runs, after its looks were checked."""
    code = main(["run", str(file), "--no-pictures", "--json", "--out", str(folder)])
    told, said = capsys.readouterr()
    assert code == 0, said
    assert not ODD.search(told)
    stored = json.loads((folder / "report.json").read_text("utf-8"))
    report = json.loads(told)["report"]
    assert report == stored
    return report


def sensible(report, case):
    """Whether a bay's numbers hang together, whatever its build."""
    paths = sum(report[f"heat_flow_{path}_W"] for path in ("up", "down", "edge"))
    assert paths == pytest.approx(report["heat_flow_supplied_W"], rel=1e-5)
    assert report["surface_trough_C"] <= report["surface_mean_C"] <= report["surface_peak_C"]
    assert report["surface_peak_C"] < report["water_supply_C"]
    assert all(value >= -1e-6 for key, value in report.items() if key.startswith("resistance_") and "gap" not in key)
    if case["below"]["kind"] in ("heated room", "adiabatic") and case["span"] == "pitch":
        assert 0.0 < report["heat_flux_up_W_m2"] < 400.0
        assert -1e-6 <= report["share_down_percent"] < 100.0


def check_bay(seed, folder, capsys):
    case = strangers.bay(seed) | {"mesh": ROUGH}
    file = strangers.write(case, folder / f"s{seed}.toml")
    code, said = main(["check", str(file)]), capsys.readouterr().err
    if code:  # what does not fit is refused, by its key and with a way out
        assert code == 2 and said.endswith("Nothing was run.\n") and "   got " in said, said
        return
    sensible(solved(file, folder / "run", capsys), case)


@pytest.mark.parametrize("seed", [117, 121])
def test_the_bay_of_a_stranger(seed, tmp_path, capsys):
    check_bay(seed, tmp_path, capsys)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1100))
def test_bays_of_strangers(seed, tmp_path, capsys):
    check_bay(seed, tmp_path, capsys)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_houses_of_strangers(seed, tmp_path, capsys):
    file = strangers.write(strangers.house(seed), tmp_path / "house.toml")
    code = main(["house", str(file), "--fineness", "coarse", "--out", str(tmp_path / "out")])
    told, said = capsys.readouterr()
    assert code == 0, said
    assert not ODD.search(told)
    for path in (tmp_path / "out").rglob("*"):
        if path.suffix in (".csv", ".json", ".html"):
            assert not ODD.search(re.sub(r"<[^>]*>", " ", path.read_text("utf-8"))), path.name


def test_a_floor_that_takes_heat_from_its_room_has_no_chain_to_it():
    # 35 °C water over -25 °C outdoors, nothing between: the room itself warms the floor
    report = solve(parse_case(COLD)).report
    assert report["heat_flux_up_W_m2"] < 0.0
    assert report["surface_mean_C"] < 18.0
    assert not [key for key in report.values if key.startswith("resistance_")]
    assert report["ripple_ratio"] != report["ripple_ratio"], "a ripple's share of a warmth that is none"
