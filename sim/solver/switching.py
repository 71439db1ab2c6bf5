"""The moments at which thermostats change their minds: found by repeating a step with just the right length."""

from __future__ import annotations

import math
from dataclasses import replace

from sim.solver.drive import Now
from sim.solver.stages import GAMMA, MarchProblem, Moment, TriedStep, try_step
from sim.solver.state import State
from sim.solver.thermostat import reading

TRIES = 60
"""Step lengths tried for one switch at most."""


class MarchError(Exception):
    """No step, however short, could be solved; the message says when."""


def after_jump(problem: MarchProblem, state: State, now: Now) -> Moment:
    """The moment just after a jump; every thermostat is asked whether it still wants what it wanted."""
    moment = problem.moment(state, now)
    on = changed(moment, excesses(problem, moment), 0.0)
    return moment if on == moment.on else problem.moment(state, replace(now, on=on))


def changed(moment: Moment, excess: tuple[float, ...], tolerance: float) -> tuple[bool, ...]:
    """What thermostats want after those that have reached their limit, to a tolerance [K], changed their minds."""
    return tuple(on != (past >= -tolerance) for on, past in zip(moment.on, excess, strict=True))


def excesses(problem: MarchProblem, moment: Moment, arriving: bool = False) -> tuple[float, ...]:
    """How far each thermostat's sensor is past its limit [K]; below 0 until it is reached."""
    drivers = problem.drivers
    return tuple(
        thermostat.excess(on, _sensed(problem, moment, number), moment.time, arriving)
        for number, (thermostat, on) in enumerate(zip(drivers.thermostats, moment.on, strict=True))
    )


def _sensed(problem: MarchProblem, moment: Moment, number: int) -> float:
    sensor = problem.drivers.thermostats[number].sensor
    return reading(sensor, moment.system, moment.flows, problem.drivers.room_path)


def up_to_switch(problem: MarchProblem, before: Moment | None, trial: TriedStep) -> TriedStep:
    """The step itself, or the shorter one at whose end the first sensor just reaches its limit.

    Raises
    ------
    MarchError
        A shorter step could not be solved.
    """
    if not problem.drivers.thermostats:
        return trial
    start, options = trial.moments[0], problem.options
    lengths = (0.0, GAMMA * trial.length, trial.length)
    known = [(length, _worst(problem, moment)) for length, moment in zip(lengths, trial.moments, strict=True)]
    if max(excess for _, excess in known[1:]) <= 0.0:
        return trial
    for number in range(TRIES):
        length = next_length(known, number)
        trial = try_step(problem, start, length, before, trial.linear)
        if not trial.solved:
            raise MarchError(f"the thermostat's switch after {start.time:.6g} s could not be found")
        known.append((length, _worst(problem, trial.moments[-1])))
        if abs(known[-1][1]) <= options.switch_tolerance:
            break
    return trial


def _worst(problem: MarchProblem, moment: Moment) -> float:
    return max(excesses(problem, moment, arriving=True))


def next_length(known: list[tuple[float, float]], number: int) -> float:
    """Length of step [s] at which the excess crosses 0 for the first time, from known lengths [s] and excesses [K].

    Inverse quadratic interpolation through the three lengths nearest to the crossing; the middle of the bracket when
    that leaves it, and every third time, so that both ends close in.
    """
    known = sorted(known)
    above = next(place for place, (length, excess) in enumerate(known) if excess > 0.0 and length > 0.0)
    (low, under), (high, over) = known[above - 1], known[above]
    if number % 3 == 2 or not under < 0.0:
        return 0.5 * (low + high)
    near = sorted(known, key=lambda entry: abs(entry[1]))[:3]
    found = _inverse(near) if len({excess for _, excess in near}) == len(near) else low
    return found if low < found < high else low + (high - low) * under / (under - over)


def _inverse(points: list[tuple[float, float]]) -> float:
    """Where the lengths, as a polynomial of the excess through all points, are at an excess of 0 (Lagrange)."""
    total = 0.0
    for length, excess in points:
        others = [other for _, other in points if other != excess]
        total += length * math.prod(other / (other - excess) for other in others)
    return total
