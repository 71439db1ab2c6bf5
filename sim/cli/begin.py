"""`joistbay begin`: a first case file to fill in."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from sim.cli.errors import UsageError
from sim.cli.options import WholeNumber

if TYPE_CHECKING:
    from sim.case.errors import CaseError

_OPTIONS = {
    "bay.joist_spacing": "--joists",
    "bay.joist_depth": "--depth",
    "bay.length": "--length",
    "floor.covering[0].material": "--covering",
    "tube.size": "--tube",
    "tube.runs": "--runs",
    "cavity.insulation.thermal_resistance": "--insulation",
    "cavity.insulation.thickness": "--insulation",
    "water.supply": "--supply",
    "room.temperature": "--room",
}
"""The option whose value a key of the file takes."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class BayAsked:
    """What the bay is like.

    Parameters
    ----------
    joists
        From joist centre to joist centre, such as "16 in" or 400mm.
    depth
        Height of the joists.
    length
        Of the bay, along the joists.
    covering
        What is walked on, such as oak, tile or carpet; none for a bare subfloor.
    plates
        Heat-transfer plates fastened under the subfloor, hung below it, or none.
    tube
        Its size, such as 1/2 or 16x2.
    runs
        Runs of tube in a bay.
    insulation
        Such as R-19, or a thickness; none for an empty bay.
    supply
        Temperature of the water, such as 120degF or 45degC.
    room
        Temperature of the room.
    below
        What lies under the bay.
    """

    joists: str | None = None
    depth: str | None = None
    length: str | None = None
    covering: str | None = None
    plates: Literal["fastened", "hung", "none"] | None = None
    tube: str | None = None
    runs: WholeNumber | None = None
    insulation: str | None = None
    supply: str | None = None
    room: str | None = None
    below: Literal["heated room", "unheated space", "outdoors", "adiabatic"] | None = None


USUAL = BayAsked()


def begin(
    file: Path | None = None,
    /,
    *,
    bay: BayAsked = USUAL,
    house: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    units: Literal["si", "ip"] | None = None,
) -> int:
    """Write a case file for an ordinary bay, to be filled in: every key with its meaning; it runs as it is.

    Parameters
    ----------
    file
        File to write, my-bay.toml when left out; one that is there is kept.
    house
        Write a house of two rooms as well, my-house.toml when left out, with its bay beside it.
    units
        Units of usual values; left out: inches and °F, or metric where an option says so.
    """
    from sim.case.errors import CaseError
    from sim.case.first_file import USUAL as SIZES
    from sim.case.first_file import FirstBay, first_text, written_in
    from sim.case.first_house import first_house
    from sim.case.quantities import parse

    wish = FirstBay(**asdict(bay))
    system = written_in(wish) if units is None else "SI" if units == "si" else "IP"
    file = _to_write(file or Path("my-house.toml" if house else "my-bay.toml"))
    place = _to_write(file.with_name(f"{file.stem}-bay.toml")) if house else file
    try:
        texts = {place: first_text(wish, system, str(place))}
    except CaseError as error:
        raise UsageError(_by_option(error)) from error
    if house:
        joists = parse(wish.joists or SIZES[system]["joists"], "length")
        texts[file] = first_house(system, str(file), place.name, joists)
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    _say_next(file, place, "ip" if system == "IP" else "si")
    return 0


def _to_write(file: Path) -> Path:
    """A file that is not there yet and can be written."""
    from sim.store.target import check_place

    file = file if file.suffix else file.with_name(f"{file.name}.toml")
    if os.path.lexists(file):
        raise UsageError(f"{file}: is there already and is kept; name another file, such as {file.stem}-2.toml")
    check_place(file)
    return file


def _say_next(file: Path, bay: Path, units: str) -> None:
    """What was written, and the commands that come next."""
    named = quote(str(file))
    if file == bay:
        print(f"Wrote {file}: an ordinary bay. Change what is otherwise in yours, then")
        print(f"  joistbay check {named}\n  joistbay run {named} --units {units}")
    else:
        print(f"Wrote {file}: a house of two rooms, and {bay}: their bay.")
        print("Change what is otherwise in yours, then")
        print(f"  joistbay house {named} --layout-only\n  joistbay house {named} --units {units}")


def _by_option(error: CaseError) -> str:
    """What does not fit, by the options that were typed; keys where it is of none of them."""
    lines = (f"begin: {_OPTIONS.get(problem.key, problem.key)} {problem}" for problem in error.problems)
    return "\n".join(lines)
