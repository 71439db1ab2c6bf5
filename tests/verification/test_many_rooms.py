"""A house of forty rooms, none like another: stopped and taken up again, and in no more memory than one of ten."""

import os
import resource
from contextlib import suppress
from pathlib import Path

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


class Watch:
    """Follows a house: the most memory that this process and the largest of its helpers have had [kB]."""

    def __init__(self, stop_after=None):
        self.largest, self.heard, self.stop_after = 0, 0, stop_after

    def __call__(self, what, count):
        return self.hear

    def hear(self, outcome):
        """Look at the helpers; stop like a person who has seen enough bays."""
        self.heard += 1
        self.largest = max(self.largest, *map(peak_of, helpers()), 0)
        if self.heard == self.stop_after:
            raise KeyboardInterrupt

    def peaks(self):
        """Of this process so far, and of the largest helper while this was watched."""
        return [resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, self.largest]


def helpers():
    """Processes that descend from this one, by the kernel's table: those that helpers forked count as well."""
    parents = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # it has ended meanwhile
            parents[int(entry.parent.name)] = int(entry.read_text().rpartition(")")[2].split()[1])
    found = {os.getpid()}
    while more := {pid for pid, parent in parents.items() if parent in found} - found:
        found |= more
    return found - {os.getpid()}


def peak_of(pid):
    """The most memory that a process has had [kB]; 0 where it has ended."""
    with suppress(OSError):
        for line in Path(f"/proc/{pid}/status").read_text("ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1])
    return 0


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no table of processes on this system")
def test_forty_rooms_are_taken_up_where_they_were_left_in_the_memory_of_ten(tmp_path):
    first, stopped, last = Watch(), Watch(15), Watch()
    solve_house(many(10), BaySolver(tmp_path / "ten", Pool(2), first), COARSE)
    ten, store = first.peaks(), tmp_path / "forty"
    with pytest.raises(KeyboardInterrupt):
        solve_house(many(40), BaySolver(store, Pool(2), stopped), COARSE)
    solver = BaySolver(store, Pool(2), last)
    plan = solve_house(many(40), solver, COARSE)
    assert len(plan.layouts[0].rooms) == 40
    assert solver.taken_up >= 15 * 4, "curves of four solves each that the stopped run had finished"
    curves = 40 * 4
    needed = solver.made + solver.taken_up - curves
    assert solver.asked == curves + 2 * needed, "as written and for the source: the same bay at the same flux, once"
    assert ten[1] > 20e3, "helpers were seen: an interpreter alone has ten thousand"
    for more, few in zip(last.peaks(), ten, strict=True):
        assert more < 1.3 * few
    third = BaySolver(store)
    assert solve_house(many(40), third, COARSE).layouts[0].supply == plan.layouts[0].supply and third.made == 0
