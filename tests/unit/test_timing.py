"""Sections about time: what is filled in, what is refused, and weather files."""

import pytest
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.weather import read_weather

BASE = '[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n[ceiling]\n[below]\ntemperature = "12 degC"\n'


def case(text=""):
    return parse_case(BASE + text)


def refused(text):
    with pytest.raises(CaseError) as error:
        case(text)
    return str(error.value)


def test_what_is_left_out():
    found = case()
    assert found.time.duration == 12 * 3600.0
    assert_allclose([found.time.start_temperature, found.control.setpoint], 293.15, rtol=1e-12, atol=0)
    assert_allclose([found.control.highest, found.control.lowest], [323.15, 293.15], rtol=1e-12, atol=0)
    assert found.room.node is None


def test_clock_times_in_two_ways():
    schedule = """[control]
    thermostat = "room"
    [[control.schedule]]
    at = "6:30"
    temperature = "21 degC"
    [[control.schedule]]
    at = "22 h"
    temperature = "17 degC"
    """
    found = case(schedule)
    assert [change.at for change in found.control.schedule] == [6.5 * 3600.0, 22 * 3600.0]
    assert parse_case(_written(found)).control == found.control


@pytest.mark.parametrize("sensor", ['"between"', '" Stripe "', '["0.1 m", "5 cm"]'])
def test_a_floor_limit_reads_back_as_written(sensor):
    found = case(f'[control]\nthermostat = "room"\nfloor_limit = "27 degC"\nfloor_band = "2 K"\nsensor = {sensor}\n')
    assert found.control.sensor in ("between", "stripe", (0.1, 0.05))
    assert parse_case(_written(found)).control == found.control


def _written(found):
    import tomli_w

    return tomli_w.dumps(found.resolved())


def test_a_varied_case_keeps_its_sections_about_time():
    found = case('[time]\nduration = "2 h"\nstart_temperature = "10 degC"\n').with_text("water.supply", "45 degC")
    assert found.time.duration == 7200.0
    assert_allclose(found.control.highest, 318.15, rtol=1e-12, atol=0)
    assert_allclose(found.control.ramp_from, 283.15, rtol=1e-12, atol=0)


RESET = '[weather]\ntemperature = "0 degC"\n[control]\nwater = "reset"\ndesign_outdoor = "-10 degC"\n'
CURVE = '[weather]\ntemperature = "0 degC"\n[control]\nwater = "reset"\n' + 2 * (
    '[[control.curve]]\noutdoor = "{} degC"\nwater = "{} degC"\n'
)
TWICE = '[control]\nthermostat = "room"\n' + 2 * '[[control.schedule]]\nat = "6:00"\ntemperature = "20 degC"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[control]\nwater = "heat"\n', "control.heat"),
        ('[control]\nheat = "50 W/m^2"\n', 'only water "heat" uses it'),
        ('[control]\nwater = "reset"\ndesign_outdoor = "-10 degC"\n', "weather.temperature"),
        ('[control]\nthermostat = "floor"\n', "control.sensor"),
        ('[control]\nwater = "reset"\n', "control.design_outdoor"),
        ('[weather]\ntemperature = "0 degC"\nfile = "a.csv"\n', "exclude each other"),
        ('[room.node]\nloss = "1 W/(m^2*K)"\ncapacity = "100 kJ/(m^2*K)"\n', "room.node loses heat outdoors"),
        ('[time]\nduration = "0 s"\n', "greater than 0"),
        ('[control]\nwater = "ramp"\nramp_from = "60 degC"\n', "must be cooler than water.supply"),
        ('[time]\ntolerance = "50 K"\n', "must be at most 1 K"),
        ('[control]\nlowest = "55 degC"\n', "must be at most control.highest"),
        ('[control]\nrise_limit = "5 K"\n', "K/day"),
        ('[control]\nfloor_limit = "27 degC"\n', "control.sensor"),
        ('[control]\nsensor = "stripe"\n', 'only thermostat "floor" or floor_limit uses it'),
        ('[control]\nfloor_limit = "20.5 degC"\nsensor = "stripe"\n', "must be warmer than the room"),
        ('[control]\nfloor_band = "2 K"\n', "only floor_limit uses it"),
        ('[control]\ndead_band = "2 K"\n', "only a thermostat uses it"),
        ('[control]\nthermostat = "floor"\nsensor = "strip"\n', 'did you mean "stripe"?'),
        ('[control]\nthermostat = "floor"\nsensor = ["1 m"]\n', "must be a list of 2 values"),
        ('[control]\nthermostat = "floor"\nsensor = "between"\nfloor_limit = "27 degC"\n', "keeps the floor at its"),
        ('[control]\nshutdown_outdoor = "16 degC"\n', "control.shutdown_outdoor looks at it"),
        (RESET + 'shutdown_outdoor = "-12 degC"\n', "must be warmer than design_outdoor"),
        ('[time]\nsnapshots = ["13 h"]\n', "must be at most the duration, 12 h"),
        (f"[time]\nsnapshots = [{'0, ' * 101}]\n", "at most 100 snapshots"),
        (TWICE, "stands there twice"),
        (CURVE.format(-10, 50, 10, 55), "must not ask for warmer water"),
        (CURVE.format(5, 50, 5, 40), "stand there twice"),
        (CURVE.replace("reset", "step").format(-10, 50, 10, 30), 'only water "reset" uses it'),
        (CURVE.format(-10, 50, 10, 30).rsplit("[[", 1)[0], "at least 2"),
        (CURVE.format(-10, 50, 10, 30).replace("[[", 'design_outdoor = "0 degC"\n[[', 1), "only water"),
        ('[control]\nwater = "ramp"\n[[control.schedule]]\nat = "6:00"\ntemperature = "45 degC"\n', "a schedule sets"),
    ],
)
def test_refusals(text, words):
    assert words in refused(text)


def test_hourly_weather(tmp_path):
    file = tmp_path / "weather.csv"
    file.write_text("outdoor\n-5\n-6.5\n", encoding="utf-8")
    times, values = read_weather(file)
    assert times == (0.0, 3600.0)
    assert_allclose(values, [268.15, 266.65], rtol=1e-12, atol=0)


def test_weather_with_hours(tmp_path):
    file = tmp_path / "weather.csv"
    file.write_text("hour,degC\n0,-5\n6,-10\n\n12,3\n", encoding="utf-8")
    assert read_weather(file)[0] == (0.0, 6 * 3600.0, 12 * 3600.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no temperatures"),
        ("0,1\nx,y\n", "line 2"),
        ("0,1,2\n", "3 values"),
        ("5,1\n3,1\n", "must not fall"),
        ("260\n", "within -90"),
    ],
)
def test_weather_that_makes_no_sense(tmp_path, text, words):
    file = tmp_path / "weather.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match=words):
        read_weather(file)


def test_weather_that_is_not_there(tmp_path):
    with pytest.raises(CaseError, match="cannot be read"):
        read_weather(tmp_path / "none.csv")
