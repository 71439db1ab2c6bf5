"""From case to drivers: where a floor sensor lies, which thermostats there are, when the weather allows heat."""

import pytest
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.problems.driving import case_drivers, outdoor_temperature, sensor_place
from tests.verification.small_bays import small_bay

FLOOR = {"thermostat": "floor"}


def place(sensor, variant="fastened", **changes):
    return sensor_place(small_bay(variant, control=FLOOR | {"sensor": sensor}, **changes))


@pytest.mark.parametrize(
    ("variant", "changes", "stripe", "between"),
    [
        # bay 300 mm wide, cut 300 mm long: one run in its middle, one plate in the middle of the cut
        ("fastened", {}, (0.15, 0.15), (0.0, 0.0)),
        # three runs in the middles of thirds of the clear 262 mm
        ("three runs", {}, (0.15, 0.15), (0.15 - 0.262 / 6, 0.0)),
        ("no plates", {}, (0.15, 0.15), (0.0, 0.15)),
        # whole bay 0.6 m long: two plates, at 150 and 450 mm
        ("whole bay", {"rim": {"insulation": "none"}}, (0.15, 0.15), (0.0, 0.3)),
        # stated positions: the tube nearest to the middle of the bay
        ("fastened", {"tube": {"runs": 2, "positions": ["0.1 m", "0.22 m"]}}, (0.1, 0.15), (0.16, 0.0)),
        # across the joists: tubes stand still in y, plates in x
        ("across", {"tube": {"across_spacing": "200 mm"}}, (0.15, 0.1), (0.15, 0.0)),
    ],
)
def test_stripe_and_between(variant, changes, stripe, between):
    assert_allclose(place("stripe", variant, **changes), stripe, rtol=0, atol=1e-9)
    assert_allclose(place("between", variant, **changes), between, rtol=0, atol=1e-9)


def test_a_place_in_metres():
    assert place(["0.3 m", "0 m"]) == (0.3, 0.0)


@pytest.mark.parametrize(("sensor", "words"), [(["31 cm", "0 m"], "300 mm"), (["0 m", "0.4 m"], "300 mm")])
def test_a_sensor_beside_the_floor(sensor, words):
    with pytest.raises(CaseError, match=f"beside the modelled floor, which ends {words}"):
        place(sensor)


def test_room_and_floor_each_with_its_band():
    control = {"thermostat": "room", "dead_band": "0.6 K", "floor_limit": "27 degC", "floor_band": "2 K"}
    room, floor = case_drivers(small_bay(control=control | {"sensor": "stripe"}), 1.0).thermostats
    assert_allclose([room.setpoint.value(0.0) - 273.15, room.band], [20.0, 0.6], rtol=1e-12, atol=0)
    # off at 27 °C, on again at 25 °C
    switching = [floor.excess(on, reading, 0.0, False) for on, reading in ((True, 300.15), (False, 298.15))]
    assert_allclose(switching, 0.0, rtol=0, atol=1e-9)


def test_a_way_to_set_the_water_that_is_not_known_is_an_error():
    case = small_bay()
    control = case.control.model_copy(update={"water": "by the moon"})
    with pytest.raises(ValueError, match='no way to set the water "by the moon"'):
        case_drivers(case.model_copy(update={"control": control}), 1.0)


def test_shutdown_by_a_weather_file(tmp_path):
    (tmp_path / "warm.csv").write_text("0,10\n2,20\n4,10\n", encoding="utf-8")
    case = small_bay(weather={"file": "warm.csv"}, control={"shutdown_outdoor": "18 degC"})
    with pytest.warns(UserWarning, match="ends at 4 h, the run at 12 h"):
        allowed = case_drivers(case.model_copy(update={"path": str(tmp_path / "bay.toml")}), 1.0).allowed
    assert_allclose(allowed.times, [0.0, 5760.0, 5760.0, 8640.0, 8640.0], rtol=1e-12, atol=0)
    assert allowed.values == (1.0, 1.0, 0.0, 0.0, 1.0)


def test_reset_by_a_table(tmp_path):
    # 50 °C of water at −10 °C outdoors, 40 at 0, 25 at +20; outdoors −20 °C rising by 5 K an hour
    (tmp_path / "rise.csv").write_text("0,-20\n12,40\n", encoding="utf-8")
    points = [(-10, 50), (0, 40), (20, 25)]
    curve = [{"outdoor": f"{outdoor} degC", "water": f"{water} degC"} for outdoor, water in points]
    case = small_bay(weather={"file": "rise.csv"}, control={"water": "reset", "curve": curve})
    supply = case_drivers(case.model_copy(update={"path": str(tmp_path / "bay.toml")}), 1.0).supply
    hours = [0.0, 2.0, 4.0, 6.0, 8.0, 12.0]
    found = [supply.value(3600.0 * hour) - 273.15 for hour in hours]
    assert_allclose(found, [50.0, 50.0, 40.0, 32.5, 25.0, 25.0], rtol=1e-9, atol=0)
    assert_allclose(supply.breaks(0.0, 40000.0), [7200.0, 14400.0, 28800.0], rtol=1e-12, atol=0)


def test_nothing_shuts_down_unasked():
    assert case_drivers(small_bay(weather={"temperature": "30 degC"}), 1.0).allowed is None


def test_resolved_air_is_for_steady_states():
    with pytest.raises(CaseError, match="steady states only"):
        case_drivers(small_bay(air={"model": "resolved"}), 1.0)


@pytest.mark.parametrize(
    ("hours", "told"),
    [
        (range(24), []),  # 24 hourly values are a day
        ((0, 12, 24), []),
        (range(10), ["w.csv: ends at 9 h, the run at 24 h; its last temperature stands from there on"]),
        (range(3, 24), ["w.csv: begins at 3 h; its first temperature stands before"]),
        ((5,), ["w.csv: begins at 5 h; its first temperature stands before; it ends at 5 h, the run at 24 h; its last "
                "temperature stands from there on"]),
    ],
)  # fmt: skip
def test_weather_that_is_shorter_than_the_run_is_told(hours, told, tmp_path, monkeypatch, recwarn):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "w.csv").write_text("".join(f"{hour},-5\n" for hour in hours), "utf-8")
    outdoor_temperature(small_bay(weather={"file": "w.csv"}, time={"duration": "24 h"}))
    assert [str(each.message) for each in recwarn] == told
