"""Bays of a house on an accelerator: which supplies their searches ask for, and which jobs go together."""

from types import SimpleNamespace

import pytest
from tiny_bays import PLAIN

from sim.case.load import parse_case
from sim.house import bays_together
from sim.house.bay_jobs import BayAnswer, solve_mean
from sim.house.bay_solver import BaySolver
from sim.house.bays_together import mean, points
from sim.jobs.job import Job

ZERO = 273.15


@pytest.fixture(scope="module")
def bay():
    """A bay in a room of 20 °C."""
    return parse_case(PLAIN)


class Report(dict):
    def as_dict(self):
        return dict(self)


def solved(water):
    return SimpleNamespace(report=Report(water_mean_C=water))


def supplies(cases):
    """Above the room [K]."""
    return [pytest.approx(case.water.supply - ZERO - 20.0) for case in cases]


def finish(search, results):
    with pytest.raises(StopIteration) as ended:
        search.send(results)
    return ended.value.value


def test_points_are_asked_for_all_at_once(bay):
    search = points(bay, (10.0, 25.0))
    assert supplies(next(search)) == [10.0, 25.0]
    found = finish(search, [solved(29.0), solved(43.5)])
    assert [report["water_mean_C"] for report in found.reports] == [29.0, 43.5] and found.solves == 2


def test_a_mean_is_asked_for_again_with_what_the_water_fell(bay):
    """15 K above the room is 35 °C; 33 °C in the mean at first, so 2 K more."""
    search = mean(bay, (15.0, 0.0))
    assert supplies(next(search)) == [15.0]
    assert supplies(search.send([solved(33.0)])) == [17.0]
    found = finish(search, [solved(35.0)])
    assert found.reports[0]["water_mean_C"] == 35.0 and found.solves == 2
    search = mean(bay, (15.0, 0.0))
    next(search)
    assert finish(search, [solved(35.0)]).solves == 1


def test_a_fall_that_is_foreseen_saves_the_second_solve(bay):
    search = mean(bay, (15.0, 2.0))
    assert supplies(next(search)) == [17.0]
    assert finish(search, [solved(35.0)]).solves == 1


def test_only_jobs_of_bays_on_the_accelerator_go_together(tmp_path, monkeypatch):
    monkeypatch.setattr("sim.study.on_device.goes_together", lambda case: case == "device")
    answer = BayAnswer(({"water_mean_C": 35.0},), 3)
    monkeypatch.setattr(bays_together, "answers_together", lambda jobs: [answer for _ in jobs])
    jobs = [Job(kind, solve_mean, (kind, (15.0, 0.0)), kind) for kind in ("device", "processor")]
    solver = BaySolver(tmp_path)
    assert [job.name for job in solver._together(jobs, "bays")] == ["processor"]
    assert solver.used == (jobs[0].key,) and solver.made == 3
