"""A first case file to fill in: an ordinary bay in inches or millimetres, every key with what it means.

What is stated are the values that were asked for and usual ones for the rest. Behind "# " stand keys that are left
out, with the value that holds without them: both are read off the checked case, so neither can be untrue.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from shlex import quote
from types import MappingProxyType

from sim.case.first_lines import Sections, System, nested, written_lines
from sim.case.load import AnyCase, parse_case
from sim.case.materials import find_material
from sim.case.quantities import UnitError, parse
from sim.case.writing import plain_toml


@dataclass(frozen=True, slots=True)
class FirstBay:
    """What somebody says of a bay, as typed; None stands for what is usual.

    Parameters
    ----------
    joists, depth, length : str or None
        Distance of the joists, their height, length of the bay.
    covering : str or None
        Its material, or "none".
    plates : str or None
        "fastened", "hung" or "none".
    tube : str or None
        Size.
    runs : int or None
        Runs of tube in a bay.
    insulation : str or None
        An R-value, a thickness, or "none".
    supply, room : str or None
        Temperatures of water and room.
    below : str or None
        What lies under the bay.
    """

    joists: str | None = None
    depth: str | None = None
    length: str | None = None
    covering: str | None = None
    plates: str | None = None
    tube: str | None = None
    runs: int | None = None
    insulation: str | None = None
    supply: str | None = None
    room: str | None = None
    below: str | None = None

    @property
    def typed(self) -> list[str]:
        """The texts that were given."""
        return [value for each in fields(self) if isinstance(value := getattr(self, each.name), str)]


USUAL: Mapping[System, Mapping[str, str]] = MappingProxyType({
    "IP": {
        "joists": "16 in", "depth": "9 1/4 in", "joist_width": "1 1/2 in", "length": "12 ft", "sheathing": "3/4 in",
        "plate_width": "5 in", "plate_length": "16 in", "plate_spacing": "18 in", "drop": "2 in", "low": "1 in",
        "tube": "1/2", "batt": "glass wool batt", "batt_thickness": "3 1/2 in", "batt_R": "R-13", "board": "1/2 in",
        "supply": "120 degF", "room": "68 degF", "unheated space": "50 degF", "outdoors": "10 degF",
    },
    "SI": {
        "joists": "400 mm", "depth": "220 mm", "joist_width": "45 mm", "length": "4 m", "sheathing": "18 mm",
        "plate_width": "120 mm", "plate_length": "390 mm", "plate_spacing": "450 mm", "drop": "50 mm", "low": "25 mm",
        "tube": "16x2", "batt": "mineral wool batt", "batt_thickness": "100 mm", "batt_R": "", "board": "12.5 mm",
        "supply": "48 degC", "room": "20 degC", "unheated space": "10 degC", "outdoors": "-10 degC",
    },
})  # fmt: skip
"""Usual values of an ordinary bay: common practice, no source. A batt without R-value has its material's own."""

_THIN = {"carpet": ("3/8 in", "10 mm"), "tile": ("3/8 in", "10 mm"), "vinyl": ("0.2 in", "5 mm"),
         "linoleum": ("0.1 in", "2.5 mm"), "laminate": ("5/16 in", "8 mm"), "cork": ("1/4 in", "6 mm"),
         "wool": ("3/8 in", "10 mm")}  # fmt: skip
"""Usual thickness of coverings by a word of their names, in inches and in mm; others are boards."""

_BOARD = ("3/4 in", "15 mm")

OFFERED: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "bay": ("joist_kind",),
    "plates": ("thickness", "material", "bond"),
    "tube": ("material",),
    "water": ("drop", "circuit_length", "glycol"),
    "below": ("temperature",),
})  # fmt: skip
"""Keys by section that are shown with the value which holds without them, where a bay reads them."""

_WORDS = {
    "bay": "the joists and the space between two of them",
    "[floor.covering]": "what is walked on; for further layers repeat this section, from the top down",
    "floor.sheathing": "the subfloor, on the joists",
    "plates": "heat-transfer plates; for a bare tube take this section out",
    "tube": "the tube that carries the warm water",
    "cavity.insulation": "between the joists, resting on what is below; for none take this section out",
    "ceiling": 'the board under the joists; for none put ceiling = "none" below title instead',
    "water": "",
    "room": "the room above",
    "below": "what lies under the bay",
}
"""What stands behind the heading of a section."""

_HEAD = """\
# A joist bay to fill in: change what is otherwise in yours. Then
#   joistbay check {file}    shows what will be modelled
#   joistbay run {file}      computes heat and temperatures, and writes a page
# Lengths are written as {lengths}, temperatures as {temperatures}.
# A key behind "# " is left out, and has the value that stands there; to change it, take the "# " away.
# "joistbay keys" lists all keys, "joistbay materials" all materials.
"""

WRITTEN: Mapping[System, tuple[str, str]] = MappingProxyType({
    "IP": ("16 in, 9 1/4 in, 12 ft 6 in or 400 mm", "120 degF or 50 degC"),
    "SI": ("400 mm, 1.5 m or 16 in", "50 degC or 120 degF"),
})  # fmt: skip


def first_text(wish: FirstBay, system: System, name: str) -> str:
    """A case file for an ordinary bay that runs as it is.

    Parameters
    ----------
    wish : FirstBay
        What is known of it.
    system : "SI" or "IP"
        Units of the usual values.
    name : str
        Of the file, for messages and for its own first lines.

    Raises
    ------
    CaseError
        What was asked for cannot be read, or does not fit together.
    """
    data = _data(wish, system)
    case = parse_case(plain_toml(nested(data)), name)
    lengths, temperatures = WRITTEN[system]
    head = _HEAD.format(file=quote(name), lengths=lengths, temperatures=temperatures)
    return f"{head}{written_lines(case, data, _offered(case), _WORDS, system)}"


def _offered(case: AnyCase) -> dict[str, tuple[str, ...]]:
    """Keys by section that are shown besides: those which this bay reads."""
    bay = case.joist_bay
    plates = ("orientation",) if bay and bay.plates is not None and bay.plates.hung else ("contact",)
    return {**OFFERED, "plates": (*OFFERED["plates"], *plates)}


def written_in(wish: FirstBay) -> System:
    """The units of what was typed: metric where it says so, else inch-pound.

    >>> written_in(FirstBay(joists="400 mm")), written_in(FirstBay(supply="120 degF"))
    ('SI', 'IP')
    """
    return "SI" if any(_METRIC.search(text) for text in wish.typed) else "IP"


_METRIC = re.compile(r"(\d ?(mm|cm|m)|(deg ?|°)C|^\d+x\d+)$")
"""How metric texts end; a tube of outer diameter x wall is metric too."""


def _data(wish: FirstBay, system: System) -> Sections:
    """Keys and values by section, in the order of the file; the section "" is the top."""
    usual = USUAL[system]
    below, depth = wish.below or "heated room", wish.depth or usual["depth"]
    bay: dict[str, object] = {
        "joist_spacing": wish.joists or usual["joists"],
        "joist_depth": depth,
        "joist_width": usual["joist_width"],
        "length": wish.length or usual["length"],
    }
    data: Sections = {"": {"title": "My bay"}, "bay": bay}
    if wish.covering != "none":
        data["[floor.covering]"] = _covering(wish.covering or "oak", system)
    data["floor.sheathing"] = {"material": "plywood", "thickness": usual["sheathing"]}
    if wish.plates != "none":
        data["plates"] = _plates(wish.plates or "fastened", depth, usual)
    data["tube"] = {"size": wish.tube or usual["tube"], "runs": 2 if wish.runs is None else wish.runs}
    batt = {} if wish.insulation == "none" else _insulation(wish.insulation, depth, usual)
    data["cavity.insulation"] = batt
    if below == "heated room" or not batt:  # something closes a bay from below
        data["ceiling"] = {"material": "gypsum board", "thickness": usual["board"]}
    else:
        data[""]["ceiling"] = "none"
    data["water"] = {"supply": wish.supply or usual["supply"]}
    data["room"] = {"temperature": wish.room or usual["room"]}
    cold = {"temperature": usual[below]} if below in usual else {}
    data["below"] = {"kind": below, **cold}
    return {section: keys for section, keys in data.items() if keys}


def _covering(material: str, system: System) -> dict[str, object]:
    """A covering of its usual thickness."""
    try:
        name = find_material(material).name
    except KeyError:
        name = material
    thickness = next((sizes for word, sizes in _THIN.items() if word in name), _BOARD)
    return {"material": material, "thickness": thickness[system == "SI"]}


def _plates(position: str, depth: str, usual: Mapping[str, str]) -> dict[str, object]:
    plates: dict[str, object] = {
        "position": position,
        "width": usual["plate_width"],
        "length": usual["plate_length"],
        "spacing": usual["plate_spacing"],
    }
    if position == "hung":
        plates["drop"] = usual["drop" if _metres(depth) > SHALLOW else "low"]
    return plates


SHALLOW = 0.19
"""Joists below it leave plates that hang lower no room above a batt [m]."""

LEAST_ROOM = 0.1
"""What tube and plates want above a batt [m]."""


def _insulation(asked: str | None, depth: str, usual: Mapping[str, str]) -> dict[str, object]:
    """The batt that was asked for, or the usual one where it leaves room above."""
    material: dict[str, object] = {"material": usual["batt"]}
    if asked:
        return material | {"thermal_resistance" if asked.lower().startswith("r") else "thickness": asked}
    if _metres(depth) < _metres(usual["batt_thickness"]) + LEAST_ROOM:
        return {}
    own: dict[str, object] = {"thermal_resistance": usual["batt_R"]} if usual["batt_R"] else {}
    return material | {"thickness": usual["batt_thickness"]} | own


def _metres(text: str) -> float:
    """A length [m]; what cannot be read is left to the case's own message."""
    try:
        return parse(text, "length")
    except UnitError:
        return 1.0
