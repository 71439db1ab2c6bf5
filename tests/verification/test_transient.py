"""Heat flow in time against closed forms, series and a published benchmark."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.linalg import expm

from sim.case.constants import ZERO_CELSIUS
from sim.run import prepare
from sim.solver.drive import ConstantHeat, Drivers, RoomNode
from sim.solver.march import LONGER, MarchOptions, Start, march, uniform_state
from sim.solver.signals import Wave, constant, step
from sim.solver.steady import SteadyOptions, solve_steady
from sim.solver.storage import build_storage
from sim.solver.thermostat import FloorSensor, RoomSensor, Thermostat
from tests.verification.lumps import LUMP_LOSS, bar, lump
from tests.verification.small_bays import small_bay

FINE = MarchOptions(tolerance=2e-3, first_step=0.05)


def at(model, x):
    """Watches the temperature at x [m] along a bar [°C], straight between cell centres and the end faces."""
    centres = model.grid.centres(0)

    def watch(moment):
        faces = zip(moment.system.surfaces, moment.flows.surfaces, strict=True)
        ends = {surface.side: heat.temperature[0] for surface, heat in faces}
        inner = moment.state.temperature.reshape(moment.system.shape)[:, 0, 0]
        places, values = list(centres), list(inner)
        for side, place in ((0, 0.0), (1, float(model.grid.edges[0][-1]))):
            if side in ends:
                places.insert(0 if side == 0 else len(places), place)
                values.insert(0 if side == 0 else len(values), ends[side])
        return {"T": np.interp(x, places, values) - ZERO_CELSIUS}

    return watch


def run(model, storage, until, x, drivers=None, options=FINE, start=ZERO_CELSIUS):
    begin = Start(uniform_state(model.system, start))
    return march(model.system, storage, begin, until, drivers, options, watch=at(model, x))


def held(name, on, celsius):
    return {"name": name, "on": on, "temperature": f"{celsius} degC"}


def film(name, on, coefficient, celsius):
    return {"name": name, "on": on, "film": f"{coefficient} W/(m^2*K)", "ambient": f"{celsius} degC"}


def test_nafems_t3():
    # NAFEMS, The Standard NAFEMS Benchmarks, T3: 36.60 °C at x = 0.08 m after 32 s
    model, storage = bar(0.1, 0.0025, [held("cold", "x-", 0), held("wave", "x+", 0)], 35.0, 7200.0 * 440.5)
    drivers = Drivers(ambients={"wave": Wave(ZERO_CELSIUS, 100.0, 80.0)})
    found = run(model, storage, 32.0, 0.08, drivers)
    assert_allclose(found.series("T")[-1], 36.60, rtol=0, atol=0.1)
    assert found.residual < 1e-6


def share_of_a_step(x, time, film=math.inf):
    """Rise at a depth [m] in a half space of a = 1e-6 m²/s and k = 1 W/(m K), over that of its surroundings.

    erfc ξ with the surface held, ξ = x / 2√(at) (Carslaw and Jaeger, §2.5); through a film h less
    exp(hx/k + h²at/k²) erfc(ξ + h√(at)/k) (§2.7).
    """
    root = math.sqrt(1e-6 * time)
    depth = x / (2.0 * root)
    if math.isinf(film):
        return math.erfc(depth)
    return math.erfc(depth) - math.exp(film * x + (film * root) ** 2) * math.erfc(depth + film * root)


@pytest.mark.parametrize(("x", "time"), [(0.05, 3600.0), (0.10, 10800.0), (0.02, 600.0)])
def test_semi_infinite_solid_with_its_surface_held(x, time):
    check_half_space(held("end", "x-", 100), x, time, share_of_a_step(x, time))


@pytest.mark.parametrize("x", [0.0, 0.05])
def test_semi_infinite_solid_behind_a_film(x):
    check_half_space(film("end", "x-", 10.0, 100), x, 3600.0, share_of_a_step(x, 3600.0, 10.0))


def check_half_space(face, x, time, share):
    """Within 0.1 % of the step of 100 K."""
    model, storage = bar(0.7, 0.004, [face])
    found = run(model, storage, time, x)
    assert_allclose(found.series("T")[-1], 100.0 * share, rtol=0, atol=0.1)
    assert found.residual < 1e-6


def test_semi_infinite_solid_under_constant_flux():
    # 100 W/m² for an hour into k = 1, a = 1e-6: q (2 √(at/π) exp(−ξ²) − x erfc ξ) / k, ξ = x / 2√(at) (Carslaw and
    # Jaeger §2.9)
    flux = {"name": "end", "on": "x-", "flux": "100 W/m^2"}
    model, storage = bar(0.7, 0.002, [flux, held("far", "x+", 0)])
    root = math.sqrt(1e-6 * 3600.0)
    for x in (0.0, 0.05):
        depth = x / (2.0 * root)
        rise = 100.0 * (2.0 * root / math.sqrt(math.pi) * math.exp(-(depth**2)) - x * math.erfc(depth))
        assert_allclose(run(model, storage, 3600.0, x).series("T")[-1], rise, rtol=1e-3, atol=0)


PLANE_WALL = [
    # Bi, Fo, centre, surface; full Fourier series, ζ tan ζ = Bi (Incropera and others, ch. 5)
    (1.0, 0.2, 0.950642, 0.643391),
    (1.0, 1.0, 0.533859, 0.348177),
    (0.5, 0.5, 0.864114, 0.686882),
    (10.0, 0.2, 0.829255, 0.122482),
    (10.0, 0.05, 0.998530, 0.232326),
]


@pytest.mark.parametrize(("biot", "fourier", "centre", "surface"), PLANE_WALL)
def test_plane_wall(biot, fourier, centre, surface):
    # half thickness 0.1 m, k = 1, a = 1e-6; from 100 °C into 0 °C, within 0.1 % of the step
    model, storage = bar(0.1, 0.001, [film("end", "x+", biot / 0.1, 0)])
    for x, share in ((0.0, centre), (0.1, surface)):
        found = run(model, storage, fourier * 0.1**2 / 1e-6, x, start=ZERO_CELSIUS + 100.0)
        assert_allclose(found.series("T")[-1], 100.0 * share, rtol=0, atol=0.1)


def test_daily_wave_in_the_ground():
    # Carslaw and Jaeger §2.6: amplitude exp(−x √(π / a P)), lag x/2 √(P / π a) of its period P
    period, x, a = 86400.0, 0.1, 1e-6
    model, storage = bar(1.1, 0.01, [held("end", "x-", 0)])
    drivers = Drivers(ambients={"end": Wave(ZERO_CELSIUS, 10.0, period)})
    found = run(model, storage, 6.0 * period, x, drivers, MarchOptions(tolerance=5e-3, longest_step=1200.0))
    late = found.time > 5.0 * period
    phase = 2.0 * np.pi * found.time[late] / period
    basis = np.stack([np.sin(phase), np.cos(phase), np.ones(late.sum())], axis=1)
    (sine, cosine, _), *_ = np.linalg.lstsq(basis, found.series("T")[late], rcond=None)
    assert_allclose(np.hypot(sine, cosine), 10.0 * math.exp(-x * math.sqrt(math.pi / a / period)), rtol=5e-3, atol=0)
    lag = -math.atan2(cosine, sine) / (2.0 * np.pi) * period
    assert_allclose(lag, x / 2 * math.sqrt(period / math.pi / a), rtol=5e-3, atol=0)


def lump_watch(moment):
    active = moment.system.conduction.active.reshape(-1)
    return {"T": float(moment.state.temperature[active].mean()), "heating": moment.heating, "room": moment.room}


LUMP_TIME = 0.02 * 0.1 * 1e6 / LUMP_LOSS
"""Time constant of the plain lump [s]."""


def test_lump_decays_as_an_exponential():
    # second order, with an error over one time constant of about 0.04 (h/τ)² (the method's error constant, from memory)
    model, storage = lump()
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 60.0))
    exact = ZERO_CELSIUS + 20.0 + 40.0 * math.exp(-1.0)
    errors = []
    for length in (LUMP_TIME / 4, LUMP_TIME / 8, LUMP_TIME / 16):
        options = MarchOptions(fixed_step=length, residual=1e-8, imbalance=1e-9, linear_tolerance=1e-6)
        found = march(model.system, storage, start, LUMP_TIME, None, options, watch=lump_watch)
        errors.append(abs(found.series("T")[-1] - exact))
    assert_allclose([errors[0] / errors[1], errors[1] / errors[2]], 4.0, rtol=0.12, atol=0)
    assert errors[0] < 40.0 * math.exp(-1.0) * 0.05 / 4**2


def test_adapted_steps_keep_the_error_small():
    model, storage = lump()
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 60.0))
    found = march(model.system, storage, start, 3 * LUMP_TIME, None, MarchOptions(tolerance=1e-3), watch=lump_watch)
    exact = ZERO_CELSIUS + 20.0 + 40.0 * np.exp(-found.time / LUMP_TIME)
    assert_allclose(found.series("T"), exact, rtol=0, atol=0.02)
    assert found.rejected <= 3
    assert len(found.steps) < 60


def heated_lump():
    model, storage = lump(tube=True)
    return model, storage, float(storage.total)


def test_constant_heat_warms_a_lump():
    # C dT/dt = P − h A (T − T_room)
    model, storage, capacity = heated_lump()
    heat = Drivers(supply=ConstantHeat(constant(10.0), ZERO_CELSIUS + 90.0))
    start, time = Start(uniform_state(model.system, ZERO_CELSIUS + 20.0)), 1500.0
    found = march(model.system, storage, start, time, heat, MarchOptions(tolerance=1e-3), watch=lump_watch)
    exact = ZERO_CELSIUS + 20.0 + 10.0 / LUMP_LOSS * (1.0 - math.exp(-time * LUMP_LOSS / capacity))
    assert_allclose(found.series("T")[-1], exact, rtol=0, atol=5e-3)
    assert_allclose(found.energy("supplied", "tube")[-1], 10.0 * time, rtol=1e-9, atol=0)


def test_constant_heat_stops_at_the_highest_water():
    model, storage, _ = heated_lump()
    heat = Drivers(supply=ConstantHeat(constant(5000.0), ZERO_CELSIUS + 40.0))
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 20.0))
    found = march(
        model.system, storage, start, 600.0, heat, watch=lambda m: {"supply": m.flows.waters[0].inlet}
    )
    assert_allclose(found.series("supply"), ZERO_CELSIUS + 40.0, rtol=0, atol=1e-9)


def test_thermostat_switches_at_the_closed_form_times():
    # towards T∞ = T_room + P / h A while on, towards T_room while off; between 24.5 and 25.5 °C
    model, storage, capacity = heated_lump()
    thermostat = Thermostat(constant(ZERO_CELSIUS + 25.0), 1.0, FloorSensor((0.05, 0.5)))
    drivers = Drivers(supply=ConstantHeat(constant(10.0), ZERO_CELSIUS + 90.0), thermostats=(thermostat,))
    start, tau = Start(uniform_state(model.system, ZERO_CELSIUS + 20.0)), capacity / LUMP_LOSS
    switched = []

    def listen(moment, step):
        if listen.heating != moment.heating:
            switched.append(step.time - step.length)
        listen.heating = moment.heating

    listen.heating = True
    options = MarchOptions(tolerance=1e-3)
    found = march(model.system, storage, start, 1.2 * tau, drivers, options, listen)
    first = tau * math.log(10.0 / 4.5)
    off, on = tau * math.log(5.5 / 4.5), tau * math.log(5.5 / 4.5)
    assert_allclose(switched, [first, first + off, first + off + on], rtol=0, atol=2e-3 * tau)
    assert found.residual < 1e-6


def test_setback_is_hit_exactly():
    model, storage, _ = heated_lump()
    thermostat = Thermostat(step(ZERO_CELSIUS + 20.0, ZERO_CELSIUS + 48.0, 777.7), 1.0, FloorSensor((0.05, 0.5)))
    drivers = Drivers(thermostats=(thermostat,))
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 22.0))
    found = march(model.system, storage, start, 900.0, drivers, watch=lump_watch)
    heating = found.series("heating")
    assert not heating[0]
    assert 777.7 in found.time
    assert not heating[found.time <= 777.7].any()
    assert heating[found.time > 777.7].all()


def test_room_that_responds():
    # floor C₁ dT₁/dt = P − h A (T₁ − T₂), room C₂ dT₂/dt = h A (T₁ − T₂) + gains − loss (T₂ − T_out),
    # solved by the matrix exponential
    model, storage, capacity = heated_lump()
    room = RoomNode(0.5, 3e4, constant(ZERO_CELSIUS), constant(2.0))
    heat, time = ConstantHeat(constant(10.0), ZERO_CELSIUS + 90.0), 4.0 * 3600.0
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 18.0), room=ZERO_CELSIUS + 18.0)
    options = MarchOptions(tolerance=1e-3)
    found = march(model.system, storage, start, time, Drivers(heat, room=room), options, watch=lump_watch)
    matrix = np.array(
        [
            [-LUMP_LOSS / capacity, LUMP_LOSS / capacity, 10.0 / capacity],
            [LUMP_LOSS / 3e4, -(LUMP_LOSS + 0.5) / 3e4, 2.0 / 3e4],
            [0.0, 0.0, 0.0],
        ]
    )
    exact = expm(matrix * time) @ [18.0, 18.0, 1.0]
    assert_allclose(found.series("T")[-1] - ZERO_CELSIUS, exact[0], rtol=0, atol=5e-3)
    assert_allclose(found.series("room")[-1] - ZERO_CELSIUS, exact[1], rtol=0, atol=5e-3)
    assert found.residual < 1e-6


def small_march(variant, until, options=None, drivers=None, start=None, **changes):
    model = prepare(small_bay(variant, **changes))
    storage = build_storage(model.cells, model.system)
    begin = start or Start(uniform_state(model.system, ZERO_CELSIUS + 20.0))
    return model, march(model.system, storage, begin, until, drivers, options)


def test_second_order_on_a_whole_bay():
    # halving the step quarters the distance to the next finer result
    model = prepare(small_bay("hung"))
    storage, warm, ends = build_storage(model.cells, model.system), solve_steady(model.system), []
    drivers = Drivers(supply=Wave(ZERO_CELSIUS + 45.0, 5.0, 14400.0))
    for length in (800.0, 400.0, 200.0):
        options = MarchOptions(fixed_step=length, residual=1e-8, imbalance=1e-8)
        found = march(warm.system, storage, Start(warm.state), 2400.0, drivers, options)
        ends.append(found.end.state.temperature)
    ratio = np.linalg.norm(ends[0] - ends[1]) / np.linalg.norm(ends[1] - ends[2])
    assert 3.4 < ratio < 4.8


@pytest.mark.parametrize("variant", ["fastened", "hung", "still air"])
def test_the_end_is_the_steady_state(variant):
    model, found = small_march(variant, 40.0 * 86400.0, MarchOptions(tolerance=0.05, longest_step=86400.0 * 5))
    exact = SteadyOptions(residual=1e-9, imbalance=1e-10, linear_tolerance=1e-6)
    steady = solve_steady(model.system, exact)
    active = model.system.conduction.active.reshape(-1)
    lead = model.case.water.supply - model.case.room.temperature
    assert_allclose(
        found.end.state.temperature[active], steady.state.temperature[active], rtol=0, atol=1e-6 * lead
    )
    for path, flow in steady.balance.delivered.items():
        assert_allclose(found.end.flows.balance.delivered[path], flow, rtol=0, atol=1e-6 * steady.balance.heat_in)
    assert found.residual < 1e-6


def test_nothing_happens_at_rest():
    model, storage = lump()
    start = Start(uniform_state(model.system, ZERO_CELSIUS + 20.0))
    found = march(model.system, storage, start, 86400.0, watch=lump_watch)
    assert_allclose(found.series("T"), ZERO_CELSIUS + 20.0, rtol=0, atol=1e-9)


def test_a_drop_has_no_meaning_in_time():
    with pytest.raises(ValueError, match="stated flow"):
        small_march("drop instead of flow", 60.0)


def test_cooling_down_without_water():
    # all that the bay held above the room leaves it
    model = prepare(small_bay("fastened", below={"temperature": "20 degC"}))
    storage = build_storage(model.cells, model.system)
    warm = solve_steady(model.system)
    system = model.system.with_term(model.system.water.with_flow(0.0))
    found = march(system, storage, Start(warm.state), 1.2 * 86400.0, None, MarchOptions(tolerance=0.06))
    held_heat = float(storage.cells @ (warm.state.temperature - ZERO_CELSIUS - 20.0))
    held_heat += float(storage.zones @ (warm.state.air - ZERO_CELSIUS - 20.0))
    left = sum(found.energy("delivered", path)[-1] for path in ("up", "down"))
    assert_allclose(left, held_heat, rtol=5e-3, atol=0)


def test_room_sensor_reads_the_room():
    thermostat = Thermostat(constant(280.0), 1.0, RoomSensor())
    _, found = small_march("fastened", 600.0, None, Drivers(thermostats=(thermostat,)))
    assert not found.end.heating


def cooling(stops=()):
    """Lengths of the steps of a lump that cools freely, by when each began [s]."""
    model, storage = lump()
    options = MarchOptions(tolerance=2e-3, first_step=0.05, stops=stops)
    found = march(model.system, storage, Start(uniform_state(model.system, ZERO_CELSIUS + 60.0)), 4000.0, None, options)
    return dict(zip(found.time[:-1], np.diff(found.time), strict=True))


def test_steps_grow_gently_and_a_stop_does_not_make_them_short():
    free = cooling()
    begun, lengths = np.array(list(free)), np.array(list(free.values()))
    assert lengths[-3] > 20.0 * lengths[0]
    assert (lengths[1:] <= LONGER * lengths[:-1] * (1.0 + 1e-9)).all()
    # between two stops a fiftieth of a step apart lies one short step; the next is as long as it would have been
    at = len(begun) // 2
    first, second = begun[at], begun[at] + 0.02 * lengths[at]
    halted = cooling((first, second))
    assert_allclose(halted[first], second - first, rtol=1e-9, atol=0)
    assert halted[second] >= 0.9 * lengths[at]
