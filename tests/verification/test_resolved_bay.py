"""Whole bays with computed air: they balance, their ends are cold walls, and per area they give what a pitch gives."""

from functools import cache

import numpy as np
import pytest
import tomli_w
from numpy.testing import assert_allclose
from small_bays import BASE, HUNG, merged

from sim.airflow import cuts
from sim.airflow.domain import SIDES
from sim.case.load import parse_case
from sim.resolved.domain import check_obstacles
from sim.run import prepare, solve

BAY = {
    **HUNG, "span": "bay", "bay": {"length": "0.9 m", "far_end": "rim"}, "water": {"flow": "6 l/min"},
    "rim": {"outdoor_temperature": "20 degC", "insulation": {"material": "XPS", "thickness": "50 mm"}},
}  # fmt: skip
AIR = {"model": "resolved", "cell": "80 mm", "wall_cell": "25 mm", "companion": False}
SHORT = merged(BAY, {"bay": {"length": "0.5 m"}, "mesh": {"across": "60 mm", "along": "200 mm", "through": "60 mm"}})
"""Where only two ends and a middle are asked for."""


def case_of(*changes):
    whole = BASE
    for change in changes:
        whole = merged(whole, change)
    return parse_case(tomli_w.dumps(whole))


@cache
def solved(span, model):
    pitch = {key: BAY[key] for key in ("plates", "water")}
    changes = {"bay": BAY, "short bay": SHORT, "pitch": pitch}[span]
    return solve(case_of(changes, {"air": AIR if model == "resolved" else {"model": "films"}}))


def test_a_whole_bay_balances():
    """What the water gives leaves upwards, downwards and at the rims; the air takes up at most the stated 1 %."""
    report = solved("short bay", "resolved").report
    out = sum(report[f"heat_flow_{path}_W"] for path in ("up", "down", "edge"))
    assert_allclose(out, report["heat_flow_supplied_W"], rtol=0.0101, atol=0.0)
    assert abs(report["air_imbalance_percent"]) <= 1.01


def bay_over_pitch(model):
    bay, pitch = (solved(span, model).report["heat_flux_up_W_m2"] for span in ("bay", "pitch"))
    return bay / pitch


def test_the_ends_cost_a_bay_part_of_its_heat():
    """Of 900 mm the insulation of both rims, 50 mm each, leaves 800 to the tube, eight ninths of what a pitch has, and
    two plates at 300 mm where a pitch has one each 300 mm, two thirds: the heat lies between."""
    assert 2.0 / 3.0 < bay_over_pitch("films") < 8.0 / 9.0


@pytest.mark.slow
def test_a_bay_and_its_pitch_differ_as_they_do_with_films():
    """What the ends cost differs by the errors of four means: 1 % of each computed flow and 1 % that its air takes up,
    2 % for a ratio of two, and the computed flow's own share in the ends, less than 1 %."""
    assert_allclose(bay_over_pitch("resolved"), bay_over_pitch("films"), rtol=0.03, atol=0.0)


def test_both_rims_take_heat_from_the_air():
    """All the air's section but the tube's block, 5/8 in · π/4 on a side, ends at wood that is colder than the air."""
    air = solved("short bay", "resolved").air
    (x, _, z), block = ([e[-1] - e[0] for e in air.domain.edges], 0.015875 * np.pi / 4.0)
    for side in ("y-", "y+"):
        end = air.walls.select(side)
        assert_allclose(air.walls.area[end].sum(), x * z - block**2, rtol=1e-6, atol=0.0)
        # the solids' own outline of the tube covers a little more than the block
        assert_allclose(air.contact.on_air[end].sum(), air.walls.area[end].sum(), rtol=0.005, atol=0.0)
        assert air.heat[end].sum() < 0.0


@pytest.mark.parametrize(("far_end", "symmetry"), [("open", ("y+",)), ("rim", ()), ("blocked", ())])
def test_the_air_ends_as_the_bay_does(far_end, symmetry):
    domain = prepare(case_of(BAY, {"bay": {"far_end": far_end}, "air": AIR})).air_domain()
    assert tuple(side for side, slips in zip(SIDES, domain.slip, strict=True) if slips) == symmetry


def test_more_closed_faces_than_memory_can_carry_are_refused(monkeypatch):
    domain = prepare(case_of(BAY, {"air": AIR})).air_domain()
    monkeypatch.setattr("sim.resolved.domain.MOST_FACES", cuts.closed_faces(domain) - 1)
    with pytest.raises(ValueError, match="faces of the air's grid, more than .* larger air.cell"):
        check_obstacles(domain)
