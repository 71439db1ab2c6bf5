"""Bays of a house on an accelerator: which supplies their searches ask for, and which jobs go together."""

import errno
from types import SimpleNamespace

import pytest
from tiny_bays import PLAIN

from sim.case.load import parse_case
from sim.house import bays_together
from sim.house.bay_jobs import BayAnswer, leave_answer, read_answer, solve_mean
from sim.house.bay_solver import BaySolver
from sim.house.bays_together import mean, points
from sim.jobs.job import Job
from sim.jobs.jobs import run_jobs
from sim.machine.remarks import Remark
from sim.machine.unfinished import drop_temporary
from sim.store.errors import StoreError
from sim.store.whole_folder import write_folder

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
    jobs = [Job(kind, alone, (kind, (15.0, 0.0)), kind) for kind in ("device", "processor")]
    solver = BaySolver(tmp_path)
    assert [found.note for found in solver._answers(jobs, "bays")] == ["", "alone"]
    assert solver.used == tuple(job.key for job in jobs) and solver.made == 3 + 1


def alone(case, wanted, folder):
    """Work that this process does."""
    leave_answer(BayAnswer((), 1, "alone"), folder)


def asked_of(monkeypatch, *answers):
    """Jobs that go together, their answers, and how often somebody asked for these."""
    jobs = [Job(name, solve_mean, (name, (15.0, 0.0)), name) for name in "abc"[: len(answers)]]
    asked = []
    monkeypatch.setattr(bays_together, "answers_together", lambda which: asked.append(len(which)) or list(answers))
    return jobs, asked


def test_what_a_full_disk_does_not_take_is_kept_elsewhere_and_not_solved_again(tmp_path, monkeypatch):
    jobs, asked = asked_of(monkeypatch, *(BayAnswer((), n) for n in (1, 2)))

    def refuse(folder, fill, owned):
        if folder.is_relative_to(tmp_path):
            raise StoreError(f"{folder}: cannot be written") from OSError(errno.ENOSPC, "no room")
        return write_folder(folder, fill, owned=owned)

    monkeypatch.setattr(bays_together, "write_folder", refuse)
    with pytest.warns(Remark, match="takes no more"):
        found = run_jobs(jobs, tmp_path, perform=bays_together.together())
    assert [read_answer(outcome.folder).solves for outcome in found] == [1, 2] and asked == [2]
    drop_temporary(found[0].folder.parent)


def test_a_bay_that_fails_among_others_is_named_and_the_others_stand(tmp_path, monkeypatch):
    jobs, _ = asked_of(monkeypatch, ValueError("no water"), BayAnswer((), 2))
    failed, kept = run_jobs(jobs, tmp_path, perform=bays_together.together())
    assert (failed.folder, failed.failure) == (None, "no water") and read_answer(kept.folder).solves == 2
