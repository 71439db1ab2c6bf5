"""The front door: what is refused, how values print, what stops a march, restarts on other grids."""

import doctest

import numpy as np
import pytest
from airflow_cases import graded

import sim.airflow.correlated
import sim.airflow.sheet_loss
from sim.airflow.box import build_box, march
from sim.airflow.domain import Obstacle, Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow, air_at, air_of_numbers, transfer_flow
from sim.airflow.step import build_stepper
from sim.airflow.watch import FlowError, check_state

PLANES = np.linspace(0.0, 1.0, 11)
WHOLE = ((0.0, 1.0), (0.0, 1.0), (0.0, 1.0))


def side_heated(rayleigh=1e4, **more):
    return build_box((PLANES, [0.0, 1.0], PLANES), air_of_numbers(rayleigh, 0.71), {"x-": 1.0, "x+": 0.0}, **more)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: build_domain([PLANES, PLANES]), "edges has 2 axes"),
        (lambda: build_domain([PLANES[::-1], PLANES, PLANES]), "edges along x must be"),
        (lambda: build_domain([[0.0, 1.0], PLANES, PLANES]), "x and z need at least two cells"),
        (lambda: build_domain([PLANES] * 3, slip=["top"]), r"slip names \['top'\]"),
        (lambda: build_domain([PLANES] * 3, [Obstacle("b", ((0, 0.15), *WHOLE[1:]))]), "'b': x = 0.15 m is not a grid"),
        (lambda: build_domain([PLANES] * 3, [Obstacle("b", ((0.5, 0.5), *WHOLE[1:]))]), "holds no cell"),
        (lambda: Sheet("s", 3, 0.5, WHOLE), "axis is 3"),
        (lambda: Sheet("s", 0, 0.5, WHOLE, open_area=1.0), "open_area is 1.0"),
        (lambda: air_of_numbers(-1.0, 0.71), "rayleigh is -1.0"),
        (lambda: side_heated(scheme="upwind"), None),
        (lambda: build_box([PLANES] * 3, air_of_numbers(1.0, 1.0), {"lid": 1.0}), "no wall 'lid'"),
    ],
)
def test_what_makes_no_sense_is_refused(make, message):
    if message is None:
        with pytest.raises(ValueError, match="scheme is 'upwind'"):
            march(make(), until=1.0)
        return
    with pytest.raises(ValueError, match=message):
        make()


def test_a_value_that_is_no_number_is_named():
    """Field, place and step; a bad start is caught before the first step."""
    box = side_heated()
    start = box.start()
    start.temperature[3, 0, 7] = np.nan
    with pytest.raises(FlowError, match=r"temperature is nan at \(0.35, 0.5, 0.75\) m in step 0"):
        march(box, start, until=1.0, step=1e-4)
    state = build_stepper(box.domain, box.air, box.wall_temperature, box.start()).state
    state.z[3, 0, 7] = np.inf
    with pytest.raises(FlowError, match=r"z velocity is inf at \(0.35, 0.5, 0.7\) m in step 12, time 3 s"):
        check_state(state, box.domain, 12, 3.0)


def test_a_step_too_long_is_never_a_silent_answer():
    with np.errstate(all="ignore"), pytest.raises(FlowError, match="in step"):
        march(side_heated(1e6), until=10.0, step=0.05)


def test_stop_reasons():
    box = side_heated()
    assert march(box, until=1.0, most_steps=7).stop_reason == "steps"
    short = march(box, until=0.01)
    assert short.stop_reason == "time"
    np.testing.assert_allclose(short.time, 0.01, rtol=1e-12, atol=0.0)
    assert march(box, until=5.0, steady=1e-2).stop_reason == "steady"


def test_listener_hears_the_clock():
    heard = []
    march(side_heated(), until=0.2, listener=lambda look, stepper: heard.append((look, stepper.steps)))
    times = [look.time for look, _ in heard]
    assert times == sorted(times) and len(times) > 1
    assert all(look.steps == steps and look.step > 0.0 and look.speed > 0.0 for look, steps in heard)


def test_listener_may_change_wall_temperatures():
    """What solids coupled to the air will do: the heat flow follows the new temperature at once."""
    box = side_heated()

    def warm(look, stepper):
        stepper.set_wall_temperature(np.where(stepper.walls.select("x-"), 2.0, stepper.wall_temperature))

    warmer = march(box, until=0.3, listener=warm)
    assert warmer.temperature.max() > 1.2
    stepper = build_stepper(box.domain, box.air, box.wall_temperature, box.start())
    with pytest.raises(ValueError, match="between adiabatic"):
        stepper.set_wall_temperature(np.full(stepper.walls.count, 1.0))


def test_wall_temperatures_face_by_face():
    """Conduction between walls with a linear temperature along them keeps the linear field: T = x."""
    box = build_box([PLANES] * 3, air_of_numbers(0.0, 0.71), {})
    temperature = box.walls.centres(box.domain)[:, 0]
    given = {name: temperature[box.walls.select(name)] for name in ("x-", "x+", "y-", "y+", "z-", "z+")}
    box = build_box([PLANES] * 3, air_of_numbers(0.0, 0.71), given)
    flow = march(box, box.start(0.3), until=2.0)
    np.testing.assert_allclose(flow.temperature, np.broadcast_to(PLANES[:-1, None, None] + 0.05, (10,) * 3), atol=1e-6)


def test_walls_are_all_there():
    """A block inside has six faces, a sheet two; areas by hand."""
    block = Obstacle("b", ((0.2, 0.5), (0.3, 0.5), (0.6, 0.7)))
    sheet = Sheet("s", 2, 0.4, ((0.1, 0.4), (0.0, 1.0), (0.0, 0.0)), open_area=0.25)
    box = build_box([PLANES] * 3, air_of_numbers(1.0, 1.0), {}, blocks=[block], sheets=[sheet], slip=["y-"])
    areas = {name: box.walls.area[box.walls.select(name)].sum() for name in box.walls.names}
    expected = {"x-": 1.0, "x+": 1.0, "y-": 0.0, "y+": 1.0, "z-": 1.0, "z+": 1.0}
    expected |= {"b": 2.0 * (0.3 * 0.2 + 0.3 * 0.1 + 0.2 * 0.1), "s": 2.0 * 0.3 * 0.75}
    for name, area in expected.items():
        np.testing.assert_allclose(areas[name], area, rtol=1e-12, atol=1e-15)


def test_real_air_at_a_temperature():
    """Air at 300 K: ν 15.9e-6 m²/s, α 22.5e-6 m²/s, k 26.3 mW/(m K) (Incropera, table A.4, from memory)."""
    air = air_at(300.0)
    np.testing.assert_allclose(
        [air.viscosity, air.diffusivity, air.conductivity, air.buoyancy],
        [15.9e-6, 22.5e-6, 26.3e-3, 9.80665 / 300.0],
        rtol=0.02, atol=0.0,
    )  # fmt: skip
    np.testing.assert_allclose(air.heat_capacity, 1.16e3, rtol=0.03, atol=0.0)


def test_real_properties_and_numbers_are_one_flow():
    """The same Rayleigh and Prandtl number in metres, seconds and kelvin gives the same Nusselt number."""
    real = AirProperties(viscosity=1.6e-5, diffusivity=2.2e-5, buoyancy=9.81 / 300.0, conductivity=0.026)
    length, difference = 0.03, 5.0
    numbers = air_of_numbers(real.rayleigh(length, difference), real.prandtl)
    boxes = [
        build_box((size * PLANES, [0.0, 1.0], size * PLANES), air, {"x-": 290.0 + span, "x+": 290.0})
        for air, size, span in ((real, length, difference), (numbers, 1.0, 1.0))
    ]
    flows = [march(box, until=0.2 * unit) for box, unit in zip(boxes, (length**2 / 2.2e-5, 1.0), strict=True)]
    nusselt = boxes[0].heat_flow(flows[0], "x-") / (0.026 * difference)
    np.testing.assert_allclose(nusselt, boxes[1].heat_flow(flows[1], "x-"), rtol=1e-9, atol=0.0)


def test_transfer_keeps_linear_fields():
    coarse = build_domain([graded(6), graded(7), graded(8)])
    fine = build_domain([graded(11), graded(9), graded(13)])
    x, y, z = np.meshgrid(*coarse.centres, indexing="ij")
    velocity = tuple(np.ones(o.shape) * (a + 1.0) for a, o in enumerate(coarse.openness))
    moved = transfer_flow(Flow(velocity, 1.0 + 2.0 * x - y + 3.0 * z), coarse, fine)
    inside = [(c > coarse.centres[a][0]) & (c < coarse.centres[a][-1]) for a, c in enumerate(fine.centres)]
    x, y, z = np.meshgrid(*fine.centres, indexing="ij")
    where = np.ix_(*inside)
    np.testing.assert_allclose(moved.temperature[where], (1.0 + 2.0 * x - y + 3.0 * z)[where], rtol=1e-12, atol=0.0)
    for axis, field in enumerate(moved.velocity):
        np.testing.assert_allclose(field, axis + 1.0, rtol=1e-12, atol=0.0)


def test_values_print_as_trees():
    box = side_heated()
    text = str(box)
    assert "air domain 1 × 1 × 1 m" in text and "Prandtl 0.71" in text and "x- 1 K" in text and "z+ adiabatic" in text
    assert "stopped      steps" in str(march(box, until=1.0, most_steps=1))


@pytest.mark.parametrize("module", [sim.airflow.sheet_loss, sim.airflow.correlated])
def test_worked_numbers(module):
    found = doctest.testmod(module)
    assert found.attempted > 0 and found.failed == 0


def test_new_wall_temperatures_are_those_of_a_new_stepper(rng):
    """Updated in place or built afresh, the compiled lists are the same."""
    block = Obstacle("b", ((0.2, 0.5), (0.3, 0.5), (0.6, 0.7)))
    box = build_box([PLANES] * 3, air_of_numbers(1e4, 0.71), {"b": 1.0, "x-": 0.0, "z-": 0.3}, blocks=[block])
    warm = ~np.isnan(box.wall_temperature)
    given = np.where(warm, rng.random(box.walls.count), np.nan)
    updated = build_stepper(box.domain, box.air, box.wall_temperature, box.start())
    updated.set_wall_temperature(given)
    afresh = build_stepper(box.domain, box.air, given, box.start())
    for one, other in zip(updated.heat_lists, afresh.heat_lists, strict=True):
        np.testing.assert_array_equal(one, other)
