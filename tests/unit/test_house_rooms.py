"""Rooms from the top of a house down, with bays whose answers are known instead of solved."""

from types import SimpleNamespace

import numpy as np
import pytest
from house_cases import small

from sim.case.constants import ZERO_CELSIUS
from sim.case.house_load import bay_case
from sim.house.bay_jobs import BayAnswer
from sim.house.curve import curve_of
from sim.house.drop import mean_excess
from sim.house.loads import Load
from sim.house.outdoors import Winter, outdoor_points
from sim.house.remedies import ShortRoom, try_remedies
from sim.house.rooms import Rooms, solve_rooms
from sim.house.schemes import Option, Scheme
from sim.house.sources import load_sources
from sim.house.supply import Supplies

AREA = 10.0
ROOM = 20.0


def report(excess, down=0.4):
    """A floor of 1 m² that gives 2 W/m² a kelvin up and so much down, and warms by 0.3 of the water."""
    celsius = {"water_mean_C": ROOM + excess, "surface_peak_C": ROOM + 0.3 * excess}
    flows = {"heat_flux_up_W_m2": 2.0 * excess, "heat_flow_down_W": down * excess, "heat_flow_edge_W": 0.0}
    return {"floor_area_m2": 1.0, **celsius, **flows}


class KnownBays:
    """Answers what is asked of bays from the law of `report`, and keeps the fluxes it was asked for [W/m²]."""

    def __init__(self):
        self.fluxes = []

    def needed(self, wanted):
        self.fluxes += [flux for _, flux, _ in wanted]
        return [BayAnswer((report(flux / 2.0),), 1) for _, flux, _ in wanted]

    def at(self, wanted, what):
        return [report(excess) for _, excess, _ in wanted]


@pytest.fixture(scope="module")
def house():
    return small()


def laid_out(house, loads, down=(0.4, 0.4, 0.4)):
    """Rooms A and B and, above A, U, whose bays are all that of `report`, with their own heat down."""
    curves = [curve_of("bay", ROOM + ZERO_CELSIUS, [report(excess, part) for excess in (6.0, 14.0, 30.0, 65.0)])
              for part in down]  # fmt: skip
    own = tuple(Option(0.235, bay_case(house, number), curve) for number, curve in enumerate(curves))
    placed = tuple(SimpleNamespace(area=AREA) for _ in house.rooms)
    return Rooms(house, placed, tuple(Load(load) for load in loads), own, tuple((option,) for option in own))


SCHEME = Scheme(5.0, ZERO_CELSIUS + 58.0, "")


def solved(house, loads, *down):
    """Their states under one scheme; and what was asked of the bays."""
    bays = KnownBays()
    return solve_rooms(laid_out(house, loads, *down), [SCHEME], bays)[0], bays


def test_the_room_below_gets_what_the_floor_above_sends_down(house):
    # U: 400 W on 10 m² are 40 W/m², 20 K of water, 8 W/m² down: A needs 300 − 80 = 220 W
    states, bays = solved(house, (300.0, 250.0, 400.0))
    np.testing.assert_allclose(sorted(bays.fluxes), [22.0, 25.0, 40.0], rtol=1e-9, atol=0.0)
    np.testing.assert_allclose([states[n].output for n in range(3)], [220.0, 250.0, 400.0], rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(states[0].need.from_above, 80.0, rtol=1e-9, atol=0.0)


def test_a_room_that_the_floor_above_warms_enough_gets_no_water(house):
    states, bays = solved(house, (60.0, 250.0, 400.0))
    np.testing.assert_allclose(sorted(bays.fluxes), [25.0, 40.0], rtol=1e-9, atol=0.0)
    warm = states[0]
    assert (warm.need.flux, warm.excess, warm.output, warm.down, warm.edge) == (0.0, 0.0, 0.0, 0.0, 0.0)
    assert not warm.short and not warm.limited
    assert warm.trials[0].supply == warm.need.temperature


def test_a_room_is_held_where_its_floor_meets_a_limit_before_its_load(house):
    # 29 °C at the warmest spot (EN 1264-2) is reached with water 30 K over the room, which gives 60 W/m² on 10 m²
    states, _ = solved(house, (300.0, 650.0, 400.0))
    held = states[1]
    assert held.limited and not held.short and not states[0].limited
    np.testing.assert_allclose((held.most, held.output), (30.0, 600.0), rtol=1e-6, atol=0.0)
    np.testing.assert_allclose(held.need.limit_output, 600.0, rtol=1e-6, atol=0.0)
    # its supply is what has a mean of 30 K over the room and falls by 5 K
    supply = held.need.limit_supply - ZERO_CELSIUS - ROOM
    np.testing.assert_allclose(5.0 / np.log(supply / (supply - 5.0)), 30.0, rtol=1e-6, atol=0.0)


@pytest.mark.parametrize(("upper", "from_above"), [(400.0, 40.0), (0.0, 0.0)])
def test_half_the_load_is_wanted_half_way_to_the_design_day(house, upper, from_above):
    # 1 °C outside is half way from 20 to −18: U wants 20 W/m², 10 K of water, which sends 4 W/m² down
    loads = (300.0, 250.0, upper)
    supplies = Supplies(ZERO_CELSIUS + 50.0, 0, dict.fromkeys("MN", ZERO_CELSIUS + 50.0))
    states, _ = solved(house, loads)
    source = next(source for source in load_sources().values() if source.name == "condensing boiler")
    points = outdoor_points(Winter(laid_out(house, loads), SCHEME, source, states, supplies))
    mild = next(point for point in points if abs(point.outdoor - ZERO_CELSIUS - 1.0) < 1e-9)
    assert [name for name, _, _ in mild.rooms] == ["A", "B", "U"]
    wanted = [watts for _, watts, _ in mild.rooms]
    np.testing.assert_allclose(wanted, [150.0 - from_above, 125.0, upper / 2], rtol=1e-6, atol=1e-9)
    # the source gives what the floors give up, a fifth of it downwards as well
    np.testing.assert_allclose(mild.heat, 1.2 * sum(wanted), rtol=1e-6, atol=0.0)


def test_the_covering_that_holds_back_most_is_halved(house):
    coverings = [{"material": "ceramic tile", "thickness": "9 mm"}, {"material": "oak", "thickness": "19 mm"}]
    case = bay_case(house, 1, {"floor.covering": coverings})
    (remedies,) = try_remedies([ShortRoom(case, 20.0, AREA, 400.0, 500.0)], KnownBays())
    (halved,) = [remedy for remedy in remedies if "half the resistance" in remedy.what]
    assert halved.what.startswith("oak of half") and halved.key == "floor.covering[1].thermal_resistance"
    # with all that fits together the halved covering comes again, and nothing that was refused
    whole, single = remedies[-1], remedies[:-1]
    assert whole.what == "all that fits of these together"
    fitting = [remedy.key for remedy in single if np.isfinite(remedy.output)]
    assert len(fitting) >= 2 and whole.key == ", ".join(fitting)
    # plates of 200 mm leave 10 mm between them for their expansion
    (closer,) = [remedy for remedy in remedies if remedy.key == "plates.spacing"]
    assert closer.what.startswith("plates every 210 mm")


def mean_of(supply, drop):
    """Logarithmic mean of water over a room [K]."""
    return drop / np.log(supply / (supply - drop))


def test_water_that_does_not_fall_is_as_warm_in_the_mean_as_it_enters():
    assert mean_excess(30.0, 0.0) == 30.0
    np.testing.assert_allclose(mean_excess(30.0, 1e-6), 30.0, rtol=1e-7, atol=0.0)
    assert mean_excess(0.0, 5.0) == mean_excess(-1.0, 5.0) == 0.0


def test_water_comes_back_mixed_by_what_each_room_draws():
    # half way to the design day the supply is 30 K · ½^(1/1.1) over 20 °C (EN 1264-2, q ~ ΔT^1.1); a room's water falls
    # by the same share of its entering excess as on the design day, where B at 24 °C has 26 K and the others have 30 K;
    # B's floor gives 1 W/m²K down, theirs 0.4
    house = small(('name = "B"', 'name = "B"\ntemperature = "24 degC"'))
    loads, warm, down = (300.0, 250.0, 400.0), ZERO_CELSIUS + 50.0, (0.4, 1.0, 0.4)
    states, _ = solved(house, loads, down)
    source = next(source for source in load_sources().values() if source.name == "condensing boiler")
    winter = Winter(laid_out(house, loads, down), SCHEME, source, states, Supplies(warm, 0, dict.fromkeys("MN", warm)))
    mild = next(point for point in outdoor_points(winter) if abs(point.outdoor - ZERO_CELSIUS - 1.0) < 1e-9)
    given, falls = [], []
    supply = 30.0 * 0.5 ** (1.0 / 1.1)
    for entering, design, part in zip((supply, supply - 4.0, supply), (30.0, 26.0, 30.0), down, strict=True):
        given.append((2.0 + part) * AREA * mean_of(design, 5.0) * entering / design)  # up and down, valves open
        falls.append(entering * 5.0 / design)
    drawn = np.array(given) / np.array(falls)
    wanted = 20.0 + supply - np.average(falls, weights=drawn)
    np.testing.assert_allclose(mild.returning - ZERO_CELSIUS, wanted, rtol=0.0, atol=1e-6)
