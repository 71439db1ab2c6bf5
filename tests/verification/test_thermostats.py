"""Thermostats, floor limits and the weather's shutdown on lumps, against closed forms."""

import math
from functools import partial

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.linalg import expm
from scipy.optimize import brentq

from sim.case.constants import ZERO_CELSIUS
from sim.solver.drive import ConstantHeat, Drivers, RoomNode
from sim.solver.march import MarchOptions, Start, march, uniform_state
from sim.solver.signals import Profile, below, constant, ramp, step
from sim.solver.thermostat import FloorSensor, RoomSensor, Thermostat
from tests.verification.lumps import LUMP_LOSS, lump

POWER = 10.0
FLOOR = FloorSensor((0.05, 0.5))
OPTIONS = MarchOptions(tolerance=2e-4, first_step=0.2)
SOURCE = ConstantHeat(constant(POWER), ZERO_CELSIUS + 90.0)


def limit(celsius, band):
    """A floor limit: off at the limit, on again a band below it."""
    return Thermostat(constant(ZERO_CELSIUS + celsius - band / 2), band, FLOOR)


def keep(signal, band):
    return Thermostat(signal, band, RoomSensor())


def watch(moment):
    active = moment.system.conduction.active.reshape(-1)
    return {
        "T": float(moment.state.temperature[active].mean()) - ZERO_CELSIUS,
        "heating": moment.heating,
        "on": moment.on,
        "room": moment.room,
    }


def follow(drivers, until, start, options=OPTIONS):
    model, storage = lump(tube=True)
    begin = Start(uniform_state(model.system, ZERO_CELSIUS + start[0]), room=start[1])
    found = march(model.system, storage, begin, until, drivers, options, watch=watch)
    assert found.residual < 1e-6
    return found, storage.total


def switches(found):
    """Times at which any thermostat changed its mind."""
    on = found.series("on")[1:]
    return found.time[1:-1][(on[1:] != on[:-1]).any(axis=1)]


def test_a_floor_limit_beside_a_thermostat_in_the_room():
    # the room (20 °C) wants heat up to 23 °C until the sun warms it to 24 °C at 1.5 τ and again from 1.7 τ on, when it
    # is back at 20 °C; the floor's limit is 26 °C with a band of 2 K. Each piece decays towards room + P / h A or room
    capacity = lump(tube=True)[1].total
    tau = capacity / LUMP_LOSS
    sun, shade = 1.5 * tau, 1.7 * tau
    room = Profile((sun, sun, shade, shade), tuple(ZERO_CELSIUS + t for t in (20.0, 24.0, 24.0, 20.0)))
    thermostats = (keep(constant(ZERO_CELSIUS + 22.5), 1.0), limit(26.0, 2.0))
    found, _ = follow(Drivers(SOURCE, thermostats, room=room), 2.4 * tau, (20.0, None))
    # towards 30 from 20: 26 is reached after τ ln(10/4); towards 20: 24 after τ ln(6/4); towards 30: τ ln(6/4)
    stop = tau * math.log(10.0 / 4.0)
    times = [stop, stop + tau * math.log(1.5), sun]
    # it is warming when the sun comes; then towards 24 without heat, and at 1.7 τ the limit's thermostat still wants
    at_sun = 30.0 - 6.0 * math.exp(-(sun - times[1]) / tau)
    at_shade = 24.0 + (at_sun - 24.0) * math.exp(-(shade - sun) / tau)
    again = shade + tau * math.log((30.0 - at_shade) / 4.0)
    times += [shade, again, again + tau * math.log(1.5)]
    assert 24.0 < at_sun < 26.0
    assert_allclose(switches(found), times, rtol=0, atol=1e-3 * tau)
    assert found.series("T").max() <= 26.0 + 1e-5
    warming = found.series("heating")[1:].astype(bool)
    assert not warming[(found.time[1:] > sun) & (found.time[1:] <= shade)].any()
    assert warming[found.time[1:] <= times[0] * (1 - 1e-3)].all()


def exact_switches(matrices, limits, start, until, grain=2.0):
    """Switches of thermostats in the room and on the floor: each piece by the matrix exponential, looked at every
    `grain` [s], its end then by bisection."""
    now, state, on, found = 0.0, np.array([*start, 1.0]), [True, True], []
    fine = [expm(matrix * grain) for matrix in matrices]

    def past(which, temperatures):
        low, high = limits[which]
        return temperatures[1 - which] - high if on[which] else low - temperatures[1 - which]

    while now < until:
        later = fine[all(on)] @ state
        reached = [which for which in (0, 1) if past(which, later) > 0.0]
        length = grain
        if reached:
            at = partial(lambda matrix, state, time: expm(matrix * time) @ state, matrices[all(on)], state)
            ends = [brentq(lambda time, at=at, which=which: past(which, at(time)), 0.0, grain) for which in reached]
            length, which = min(zip(ends, reached, strict=True))
            later = at(length)
            on[which] = not on[which]
            found.append((now + length, which))
        now, state = now + length, later
    return found


@pytest.mark.parametrize(("hours", "least"), [(3.0, 4), pytest.param(5.0, 6, marks=pytest.mark.slow)])
def test_both_with_a_room_that_responds(hours, least):
    # floor C₁ dT₁/dt = P − h A (T₁ − T₂), room C₂ dT₂/dt = h A (T₁ − T₂) − loss (T₂ − 5 °C)
    capacity, room, loss, outdoor = lump(tube=True)[1].total, 6e3, 0.25, 5.0
    thermostats = (keep(constant(ZERO_CELSIUS + 19.0), 0.6), limit(27.0, 1.5))
    node = RoomNode(loss, room, constant(ZERO_CELSIUS + outdoor), constant(0.0))
    drivers = Drivers(SOURCE, thermostats, room=node)
    found, _ = follow(drivers, hours * 3600.0, (18.0, ZERO_CELSIUS + 16.0))
    h = LUMP_LOSS
    rest = [[h / room, -(h + loss) / room, loss * outdoor / room], [0.0, 0.0, 0.0]]
    matrices = [np.array([[-h / capacity, h / capacity, p / capacity], *rest]) for p in (0.0, POWER)]
    exact = exact_switches(matrices, [(18.7, 19.3), (25.5, 27.0)], (18.0, 16.0), hours * 3600.0)
    times, which = zip(*exact, strict=True)
    assert {0, 1} == set(which)
    assert len(times) >= least
    # the lump's own gradients, half a millikelvin, shift each switch by a second or so at these slow rises
    assert_allclose(switches(found), times, rtol=0, atol=3e-3 * capacity / h)


def test_no_heat_while_it_is_warm_outdoors():
    # outdoors 10 °C rising to 20 °C and back; heat until 15 °C is reached, and again below it, to the second
    outdoor = Profile((0.0, 1000.0, 3000.0), tuple(ZERO_CELSIUS + t for t in (10.0, 20.0, 0.0)))
    allowed = below(outdoor, ZERO_CELSIUS + 15.0, 4000.0)
    found, capacity = follow(Drivers(SOURCE, allowed=allowed), 2000.0, (20.0, None))
    tau, heating = capacity / LUMP_LOSS, found.series("heating")[1:].astype(bool)
    assert {500.0, 1500.0} <= set(found.time)
    assert not heating[(found.time[1:] > 500.0) & (found.time[1:] <= 1500.0)].any()
    assert heating[(found.time[1:] <= 500.0) | (found.time[1:] > 1500.0)].all()
    assert_allclose(found.energy("supplied", "tube")[-1], POWER * 1000.0, rtol=1e-9, atol=0)
    top = 10.0 * (1.0 - math.exp(-500.0 / tau))
    end = 10.0 + (top * math.exp(-1000.0 / tau) - 10.0) * math.exp(-500.0 / tau)
    assert_allclose(found.series("T")[-1], 20.0 + end, rtol=0, atol=2e-3)


def test_a_jump_in_the_weather_shuts_down_at_once():
    allowed = below(step(ZERO_CELSIUS + 5.0, ZERO_CELSIUS + 18.0, 321.0), ZERO_CELSIUS + 18.0, 1000.0)
    assert allowed.times == (0.0, 321.0, 321.0)
    assert (allowed.value(321.0, arriving=True), allowed.value(321.0)) == (1.0, 0.0)
    found, _ = follow(Drivers(SOURCE, allowed=allowed), 600.0, (20.0, None))
    assert 321.0 in found.time
    assert_allclose(found.energy("supplied", "tube")[-1], POWER * 321.0, rtol=1e-9, atol=0)


def test_below_looks_at_every_crossing():
    wave = Profile((0.0, 10.0, 20.0, 30.0), (0.0, 10.0, -10.0, 5.0))
    # at 5 from 5 to 12.5 s; the last point touches 5 and stays there
    assert below(wave, 5.0, 40.0).times == (0.0, 5.0, 5.0, 12.5, 12.5, 30.0, 30.0)
    assert below(ramp(0.0, 1.0, 0.0, 5.0), 3.0, 9.0).values == (1.0,)
