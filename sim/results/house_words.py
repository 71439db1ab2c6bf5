"""What a layout of a house comes to, in computed words, from the values that `sim.house.verdict` gathers."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import TypedDict

Say = Callable[[str, float], str]
"""Writes a value with its unit; the key names the unit."""


class Spared(TypedDict):
    """The room with which the others would do, had the one that sets the water no say."""

    set_by: str
    supply_C: float


class Short(TypedDict):
    """A room that falls short."""

    room: str
    shortfall_W: float


class Broken(TypedDict):
    """A limit that a room breaks."""

    room: str
    what: str


class NoSay(TypedDict):
    """A room whose limits keep it from its load, whatever the water."""

    room: str
    limit: str
    most_W: float


class Lacking(TypedDict):
    """A room that gets less than it loses at some outdoor temperatures."""

    room: str
    least_percent: float
    most_percent: float
    points: int


class LayoutVerdict(TypedDict):
    """What a layout comes to."""

    set_by: str
    spared: Spared | None
    short: list[Short]
    limits: list[Broken]
    no_say: list[NoSay]
    not_kept: list[str]
    weather: list[Lacking]
    outdoors_C: list[float]


def full_name(name: str, title: str, gap: str = " ") -> str:
    """A room's name with its title; the title alone where it begins with the name.

    >>> full_name("R1", "Kitchen"), full_name("Mud", "Mud room"), full_name("Bath", "bath"), full_name("B", "Bath")
    ('R1 Kitchen', 'Mud room', 'Bath', 'B Bath')
    """
    if title.casefold() in ("", name.casefold()):
        return name
    return title if re.match(rf"{re.escape(name)}(?!\w)", title, re.IGNORECASE) else f"{name}{gap}{title}"


def plainly(key: str, value: float) -> str:
    """Watts and temperatures in SI as these sentences want them.

    >>> plainly("shortfall_W", 1250.4), plainly("supply_C", 47.0)
    ('1,250 W', '47.0 °C')
    """
    return f"{value:,.0f} W" if key.endswith("_W") else f"{value:.1f} °C"


MANY = 3
"""Of more rooms than this one sentence tells what holds for all."""


def in_words(found: LayoutVerdict, say: Say) -> str:
    """The design day in one or two sentences."""
    parts = [*_short_rooms(found["short"], say), *_held_back(found["no_say"], say)]
    if found["limits"]:
        told = (f"{row['room']}, {row['what']}" for row in found["limits"])
        parts.append(f"Limits broken: {'; '.join(told)}.")
    if found["not_kept"]:
        parts.append(f"Asked of the source and not kept: {', '.join(found['not_kept'])}.")
    if spared := found["spared"]:
        parts.append(
            f"{found['set_by']} sets the water and falls short all the same; the others would do with "
            f"{say('supply_C', spared['supply_C'])} ({spared['set_by']}). sets_water = false in its room leaves it out."
        )
    if not found["short"]:
        parts.insert(0, f"Every room has its load{', but:' if parts else ' within all limits.'}")
    return " ".join(parts)


def _short_rooms(short: list[Short], say: Say) -> Iterator[str]:
    """Who falls short, and by how much; many of them with their sum."""
    if len(short) > MANY:
        told = ", ".join(f"{row['room']} {say('shortfall_W', row['shortfall_W'])}" for row in short)
        total = say("shortfall_W", sum(row["shortfall_W"] for row in short))
        yield f"{len(short)} rooms fall short, by {total} in all: {told}."
    elif short:
        told = ", ".join(f"{row['room']} falls short by {say('shortfall_W', row['shortfall_W'])}" for row in short)
        yield f"{told}."


def _held_back(no_say: list[NoSay], say: Say) -> Iterator[str]:
    """What floors give at most within their limits; many with one limit in one sentence."""
    by_limit: dict[str, list[NoSay]] = {}
    for row in no_say:
        by_limit.setdefault(row["limit"], []).append(row)
    for limit, rows in by_limit.items():
        if len(rows) > MANY:
            told = ", ".join(f"{row['room']} {say('most_W', row['most_W'])}" for row in rows)
            yield f"No more within limits ({limit}) than: {told}."
        else:
            for row in rows:
                yield f"{row['room']}: no more than {say('most_W', row['most_W'])} within limits ({limit})."


_NOTHING_GIVEN = "At 0 % the water is too cool to warm the room: what heat it carries is lost down and at the edges."


def weather_words(found: LayoutVerdict) -> str:
    """Output against load by the weather, in one sentence."""
    count = len(found["outdoors_C"])
    if not found["weather"]:
        return f"At all {count} outdoor temperatures looked at the floors give what the rooms lose, or more."
    told = [*_shares(found["weather"], count)]
    always = all(row["points"] == count for row in found["weather"])
    words = f"Of what they lose, floors give only: {', '.join(told)}{'.' if always else '; elsewhere all of it.'}"
    nothing = any(row["least_percent"] < 0.5 for row in found["weather"])
    return " ".join([words, *([_NOTHING_GIVEN] if nothing else []), *_flatter(found)])


def _shares(lacking: list[Lacking], count: int) -> Iterator[str]:
    """What rooms get of what they lose, and at how many outdoor temperatures; many that agree in it at once."""
    by_points: dict[int, list[str]] = {}
    for row in lacking:
        least, most = f"{row['least_percent']:.0f}", f"{row['most_percent']:.0f}"
        share = f"{least} %" if least == most else f"{least} to {most} %"
        by_points.setdefault(row["points"], []).append(f"{row['room']} {share}")
    for points, rows in by_points.items():
        end = f"at {points} of {count} outdoor temperatures"
        if len(rows) > MANY:
            yield f"{end} {', '.join(rows)}"
        else:
            yield from (f"{row} {end}" for row in rows)


def _flatter(found: LayoutVerdict) -> list[str]:
    """That a flatter curve helps, where a supply too cool on the design day is led down in proportion all the same."""
    bound = {row["room"] for row in found["no_say"]}
    milder = {row["room"] for row in found["weather"] if row["points"] > 1} - bound
    helped = [row["room"] for row in found["short"] if row["room"] in milder]
    if not helped:
        return []
    return [
        "The curve falls in proportion from a supply too cool on the design day: a flatter one, no hotter than that "
        f"supply, gives more in milder weather ({', '.join(helped)})."
    ]


_TURNING = "elsewhere by up to 3 % where the flow turns from laminar to turbulent between their points."
"""Measured on three demo bays, 0.5 to 0.9 l/min, coarse: 2.0 % at most; above 2.5 % was seen in other houses."""


def solves_in_words(made: int, taken_up: int, asked: int, miss: float) -> str:
    """How many bay solves were made, taken up from an earlier run, and asked for; what curves miss of them [%].

    >>> solves_in_words(7, 0, 9, 0.26)[:64]
    '7 bay solves; 9 were asked for, the rest were alike. Curves miss'
    """
    earlier = f", {taken_up} taken up from earlier runs" if taken_up else ""
    held = f"Curves miss what was solved besides by {miss:.1f} % at most; {_TURNING}"
    return f"{made} bay solves{earlier}; {asked} were asked for, the rest were alike. {held}"
