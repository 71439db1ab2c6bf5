"""A house of forty rooms, none like another: stopped and taken up again, and in no more memory than one of ten."""

import resource

import pytest

from sim.case.house_load import parse_house
from sim.house.bay_solver import BaySolver
from sim.house.solve_house import HouseWish, solve_house
from sim.jobs.job import Pool

COARSE = HouseWish(fineness="coarse")

HEAD = """
[design]
outdoor = "-18 degC"
outdoors = ["-18 degC", "1 degC"]
drop = "5 K"
spacings = ["235 mm"]

[[source]]
name = "condensing boiler"
supply = "58 degC"
"""

ROOM = """
[[manifold]]
name = "M{number}"
x = "{at} m"
y = "-1 m"

[[room]]
name = "R{number}"
manifold = "M{number}"
load = "{load} W"
below = {{ kind = "unheated space", temperature = "12 degC" }}
[room.change]
plates = {{ length = "200 mm", spacing = "235 mm" }}
"air.model" = "still"
"cavity.insulation" = {{ material = "glass wool batt", thickness = "{thick} mm" }}
[[room.bays]]
count = 6
x = "{at} m"
y = "0 m"
along = "y"
length = "3 m"
"""


def many(count):
    """Rooms side by side, each with insulation and a load of its own."""
    rooms = (ROOM.format(number=k, at=3 * k, load=250 + k, thick=100 + k) for k in range(count))
    return parse_house(HEAD + "".join(rooms), "many", "many.toml")


def stopped_after(most):
    """A listener like a person who stops the command after so many bays."""
    heard = []

    def hear(outcome):
        heard.append(outcome)
        if len(heard) == most:
            raise KeyboardInterrupt

    return lambda what, count: hear


def peaks():
    """The most memory so far, of this process and of the largest of its workers."""
    return [resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]


@pytest.mark.slow
def test_forty_rooms_are_taken_up_where_they_were_left_in_the_memory_of_ten(tmp_path):
    solve_house(many(10), BaySolver(tmp_path / "ten", Pool(2)), COARSE)
    ten, store = peaks(), tmp_path / "forty"
    with pytest.raises(KeyboardInterrupt):
        solve_house(many(40), BaySolver(store, Pool(2), stopped_after(15)), COARSE)
    solver = BaySolver(store, Pool(2))
    plan = solve_house(many(40), solver, COARSE)
    assert len(plan.layouts[0].rooms) == 40
    assert solver.taken_up >= 15 * 4, "curves of four solves each that the stopped run had finished"
    curves = 40 * 4
    needed = solver.made + solver.taken_up - curves
    assert solver.asked == curves + 2 * needed, "as written and for the source: the same bay at the same flux, once"
    for more, few in zip(peaks(), ten, strict=True):
        assert more < 1.3 * few
    third = BaySolver(store)
    assert solve_house(many(40), third, COARSE).layouts[0].supply == plan.layouts[0].supply and third.made == 0
