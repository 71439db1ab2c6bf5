"""Quantities of a house, summed by hand for two small rooms."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.case.load import load_case
from sim.house.circuits import Circuit, CircuitBay
from sim.house.placed import PlacedBay, Stretch
from sim.house.plan import CircuitResult
from sim.house.quantities import ITEMS, quantity_rows, take_off


def bay_case(**values):
    """Joists 38 x 235 mm at 400 mm, plates 200 mm long every 250 mm."""
    changed = {"bay.joist_spacing": 0.4, "bay.joist_width": 0.038, "bay.joist_depth": 0.235, "plates.spacing": 0.25}
    return load_case("cases/demo/family-oak.toml").with_(**(changed | values))


def bay(name, number, *blocked, y=(0.0, 4.0)):
    return PlacedBay(name, name[:2], (0.4 * number, 0.4 * number + 0.4), y, "y", "low", 2, 0, tuple(blocked))


BAYS = (
    bay("R1-1", 0),
    bay("R1-2", 1, Stretch(1.0, 1.5, "duct")),
    bay("R1-3", 2, Stretch(2.0, 2.1, "blocking", passes=True)),
    bay("R2-1", 0, y=(4.0, 8.0)),
    bay("R2-2", 1, Stretch(3.0, 4.0, "island", passes=True), y=(4.0, 8.0)),
)


def circuit(room, *tubes, leaders=(3.0, 5.0)):
    """A circuit of bays with these lengths of tube."""
    ends = (leaders[0], *(0.0 for _ in tubes[2:]), leaders[1])
    names = [placed.name for placed in BAYS if placed.room == room]
    bays = tuple(CircuitBay(name, tube, 10.0, leader=end) for name, tube, end in zip(names, tubes, ends, strict=True))
    flow = SimpleNamespace(circuit=Circuit(f"{room}.1", bays))
    return CircuitResult(room, "G", flow, tuple(placed for placed in BAYS if placed.room == room), ())


def taken(**values):
    """The quantities of both rooms, and the plan they come from."""
    case = bay_case(**values)
    layout = SimpleNamespace(
        source=SimpleNamespace(name="boiler"),
        rooms=tuple(SimpleNamespace(need=SimpleNamespace(name=name), case=case) for name in ("R1", "R2")),
        circuits=(circuit("R1", 8.5, 7.5, 8.5), circuit("R2", 8.5, 8.5)),
    )
    rooms = tuple(_outlined(name, y, count) for name, y, count in (("R1", 0.0, 3), ("R2", 4.0, 2)))
    house = SimpleNamespace(rooms=rooms, room={room.name: room for room in rooms}.get)
    plan = SimpleNamespace(house=house, bays=BAYS, layouts=(layout,))
    return take_off(plan, layout), plan


def _outlined(name, y, count):
    """A room of the ground floor, 1.2 m wide, with its bays."""
    group = SimpleNamespace(x=0.0, y=y, along="y", length=4.0, count=count)
    extent = {"x": 0.0, "y": y, "width": 1.2, "depth": 4.0}
    return SimpleNamespace(name=name, storey="ground", **extent, bays=(group,), model_fields_set=set(extent))


def same(amounts, **wanted):
    for name, value in wanted.items():
        np.testing.assert_allclose(getattr(amounts, name), value, rtol=1e-9, atol=0.0, err_msg=name)


def test_a_room_summed_by_hand():
    first = dict(taken()[0].rooms)["R1"]
    # tube 8.5 + 7.5 + 8.5 and leaders 3 + 5; 5 % more to buy
    same(first, tube=32.5, leaders=8.0, tube_to_buy=34.125)
    # plates that fit, a run: 16 into 4 m; 4 into 1 m and 10 into 2.5 m; 8 into 2 m and 7 into 1.9 m; two runs
    same(first, plates=2 * (16 + 4 + 10 + 8 + 7))
    # three along each edge of 200 mm; 32.5 - 90 · 0.2 = 14.5 m without plates, 14.5/0.8 → 19
    same(first, fasteners=540, hangers=0, clips=19)
    # three bays of 4 m, 362 mm clear; only their ends at y = 0 lie at the outline
    same(first, insulation=3 * 4.0 * 0.362, rim_pieces=3, rim_area=3 * 0.362 * 0.235)
    # there and back through two joists, and both runs through one blocking
    same(first, holes=6)


def test_total_adds_the_rooms():
    found, _ = taken()
    # R2: 17 + 8 m of tube, 2 · (16 + 12) plates (3 m free), 2 ends at y = 8, 2 holes; its island is no blocking
    same(dict(found.rooms)["R2"], tube=25.0, plates=56, rim_pieces=2, holes=2)
    same(found.total, tube=57.5, leaders=16.0, plates=146, rim_pieces=5, holes=8, insulation=5 * 4.0 * 0.362)


def test_hung_plates_have_hangers():
    found, _ = taken(**{"plates.position": "hung", "plates.drop": 0.03})
    same(found.total, fasteners=0, hangers=292)


def test_without_plates_all_tube_is_clipped():
    found, _ = taken(**{"plates.spacing": None})
    # 32.5/0.8 = 40.6 and 25/0.8 = 31.25
    same(found.total, plates=0, fasteners=0, clips=41 + 32)


def test_insulation_between_the_webs_of_i_joists():
    found, _ = taken(**{"bay.joist_kind": "i-joist", "bay.web_thickness": 0.01, "bay.flange_width": 0.038})
    same(found.total, insulation=5 * 4.0 * 0.39)


def test_bays_that_are_written_without_insulation_order_none():
    found, _ = taken(**{"cavity": {"insulation": "none"}, "ceiling": {"material": "gypsum board"}})
    same(found.total, insulation=0.0, tube=57.5, rim_pieces=5)


def test_lines_of_the_table():
    _, plan = taken()
    rows = quantity_rows(plan)
    assert len(rows) == 3 * len(ITEMS)
    found = {(row["room"], row["item"]): (row["amount"], row["unit"]) for row in rows}
    assert found["total", "tube, laid"] == (57.5, "m")
    assert found["R1", "plates"] == (90, "")
    assert all(row["basis"] for row in rows)
    feet = {(row["room"], row["item"]): (row["amount"], row["unit"]) for row in quantity_rows(plan, "ip")}
    assert feet["total", "tube, laid"] == (188.65, "ft"), "57.5 m of 0.3048 m"


def test_what_is_assumed_stands_in_the_readers_units():
    _, plan = taken()
    told = {row["item"]: row["basis"] for row in quantity_rows(plan, "ip")}
    assert "every 3.94 in along" in told["fasteners for plates"], "100 mm of 25.4 mm"
    assert "one every 31.5 in;" in told["clips for free tube"], "800 mm of 25.4 mm"
    assert not any(f" {unit} " in f" {basis};" for basis in told.values() for unit in ("mm", "m"))
    assert "every 100 mm along" in {row["item"]: row["basis"] for row in quantity_rows(plan)}["fasteners for plates"]


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.key)
def test_assumed_numbers_say_where_they_come_from(item):
    if any(sign.isdigit() for sign in item.basis) and item.key not in ("rim_pieces", "rim_m2"):
        assert "no source" in item.basis or "from memory" in item.basis
