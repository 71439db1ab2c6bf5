"""Two starts of a bay's flow: nothing hangs on how they are marched, stopped and taken up, and one alone agrees."""

from dataclasses import replace

import numba
import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_bays import small_bay

from sim.resolved import checkpoint
from sim.resolved.checkpoint import resolve_with_checkpoint, write_course
from sim.resolved.march import lay_out, lay_out_starts, resolve_air, take_round
from sim.resolved.remote import SolidSide
from sim.run import air_settings, prepare

AIR = {"model": "resolved", "cell": "40 mm", "wall_cell": "20 mm", "companion": False, "longest": "20 s"}
"""Few cells, for a short while."""


def bay(**air):
    model = prepare(small_bay("no plates", ceiling="none", air={**AIR, **air}))
    return model.system, model.cells, air_settings(model.case)


def test_starts_differ_in_their_random_warmth_alone_and_a_device_keeps_one():
    one, other = lay_out_starts(*bay())
    assert not np.array_equal(one.stepper.state.temperature, other.stepper.state.temperature)
    assert np.array_equal(one.wall, other.wall) and np.array_equal(one.film, other.film)
    side = SolidSide(*bay())
    assert np.array_equal(side.course.stepper.state.temperature, lay_out(*bay()).stepper.state.temperature)


@pytest.fixture
def threads():
    """Have so many threads for a while."""
    before = numba.get_num_threads()
    yield numba.set_num_threads
    numba.set_num_threads(before)


@pytest.mark.skipif(numba.config.NUMBA_NUM_THREADS < 2, reason="one processor")
def test_the_answer_does_not_hang_on_the_number_of_threads(threads):
    """Bit for bit, whether two threads march two starts or one marches both."""
    found = []
    for count in (1, 2):
        threads(count)
        found.append(resolve_air(*bay()))
    (solution, air), (other, same) = found
    assert np.array_equal(solution.state.temperature, other.state.temperature)
    assert np.array_equal(air.mean.temperature, same.mean.temperature) and air.evidence == same.evidence
    assert [[r.flows for r in start] for start in air.starts] == [[r.flows for r in start] for start in same.starts]


def test_a_run_that_was_killed_between_its_files_ends_as_one_that_was_not(tmp_path):
    """One start stands at its sixth round, the other at its fourth; the files go with the results."""
    given, path = bay(), tmp_path / "air.npz"
    whole, air = resolve_air(*given)
    courses = lay_out_starts(*given)
    for course, count, file in zip(courses, (6, 4), checkpoint._files_of_starts(path, 2), strict=True):
        for _ in range(count):
            take_round(course)
        write_course(file, course)
    heard = []
    solution, again = resolve_with_checkpoint(*given, path, listener=lambda record, *_: heard.append(record.number))
    assert heard[0] == 6, "rounds in which one start only comes up with the other are not told"
    assert np.array_equal(solution.state.temperature, whole.state.temperature)
    assert again.evidence == air.evidence and again.coarser is None
    checkpoint.remove_checkpoints(path)
    assert list(tmp_path.iterdir()) == []


def test_one_start_and_two_agree_within_their_errors():
    """The same bay by one start and by two: heat upwards, twice the errors of both."""
    system, cells, settings = bay(longest="300 s")
    found = []
    for count in (1, 2):
        own = replace(settings, starts=count, error=1e-4)
        solution, air = resolve_air(system, cells, own)
        flow = solution.balance.delivered["up"]
        found.append((flow, air.evidence.error["up"] * flow))
    (one, error), (two, smaller) = found
    assert abs(one - two) <= 2.0 * np.hypot(error, smaller)
    assert_allclose(two, one, rtol=0.01)
