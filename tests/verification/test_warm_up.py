"""Whole bays in time, driven by their case: energy, steady start, every kind of control; demo bays beside the trade."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.case.constants import ZERO_CELSIUS
from sim.case.load import load_case
from sim.problems.warm_up import usual_options, warm_up
from sim.results.in_time import passing_time, series_rows, time_above
from sim.results.snapshots import fields_at, snapshot_times
from tests.verification.small_bays import merged, small_bay

SHORT = {"duration": "1 h"}
TINY = {"across": "60 mm", "along": "200 mm", "through": "60 mm"}


@pytest.fixture(autouse=True)
def few_steps(monkeypatch):
    """As many as the tolerance asks for: curves need not be smooth here."""
    monkeypatch.setattr("sim.problems.warm_up.STEPS_AT_LEAST", 8)


def tiny_bay(variant="fastened", **changes):
    """A small bay on hardly any cells, in few steps: what is checked here holds on every mesh and for every step."""
    return small_bay(variant, mesh=TINY, **merged({"time": {"tolerance": "0.06 K"}}, changes))


def closes(found):
    """In − out − stored over the whole run, as a share of what came in."""
    last = found.series.isel(time=-1)
    out = sum(float(last[f"energy_{path}"]) for path in ("up", "down", "edge"))
    given = float(last["energy_in"])
    assert found.report["audit_residual"] <= 1e-6
    assert abs(given - out - float(last["energy_stored"])) <= 1e-6 * max(given, abs(out), 1.0)


def celsius(found, name):
    return found.series[name].values - ZERO_CELSIUS


def test_series_are_smooth(monkeypatch):
    monkeypatch.undo()
    assert usual_options(tiny_bay(time={"duration": "2 h"})).longest_step == 200.0
    assert usual_options(tiny_bay(time={"duration": "90 h"})).longest_step == 3600.0


def test_a_step_of_the_water():
    found = warm_up(tiny_bay(time={"duration": "8 h"}))
    closes(found)
    report = found.report
    assert 0.0 < report["flux_63_h"] < report["flux_90_h"] < 6.0
    assert 0.0 < report["surface_63_h"] < report["surface_90_h"]
    assert report["flux_end_percent"] > 99.0
    assert report["flux_overshoot_percent"] < 0.1
    assert report["water_highest_C"] == pytest.approx(45.0)
    # what the bay took up is what warms it from the room's temperature to its own
    assert report["energy_stored_Wh_m2"] > 0.0
    rows = series_rows(found.series)
    assert rows[-1]["time_h"] == pytest.approx(8.0)
    assert rows[-1]["energy_in_Wh_m2"] == pytest.approx(report["energy_in_Wh_m2"])


@pytest.mark.slow
def test_numbers_hardly_depend_on_the_step_tolerance():
    rough, fine = (warm_up(tiny_bay(time={"duration": "3 h", "tolerance": t})).report for t in ("0.02 K", "0.004 K"))
    for key in ("flux_63_h", "flux_90_h", "surface_63_h"):
        assert_allclose(rough[key], fine[key], rtol=3e-3, atol=0)


@pytest.mark.parametrize("variant", ["hung", "drop instead of flow"])
def test_a_steady_bay_stays_as_it_is(variant):
    found = warm_up(tiny_bay(variant, time={"duration": "3 h", "start": "steady"}))
    closes(found)
    for name in ("surface_mean", "surface_peak", "wood_peak", "water_return"):
        assert np.ptp(found.series[name].values) < 2e-3
    assert np.isnan(found.report["flux_63_h"])


def test_a_steady_start_belongs_to_its_weather():
    """Reset water of a mild day: nothing moves, although the case itself is that of the coldest hour."""
    control = {"water": "reset", "design_outdoor": "-10 degC"}
    case = tiny_bay("outdoors", time=SHORT | {"start": "steady"}, control=control, weather={"temperature": "5 degC"})
    found = warm_up(case)
    closes(found)
    assert celsius(found, "water_supply")[0] < 35.0
    for name in ("surface_mean", "wood_peak", "water_return"):
        assert np.ptp(found.series[name].values) < 2e-3


def test_a_cold_start():
    found = warm_up(tiny_bay(time=SHORT | {"start_temperature": "5 degC"}))
    closes(found)
    assert 5.0 < celsius(found, "surface_mean")[0] < 9.0
    assert float(found.series["heat_up"][0]) < 0.0


def test_ramp_with_a_limited_rise():
    found = warm_up(tiny_bay(time={"duration": "12 h"}, control={"water": "ramp", "rise_limit": "5 K/day"}))
    closes(found)
    risen = 5.0 * found.series["time"].values / 86400.0
    assert_allclose(celsius(found, "water_supply"), 20.0 + risen, rtol=1e-9, atol=0)


def test_constant_heat():
    found = warm_up(tiny_bay(time={"duration": "20 min"}, control={"water": "heat", "heat": "50 W/m^2"}))
    closes(found)
    assert_allclose(found.series["heat_in"].values, 50.0, rtol=1e-6, atol=0)
    assert found.report["water_highest_C"] < 45.0


def test_room_thermostat_with_setback_and_a_room_that_responds():
    control = {
        "thermostat": "room",
        "dead_band": "0.5 K",
        "schedule": [{"at": "0:00", "temperature": "20 degC"}, {"at": "1:00", "temperature": "14 degC"}],
    }
    node = {"loss": "2 W/(m^2*K)", "capacity": "20 kJ/(m^2*K)"}
    case = tiny_bay(
        time={"duration": "2 h", "start_temperature": "19 degC"},
        control=control,
        weather={"temperature": "-5 degC"},
        room={"node": node},
    )
    found = warm_up(case)
    closes(found)
    flow, hours = found.series["water_flow"].values, found.series["time"].values / 3600.0
    assert 1.0 in hours
    assert flow[1] > 0.0
    assert not flow[hours > 1.0].any()
    assert celsius(found, "room")[-1] < 19.0
    assert found.report["switches"] >= 1


def at_switches(found):
    """What the floor sensor reads at the moments at which the water starts or stops [°C]."""
    heating = found.history.series("heating")[1:].astype(int)
    return celsius(found, "floor_sensor")[1:-1][np.diff(heating) != 0]


def test_floor_thermostat_on_a_stripe_and_between():
    """On the stripe the sensor is warmer, so the water runs for a shorter time."""
    control = {"thermostat": "floor", "setpoint": "23 degC", "dead_band": "1 K"}
    on, between = (
        warm_up(tiny_bay(time={"duration": "1.5 h"}, control=control | {"sensor": [x, "0.15 m"]}))
        for x in ("0.15 m", "0.01 m")
    )
    closes(on)
    assert_allclose(at_switches(on)[0], 23.5, rtol=0, atol=1e-5)
    assert on.report["energy_in_Wh_m2"] < between.report["energy_in_Wh_m2"]
    assert on.report["switches"] >= 1


def test_a_sensor_named_by_its_stripe():
    """The words mean what the floor map shows: the stripe is the warm place, between is the cool one."""
    control = {"thermostat": "floor", "setpoint": "40 degC"}
    readings = {}
    for word in ("stripe", "between"):
        found = warm_up(tiny_bay(time={"duration": "20 min"}, control=control | {"sensor": word}))
        readings[word] = celsius(found, "floor_sensor")[-1]
        floor = found.series["floor_temperature"].values[-1] - ZERO_CELSIUS
        share = (readings[word] - floor.min()) / np.ptp(floor)
        assert share > 0.95 if word == "stripe" else share < 0.05
    assert readings["stripe"] > readings["between"] + 0.5


def test_a_floor_limit_overrules_the_room():
    control = {"thermostat": "room", "setpoint": "22 degC", "sensor": "stripe"}
    limited, free = (
        warm_up(tiny_bay(time={"duration": "1.5 h"}, control=control | more))
        for more in ({"floor_limit": "24 degC"}, {"floor_limit": "50 degC"})
    )
    closes(limited)
    assert celsius(free, "floor_sensor").max() > 25.0
    # off at the limit, on again 1 K below; meanwhile the heat in the plates warms the floor a little further
    assert_allclose(at_switches(limited), [24.0, 23.0][: len(at_switches(limited))], rtol=0, atol=1e-5)
    assert celsius(limited, "floor_sensor").max() < 25.0
    assert free.report["floor_limit_h"] == 0.0
    assert_allclose(free.report["water_on_h"], 1.5, rtol=1e-9, atol=0)
    assert limited.report["switches"] >= 1
    assert_allclose(limited.report["water_on_h"] + limited.report["floor_limit_h"], 1.5, rtol=1e-9, atol=0)


def test_no_water_in_warm_weather(tmp_path):
    (tmp_path / "mild.csv").write_text("0,14\n1,18\n", encoding="utf-8")
    control = {"water": "reset", "design_outdoor": "-10 degC", "shutdown_outdoor": "16 degC"}
    case = tiny_bay(time=SHORT, control=control, weather={"file": "mild.csv"})
    found = warm_up(case.model_copy(update={"path": str(tmp_path / "bay.toml")}))
    closes(found)
    hours, heat = found.series["time"].values / 3600.0, found.series["heat_in"].values
    assert 0.5 in hours
    assert_allclose(found.report["water_on_h"], 0.5, rtol=1e-12, atol=0)
    assert (heat[hours <= 0.5] > 0.0).all()
    assert not heat[hours > 0.5].any()


def test_snapshots_are_hit_and_give_back_fields():
    found = warm_up(tiny_bay(time={"duration": "30 min", "snapshots": ["0 h", "10 min", "30 min"]}))
    assert snapshot_times(found.series) == [0.0, 600.0, 1800.0]
    assert 600.0 in found.series["time"].values
    first, last = fields_at(found.series, 0.0), fields_at(found.series, 1800.0)
    solid = np.isfinite(last["temperature"].values)
    assert_allclose(first["temperature"].values[solid], ZERO_CELSIUS + 20.0, rtol=0, atol=1e-9)
    state = found.history.end.state.temperature.reshape(solid.shape)
    assert_allclose(last["temperature"].values[solid], state[solid], rtol=0, atol=1e-9)
    steady = found.steady.fields
    assert set(steady.variables) == set(last.variables)
    assert all(steady[name].dims == last[name].dims for name in steady.variables)
    assert not snapshot_times(warm_up(tiny_bay(time={"duration": "1 min"})).series)


def test_water_follows_the_weather(tmp_path):
    (tmp_path / "cold.csv").write_text("-10\n5\n", encoding="utf-8")
    control = {"water": "reset", "design_outdoor": "-10 degC"}
    case = tiny_bay("outdoors", time=SHORT, control=control, weather={"file": "cold.csv"})
    found = warm_up(case.model_copy(update={"path": str(tmp_path / "bay.toml")}))
    closes(found)
    supply = celsius(found, "water_supply")
    assert_allclose(supply[0], 45.0, rtol=1e-9, atol=0)
    # half the difference to outdoors: 20 + 25 · 0.5^(1/1.1)
    assert_allclose(supply[-1], 20.0 + 25.0 * 0.5 ** (1 / 1.1), rtol=1e-9, atol=0)


def test_passing_time_of_what_never_gets_there():
    times = np.array([0.0, 1.0, 2.0])
    assert np.isnan(passing_time(times, times, 3.0))
    assert passing_time(times, times + 5.0, 3.0) == 0.0


def test_time_above_counts_crossings():
    assert_allclose(time_above(np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0, 2.0]), 1.0), 2.5, rtol=1e-12, atol=0)


IN_TIME = sorted(path.stem for path in Path("cases/in-time").glob("*.toml"))


@pytest.mark.parametrize("name", IN_TIME)
def test_shipped_cases_close_at_every_step(name):
    mesh = {"mesh.across": "60 mm", "mesh.along": "200 mm", "mesh.through": "60 mm", "mesh.fineness": "coarse"}
    case = load_case(f"cases/in-time/{name}.toml").with_(**mesh, **{"time.duration": 1800.0, "time.snapshots": ()})
    closes(warm_up(case))


@pytest.mark.slow
@pytest.mark.parametrize("name", IN_TIME)
def test_shipped_cases_over_their_whole_time(name):
    found = warm_up(load_case(f"cases/in-time/{name}.toml").with_text("mesh.fineness", "coarse"))
    closes(found)
    if name == "night-setback":
        hours, room = found.series["time"].values / 3600.0, celsius(found, "room")
        night, morning = room[(hours > 14.0) & (hours < 17.0)], room[hours > 20.0]
        assert night.min() < 18.5
        assert morning.min() > 19.0


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["family-oak", "bedroom-carpet"])
def test_demo_bays_beside_the_trade(demo):
    # calculated for floors with the room held, step of the water: 63 % in 0.9 to 1.9 h, 90 % in 1.7 to 3.7 h
    case = load_case(f"cases/demo/{demo}.toml").with_text("mesh.fineness", "coarse")
    found = warm_up(case)
    closes(found)
    assert 0.9 <= found.report["flux_63_h"] <= 1.9
    assert 1.7 <= found.report["flux_90_h"] <= 3.7


@pytest.mark.slow
@pytest.mark.parametrize(
    ("demo", "layers"),
    [
        # Σ C R (1 − R / R_whole), a chain of lumps by hand: C [kJ/(m² K)], R [m² K/W] from the layer's middle to the
        # room, with R_whole 0.60 (kitchen), 0.36 (bath); vinyl, plywood; tile, backer, plywood
        ("kitchen-vinyl", [(6.26, 0.104, 0.60), (12.45, 0.198, 0.60)]),
        ("bathroom-tile", [(17.39, 0.096, 0.36), (6.21, 0.112, 0.36), (12.45, 0.203, 0.36)]),
    ],
)
def test_thin_floors_beside_the_delay_of_their_layers(demo, layers):
    """They are faster than the trade's band; no faster than their own layers allow, and not much slower."""
    found = warm_up(load_case(f"cases/demo/{demo}.toml").with_text("mesh.fineness", "coarse"))
    closes(found)
    delay = sum(stored * above * (1.0 - above / whole) for stored, above, whole in layers) / 3.6
    assert delay < found.report["flux_63_h"] < 1.5 * delay


@pytest.mark.parametrize("control", [{}, {"thermostat": "floor", "setpoint": "23 degC", "sensor": "stripe"}])
def test_an_interrupted_run_ends_exactly_as_one_that_was_not(tmp_path, monkeypatch, control):
    monkeypatch.setattr("sim.jobs.checkpoint.EVERY", 0.0)
    monkeypatch.setattr("sim.solver.march.REST", 4)
    case = tiny_bay(time={"duration": "30 min", "snapshots": ["5 min", "20 min"]}, control=control)
    file = tmp_path / "checkpoint.npz"
    whole = warm_up(case, checkpoint=tmp_path / "other.npz")

    def stop(moment, step):
        if step.time > 600.0:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        warm_up(case, checkpoint=file, listener=stop)
    heard = []
    again = warm_up(case, checkpoint=file, listener=lambda moment, step: heard.append(step.time))
    assert heard[0] > 150.0
    closes(again)
    assert len(again.series["floor_temperature"]) == len(again.history.steps) + 1
    assert again.series.identical(whole.series)
    assert again.history.steps == whole.history.steps
    # what rests cost in exactness is far below the steps' own error
    free = warm_up(case)
    assert_allclose(again.report["energy_in_Wh_m2"], free.report["energy_in_Wh_m2"], rtol=1e-3, atol=0)


def test_a_spoiled_checkpoint_is_not_taken_up(tmp_path):
    file = tmp_path / "checkpoint.npz"
    file.write_bytes(b"nothing of the kind")
    found = warm_up(tiny_bay(time={"duration": "5 min"}), checkpoint=file)
    assert found.series["time"].values[0] == 0.0
