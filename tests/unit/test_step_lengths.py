"""How long the steps of a march are: by their error, up to events, and never many times longer than the last."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.solver import march, stages
from sim.solver.drive import Now, RoomNode
from sim.solver.march import LONGER, SHORTER, MarchError, MarchOptions, _growth, _length
from sim.solver.stages import _error, extrapolated
from sim.solver.state import State

ADAPTED, FIXED = MarchOptions(tolerance=0.02), MarchOptions(fixed_step=60.0)


@pytest.mark.parametrize(
    ("wanted", "length"), [(60.0, 60.0), (69.0, 69.0), (80.0, 50.0), (99.0, 50.0), (100.0, 100.0), (400.0, 100.0)]
)
def test_a_step_ends_at_the_event_100_s_ahead_or_leaves_no_sliver_before_it(wanted, length):
    """What would leave less than three tenths is halved."""
    assert _length(ADAPTED, wanted, 100.0) == length


def test_a_step_is_no_longer_than_allowed_and_a_fixed_one_is_not_halved():
    assert _length(MarchOptions(longest_step=30.0), 60.0, 100.0) == 30.0
    assert _length(FIXED, 80.0, 100.0) == 80.0


@pytest.mark.parametrize(
    ("times", "growth"), [(1 / 8, 1.7), (1 / 27, 2.55), (1.0, 1.0), (0.9, 1.0), (8.0, 0.425), (1e6, 0.2)]
)
def test_the_error_goes_with_the_cube_of_the_step(times, growth):
    """An error of an eighth allows twice the step, of which 85 % are taken; eight times the error, half of it."""
    assert _growth(ADAPTED, SimpleNamespace(solved=True, error=times * 0.02)) == pytest.approx(growth)


def test_what_was_not_solved_is_tried_much_shorter_and_fixed_steps_stay():
    assert _growth(ADAPTED, SimpleNamespace(solved=False, error=0.0)) == SHORTER
    assert _growth(FIXED, SimpleNamespace(solved=True, error=1e9)) == 1.0


def advanced(monkeypatch, *errors, length=10.0, **options):
    """The lengths tried where steps have these errors over the allowed one, and the length for the next step."""
    given, tried = iter(errors), []

    def try_step(problem, here, length, *_):
        tried.append(length)
        return SimpleNamespace(solved=True, error=next(given) * 0.02, length=length)

    monkeypatch.setattr(march, "try_step", try_step)
    monkeypatch.setattr(march, "earliest", lambda signals, time, goal: goal)
    monkeypatch.setattr(march, "up_to_switch", lambda problem, before, trial: trial)
    monkeypatch.setattr(march, "_accept", lambda *_: None)
    problem = SimpleNamespace(
        options=MarchOptions(tolerance=0.02, **options), drivers=SimpleNamespace(signals=lambda: ())
    )
    progress = SimpleNamespace(here=SimpleNamespace(time=0.0), length=length, before=None, linear=None, rejected=0)
    march._advance(problem, progress, 1e4)
    return tried, progress


@pytest.mark.parametrize(("error", "following"), [(1 / 27, 25.5), (1e-12, 10.0 * LONGER), (0.5, 10.0)])
def test_the_next_step_grows_with_the_error_that_was_left_but_not_many_times(monkeypatch, error, following):
    """A growth below a half is not worth it."""
    tried, progress = advanced(monkeypatch, error)
    assert tried == [10.0]
    assert progress.length == pytest.approx(following)


def test_a_refused_step_is_tried_again_as_long_as_its_error_allows(monkeypatch):
    tried, progress = advanced(monkeypatch, 1.0001**3, 8.0, 1.0)
    assert tried == pytest.approx([10.0, 8.5 / 1.0001, 8.5 / 1.0001 * 0.425], rel=1e-6)
    assert progress.rejected == 2


def test_steps_that_become_too_short_end_the_march(monkeypatch):
    with pytest.raises(MarchError, match="no step could be solved at 0 s"):
        advanced(monkeypatch, *[1e9] * 9, shortest_step=0.01)


def room_error(flows, length, loss=0.0):
    """Error of a step [K] that a room node of 100 J/K sees; the cells are at rest."""
    moments = tuple(SimpleNamespace(flows=SimpleNamespace(cells=np.zeros(1)), room_flow=flow) for flow in flows)
    drivers = SimpleNamespace(room=RoomNode(loss, 100.0, None, None))
    problem = SimpleNamespace(storage=SimpleNamespace(cells=np.ones(1)), drivers=drivers)
    return _error(problem, moments, length, None)


def test_a_rooms_error_is_none_where_heat_is_steady_and_grows_with_the_step():
    """What the rules of second and third order take in alike is no error; the rest is heat, for as long as the step."""
    assert room_error((7.0, 7.0, 7.0), 10.0) == pytest.approx(0.0, abs=1e-12)
    once = room_error((7.0, 9.0, 4.0), 10.0)
    assert room_error((7.0, 9.0, 4.0), 20.0) == pytest.approx(2.0 * once) and once > 0.0
    assert room_error((-7.0, -9.0, -4.0), 10.0) == pytest.approx(once)
    assert room_error((7.0, 9.0, 4.0), 10.0, loss=5.0) < once


def test_a_first_guess_goes_on_along_the_line_through_two_moments():
    """From 1 to 3 in the first cell, 5 to 4 in the second, half as far again: 4 and 3.5."""
    def at(first, second, room):
        state = State(*(np.array([first, second]) for _ in range(4)))
        return SimpleNamespace(state=state, room=room)

    state, room = extrapolated(at(1.0, 5.0, 290.0), at(3.0, 4.0, 292.0), 0.5)
    for field in (state.temperature, state.air, state.irradiation):
        assert field.tolist() == [4.0, 3.5]
    assert room == 293.0
    assert extrapolated(at(1.0, 5.0, None), at(3.0, 4.0, None), 0.5)[1] is None


@pytest.mark.parametrize(
    ("left", "net", "room", "solved"), [(0, 0, 0, True), (1, 0, 0, False), (0, 1, 0, False), (0, 0, 1, False)]
)
def test_a_stage_is_solved_when_cells_their_sum_and_the_room_leave_nothing(monkeypatch, left, net, room, solved):
    monkeypatch.setattr(stages, "_left_over", lambda *_: (SimpleNamespace(left=left, net=net), room))
    monkeypatch.setattr(stages, "_scale", lambda *_: 1.0)
    problem = SimpleNamespace(options=MarchOptions(passes=0), moment=lambda state, now: None)
    found = stages.settle(problem, SimpleNamespace(now=Now(0.0, False, 290.0, ()), lag=1.0), (None, 290.0), None)
    assert found.converged is solved
