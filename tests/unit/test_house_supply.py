"""Whose wish sets the water, and what a floor gives within its limits."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.house.curve import curve_of
from sim.house.floor_limit import first_bound
from sim.house.plan import RoomNeed
from sim.house.remedies import panel
from sim.house.schemes import Scheme
from sim.house.service import mixed_return
from sim.house.supply import find_supplies, without_short
from sim.rules.limits import Limit

C = 273.15


def rows():
    """A floor that gives 2 W/m² a kelvin and warms by a quarter of it; the room at 20 °C."""
    return [
        {"water_mean_C": 20.0 + excess, "heat_flux_up_W_m2": 2.0 * excess, "surface_peak_C": 20.0 + 0.25 * excess}
        for excess in (6.0, 14.0, 30.0, 65.0)
    ]


def test_the_first_limit_along_a_curve():
    curve = curve_of("bay", 20.0 + C, rows())
    floor = Limit("surface_peak_C", 29.0, "floor", "")
    # 9 K over the room at 36 K of water
    np.testing.assert_allclose(first_bound(curve, [floor]).excess, 36.0, rtol=1e-6, atol=0.0)
    lower = Limit("surface_peak_C", 27.0, "laminate", "")
    assert first_bound(curve, [floor, lower]).limit is lower
    assert first_bound(curve, [Limit("surface_peak_C", 40.0, "none", "")]) is None
    assert first_bound(curve, [Limit("surface_peak_C", 19.0, "colder than the room", "")]).excess == 0.0


def state(supply, limit=None):
    need = SimpleNamespace(supply=supply + C, limit_supply=C + (limit or np.nan))
    return SimpleNamespace(need=need, limited=limit is not None)


def house(*rooms, mixes=False):
    places = (SimpleNamespace(name="G", mixes=False), SimpleNamespace(name="U", mixes=mixes))
    return SimpleNamespace(
        rooms=[SimpleNamespace(manifold=manifold, sets_water=say) for manifold, say in rooms], manifolds=places
    )


HOT = Scheme(5.0, 71.0 + C, "")


def supplies(*rows, **more):
    found = find_supplies(
        house(*((manifold, say) for _, manifold, say in rows), **more), HOT, {k: row[0] for k, row in enumerate(rows)}
    )
    return found.house - C, found.setting_room, {name: kelvin - C for name, kelvin in found.manifolds.items()}


def test_a_room_beyond_its_floors_limit_has_no_say():
    bath, hall = (state(80.0, limit=64.0), "U", None), (state(61.0), "G", None)
    assert supplies(bath, hall)[:2] == (pytest.approx(61.0), 1)
    # its file may give it a say: then the water at which its floor meets the limit
    assert supplies((bath[0], "U", True), hall)[:2] == (pytest.approx(64.0), 0)
    # a room may be left out of the vote; where all are, they vote after all
    assert supplies((state(50.0), "G", None), (state(61.0), "G", False))[0] == pytest.approx(50.0)
    assert supplies(bath)[0] == pytest.approx(64.0)


def test_who_would_set_the_water_without_a_room_that_falls_short_all_the_same():
    plan = house(("G", None), ("G", None))
    plan.rooms[0].name, plan.rooms[1].name = "A", "B"
    short, able = state(80.0), state(50.0)
    for entry, fails in ((short, True), (able, False)):
        entry.short, entry.excess = fails, 30.0
    found = without_short(plan, {0: short, 1: able}, 0, 71.0 + C)
    assert found[0] == "B" and found[1] - C == pytest.approx(50.0)
    # little to be won, or the setting room has its load: no word
    assert without_short(plan, {0: short, 1: able}, 0, 51.0 + C) is None
    assert without_short(plan, {0: short, 1: able}, 1, 71.0 + C) is None


def test_a_room_that_no_water_warms_takes_the_hottest():
    assert supplies((state(np.nan), "G", None), (state(50.0), "G", None))[0] == pytest.approx(71.0)


def test_a_manifold_that_mixes_has_its_own_water():
    warm, cool = (state(61.0), "G", None), (state(45.0), "U", None)
    assert supplies(warm, cool, mixes=True)[2] == {"G": pytest.approx(61.0), "U": pytest.approx(45.0)}
    assert supplies(warm, cool)[2] == {"G": pytest.approx(61.0), "U": pytest.approx(61.0)}
    # never warmer than the source allows
    assert supplies(warm, (state(90.0), "U", None), mixes=True)[2]["U"] == pytest.approx(71.0)


def manifold(supply, returning, flow):
    fluid = SimpleNamespace(specific_heat=4000.0)
    water = SimpleNamespace(returning=returning + C, circuits=[SimpleNamespace(mass_flow=flow, fluid=fluid)])
    return SimpleNamespace(supply=supply + C, water=water)


def test_what_comes_back_from_a_mixed_manifold():
    # 60 °C to both: 0.1 kg/s straight, back at 50 °C; the other takes 45 °C and sends back 40 °C, one part in four hot
    # of 0.2 kg/s: (0.1 × 50 + 0.05 × 40)/0.15
    found = mixed_return([manifold(60.0, 50.0, 0.1), manifold(45.0, 40.0, 0.2)], 60.0 + C)
    np.testing.assert_allclose(found - C, 7.0 / 0.15, rtol=1e-9, atol=0.0)


def test_the_rest_by_a_panel():
    need = RoomNeed("B", "Bath", C + 24.0, SimpleNamespace(total=900.0), 0.0, 8.0, None, C, C, None)
    (found,) = panel(need, 650.0, (61.0 + C, 6.0))
    assert "250 W with water of 61.0 °C, 55.0 °C back, in a room of 24.0 °C" in found.told("si")
    assert "853 Btu/h with water of 141.8 °F, 131.0 °F back, in a room of 75.2 °F" in found.told("ip")
    assert found.gain == 250.0 and found.enough
    assert panel(need, 897.0, (61.0 + C, 6.0)) == ()
