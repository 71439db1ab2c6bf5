"""When a room is back at its setpoint after a setback, held against straight lines of temperature."""

from math import isnan, nan
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

from sim.case.control import Control
from sim.results.setback import Recovery, recoveries, told_recovery
from viz.report import time_page
from viz.report.told import Told, same

HOUR = 3600.0
NIGHT = Control.model_validate({
    "thermostat": "room", "dead_band": 1.0,
    "schedule": [{"at": 5 * HOUR, "temperature": 293.15}, {"at": 22 * HOUR, "temperature": 290.15}],
})  # fmt: skip


def measured(hours, kelvin, name="room"):
    return xr.Dataset({name: ("time", np.array(kelvin))}, {"time": np.array(hours) * HOUR})


def test_a_room_that_warms_evenly_is_back_where_its_line_crosses():
    # From noon: 5:00 is 17 h on. 17 °C there, 1.5 K an hour: 19.5 °C (half of 1 K below 20) after 2.5/1.5 h.
    hours = [0.0, 10.0, 17.0, 18.0, 19.0, 20.0, 24.0]
    series = measured(hours, [293.15, 293.15, 290.15, 291.65, 293.15, 294.65, 294.65])
    (found,) = recoveries(NIGHT, 12 * HOUR, series)
    assert found.begins == 17 * HOUR and found.setpoint == 293.15
    assert found.reading == pytest.approx(290.15)
    assert found.takes == pytest.approx(2.5 / 1.5 * HOUR, rel=0.02)  # a smooth curve lies between the points


def test_every_day_counts_and_the_slowest_is_told():
    hours = np.linspace(0.0, 48.0, 97)
    first = np.interp(hours, [0, 10, 17, 18, 34, 41, 45, 48], [20, 20, 17, 20, 20, 17, 20, 20]) + 273.15
    found = recoveries(NIGHT, 12 * HOUR, measured(hours, first))
    assert [each.begins / HOUR for each in found] == [17.0, 41.0]
    assert found[1].takes == pytest.approx(2.5 / 3.0 * 4.0 * HOUR, rel=0.02)
    told = told_recovery(NIGHT, 12 * HOUR, found, "si")
    assert told.startswith("The room, 17.0 °C at 5:00, is back at 20.0 °C") and "3.3 h later, at 8:20" in told


def test_a_room_that_never_cooled_so_far_is_there_at_once():
    (found,) = recoveries(NIGHT, 12 * HOUR, measured([0.0, 17.0, 24.0], [293.15, 292.9, 293.15]))
    assert found.takes == 0.0
    assert "is at 20.0 °C already at 5:00" in told_recovery(NIGHT, 12 * HOUR, [found], "si")


def test_one_that_is_not_back_before_the_next_setback_says_so():
    (found,) = recoveries(NIGHT, 12 * HOUR, measured([0.0, 17.0, 24.0], [293.15, 285.15, 290.15]))
    assert isnan(found.takes)
    assert "is not back at 68.0 °F before" in told_recovery(NIGHT, 12 * HOUR, [found], "ip")


def test_the_slowest_of_all_is_one_that_never_comes_back():
    never, soon = Recovery(17 * HOUR, 293.15, 285.15, nan), Recovery(41 * HOUR, 293.15, 290.15, HOUR)
    assert "is not back" in told_recovery(NIGHT, 12 * HOUR, [soon, never], "si")


def test_nothing_is_told_without_a_thermostat_its_sensor_or_a_rise():
    series = measured([0.0, 24.0], [293.15, 293.15])
    free = NIGHT.model_copy(update={"thermostat": "none"})
    floor = NIGHT.model_copy(update={"thermostat": "floor"})
    once = NIGHT.model_copy(update={"schedule": NIGHT.schedule[:1]})
    assert [recoveries(each, 0.0, series) for each in (free, floor, once)] == [[], [], []]
    assert recoveries(floor, 12 * HOUR, measured([0.0, 17.0, 24.0], [290.0, 291.0, 294.0], "floor_sensor"))
    assert told_recovery(NIGHT, 0.0, [], "si") == ""


def test_a_warm_up_with_a_setback_tells_of_it_first():
    from sim.cli.warmup import _in_short

    report = SimpleNamespace(as_dict=lambda: {"surface_highest_C": 26.94})
    choice = SimpleNamespace(name="den", report=report)
    told = _in_short(choice, "si", False, "The room is back.")
    assert told == "The room is back. The floor gets 26.9 °C at most."


def test_the_page_of_a_warm_up_tells_of_it_first(monkeypatch):
    monkeypatch.setattr(time_page, "_of_one", lambda choice: same(f"{choice.name} swings."))
    den, loft = SimpleNamespace(name="den"), SimpleNamespace(name="loft")
    back = Told("Back at 20 °C.", "Back at 68 °F.")
    (alone,) = time_page._said(SimpleNamespace(choices=[den], back=[back]))
    assert (alone.text.si, alone.text.ip) == ("Back at 20 °C. den swings.", "Back at 68 °F. den swings.")
    (several,) = time_page._said(SimpleNamespace(choices=[den, loft], back=[same(""), back]))
    assert [text.si for _, text in several.items] == ["den swings.", "Back at 20 °C. loft swings."]
    (plain,) = time_page._said(SimpleNamespace(choices=[den], back=()))
    assert plain.text.si == "den swings."
