"""How the length of a step is found at whose end a thermostat's sensor reaches its limit."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.solver import switching
from sim.solver.march import MarchOptions
from sim.solver.stages import GAMMA
from sim.solver.switching import next_length
from sim.solver.thermostat import FloorSensor, RoomSensor, reading


@pytest.mark.parametrize(
    ("excess", "root"),
    [
        (lambda t: t - 30.0, 30.0),
        # a lump on its way: 6 (1 − e^(−t/80)) − 2
        (lambda t: 6.0 * (1.0 - math.exp(-t / 80.0)) - 2.0, 80.0 * math.log(1.5)),
        # rises late and steeply
        (lambda t: (t / 60.0) ** 6 - 0.5, 60.0 * 0.5 ** (1.0 / 6.0)),
        # passes its limit twice within the step: the first time counts
        (lambda t: 1.0 - ((t - 55.0) / 30.0) ** 2, 25.0),
    ],
)
def test_the_first_crossing_is_found(excess, root):
    known = [(length, excess(length)) for length in (0.0, GAMMA * 100.0, 100.0)]
    for number in range(30):
        length = next_length(known, number)
        known.append((length, excess(length)))
        if abs(known[-1][1]) < 1e-9:
            break
    assert_allclose(known[-1][0], root, rtol=1e-6, atol=0)
    assert number < 12


def test_a_smooth_rise_takes_few_tries():
    # the quadratic through start, stage and end is nearly the curve itself
    def excess(length):
        return 2.0 * (1.0 - math.exp(-length / 900.0)) - 0.05

    known = [(length, excess(length)) for length in (0.0, GAMMA * 100.0, 100.0)]
    for number in range(2):
        length = next_length(known, number)
        known.append((length, excess(length)))
    assert abs(known[-1][1]) < 1e-6


def test_a_start_at_the_limit_halves():
    assert next_length([(0.0, 0.0), (58.0, 0.4), (100.0, 0.8)], 0) == 29.0


@pytest.fixture
def stepped(monkeypatch):
    """A step of 100 s with one thermostat whose excess is a function of time; how the step ends."""

    def step_with(excess):
        def trial_of(length):
            moments = tuple(SimpleNamespace(time=part * length) for part in (0.0, GAMMA, 1.0))
            return SimpleNamespace(moments=moments, length=length, solved=True, linear=None)

        problem = SimpleNamespace(drivers=SimpleNamespace(thermostats=(None,)), options=MarchOptions())
        monkeypatch.setattr(switching, "excesses", lambda _, moment, arriving: (excess(moment.time),))
        monkeypatch.setattr(switching, "try_step", lambda problem, start, length, before, linear: trial_of(length))
        return switching.up_to_switch(problem, None, trial_of(100.0)).length

    return step_with


@pytest.mark.parametrize(
    ("excess", "length"),
    [
        (lambda t: t - 30.0, 30.0),
        (lambda t: t - 100.5, 100.0),
        # past its limit at the stage of the step, and back at its end: the first time counts
        (lambda t: 1.0 - ((t - 55.0) / 30.0) ** 2, 25.0),
    ],
)
def test_a_step_ends_where_the_limit_is_first_reached(stepped, excess, length):
    assert_allclose(stepped(excess), length, rtol=1e-5, atol=0)


def surface(path, ambient=None, side=5, centre=((0.1, 0.1), (0.9, 0.5))):
    """A surface of two faces, at these places in the plan [m]."""
    return SimpleNamespace(path=path, ambient=ambient, side=side, centre=np.array([[*place, 0.0] for place in centre]))


def test_a_room_sensor_reads_what_the_floor_looks_at():
    system = SimpleNamespace(surfaces=[surface("down", 278.15), surface("up", 293.15)])
    assert reading(RoomSensor(), system, None, "up") == 293.15
    for path, ambient in (("up", None), ("down", 293.15)):
        with pytest.raises(ValueError, match="finds no room"):
            reading(RoomSensor(), SimpleNamespace(surfaces=[surface(path, ambient)]), None, "up")


def test_a_floor_sensor_reads_the_nearest_face_that_looks_up():
    surfaces = [surface("up"), surface("up", side=4, centre=((0.8, 0.5), (0.7, 0.5)))]
    heats = [SimpleNamespace(temperature=np.array(found)) for found in ([300.0, 305.0], [311.0, 312.0])]
    system, flows = SimpleNamespace(surfaces=surfaces), SimpleNamespace(surfaces=heats)
    assert reading(FloorSensor((0.8, 0.5), "up"), system, flows, "up") == 305.0
    assert reading(FloorSensor((0.0, 0.0), "up"), system, flows, "up") == 300.0
    assert reading(FloorSensor((0.45, 0.6), "up"), system, flows, "up") == 305.0, "0.61 and 0.46 m away"
    with pytest.raises(ValueError, match="finds no floor"):
        reading(FloorSensor((0.0, 0.0), "down"), system, flows, "up")
