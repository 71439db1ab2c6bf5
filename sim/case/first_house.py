"""A first house file to fill in: two rooms over one bay, each line with its meaning."""

from __future__ import annotations

from shlex import quote
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.case.first_lines import Sections, System, nested, written_lines
from sim.case.house_case import House
from sim.case.messages import check

if TYPE_CHECKING:
    from collections.abc import Mapping

_HEAD = """\
# A house to fill in: one section [[room]] for each room that is heated from its bays, with its [[room.bays]]. Then
#   joistbay house {file} --layout-only    lays out bays and tube, without solving
#   joistbay house {file}                  gives water, plates, circuits and pump, and writes a page
# The bays are those of {bay}; what differs in a room stands in its covering or change.
# Plan: x to the right, y up, both from one corner of the house.
# "joistbay keys house" lists all keys.
"""

_WORDS = {
    "design": "the day that the heating is made for",
    "[source]": "a heat source; repeat this section to compare several",
    "[manifold]": "where circuits begin and end; one for each storey",
    "[room]": "",
    "[room.bays]": "bays side by side, all alike; repeat this section where a room has others",
    "[room] 2": "",
    "[room.bays] 2": "",
}

_OFFERED = {"design": ("drop", "glycol")}

_SIZES: Mapping[System, Mapping[str, str]] = MappingProxyType({
    "IP": {"outdoor": "10 degF", "supply": "115 degF", "room": "68 degF", "x2": "32 ft", "length": "12 ft",
           "mid": "31 ft", "riser": "3 ft", "load1": "4400 Btu/h", "load2": "3000 Btu/h", "carpet": "3/8 in"},
    "SI": {"outdoor": "-10 degC", "supply": "46 degC", "room": "20 degC", "x2": "10 m", "length": "4 m",
           "mid": "9.6 m", "riser": "1 m", "load1": "1300 W", "load2": "900 W", "carpet": "10 mm"},
})  # fmt: skip
"""An invented house."""


def first_house(system: System, name: str, bay: str, joists: float) -> str:
    """A house file that runs as it is.

    Parameters
    ----------
    system : "SI" or "IP"
        Its units.
    name, bay : str
        The file, and that of its bay, beside it.
    joists : float
        Distance of the joists [m].
    """
    data = _data(system, bay, joists)
    house = check(House, {**nested(data), "path": name}, name, {"from_text": True})
    return _HEAD.format(file=quote(name), bay=bay) + written_lines(house, data, _OFFERED, _WORDS, system)


WIDE = (9.0, 6.6)
"""Width of the two rooms [m]."""


def _data(system: System, bay: str, joists: float) -> Sections:
    size = _SIZES[system]
    data: Sections = {
        "": {"kind": "house", "title": "My house"},
        "design": {"outdoor": size["outdoor"]},
        "[source]": {"name": "heat pump", "supply": size["supply"]},
        "[manifold]": {"name": "G", "x": size["mid"], "y": "0 m", "riser": size["riser"]},
    }
    rooms = (("R1", "Living room", "0 m", size["load1"]), ("R2", "Bedroom", size["x2"], size["load2"]))
    for number, ((name, title, x, load), wide) in enumerate(zip(rooms, WIDE, strict=True)):
        mark = " 2" if number else ""
        room: dict[str, Any] = {"name": name, "title": title, "temperature": size["room"], "load": load, "case": bay}
        if number:
            room["covering"] = [{"material": "carpet", "thickness": size["carpet"]}]
        data[f"[room]{mark}"] = room
        count = max(int(wide / joists), 1)
        data[f"[room.bays]{mark}"] = {
            "count": count, "x": x, "y": "0 m", "along": "y", "length": size["length"]
        }
    return data
