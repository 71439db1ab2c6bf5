"""The cavity's air, which cables' limit holds, is that round the tube, not that beneath raised insulation."""

from functools import cache

import numpy as np

from sim.case.load import parse_case
from sim.results.bay_report import cavity_air
from sim.results.film_range import beyond_range
from sim.run import solve
from tests.tiny_bays import TINY

RAISED = TINY.replace("[cavity.insulation]", '[cavity]\nair_gap = "40 mm"\n[cavity.insulation]')
"""60 mm of air remain beneath the batt."""


@cache
def raised():
    return solve(parse_case(RAISED))


def test_air_beneath_raised_insulation_does_not_cool_what_cables_meet():
    result = raised()
    upper, lower = sorted(result.solution.state.air, reverse=True)
    assert upper - lower > 5.0, "two zones, one on each side of the batt"
    np.testing.assert_allclose(cavity_air(result.cells, result.solution), upper, rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(result.report["cavity_air_C"], upper - 273.15, rtol=0.0, atol=1e-9)


def test_heat_beyond_the_correlations_range_is_a_share_of_all_the_airs_heat(monkeypatch):
    monkeypatch.setattr("sim.results.film_range.beyond_measured", lambda rise, *_: np.ones(len(rise), bool))
    solution = raised().solution
    walls, convective = solution.system.cavity.walls, np.abs(solution.flows.walls.convective)
    plain = ~walls.learned.taught & (walls.zone >= 0) & (walls.diameter == 0.0)
    share = 100.0 * convective[plain].sum() / convective.sum()
    assert share < 50.0, "the learned films carry most of it"
    np.testing.assert_allclose(beyond_range(solution)["air_beyond_range_percent"], share, rtol=1e-12, atol=0.0)
