"""Plate spacings to choose from, and the schemes under which a house is laid out: as written, and for each source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.case.constants import HOTTEST, ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.quantities import format_value
from sim.house.curve import Curve, OutOfRangeError
from sim.house.drop import entering_excess
from sim.house.sources import Source
from sim.rules.limits import hold, limits_for

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.house_case import House

RATIOS = (1.125, 1.5, 2.25, 3.0)
"""Usual plate spacings in plate lengths, besides none."""

_SAME = 1e-4
_CONDENSING_MARGIN = 0.1
"""The return is kept below the condensing limit by this much [K]."""


@dataclass(frozen=True, slots=True)
class Option:
    """A bay with one plate spacing [m] (None without plates), and its curve."""

    spacing: float | None
    case: Case
    curve: Curve


@dataclass(frozen=True, slots=True)
class Trial:
    """A spacing [m] that was tried, the supply that it needs [K] (NaN out of reach), and whether it works."""

    option: Option
    supply: float
    works: bool
    warm_enough: bool


@dataclass(frozen=True, slots=True)
class Scheme:
    """A way to lay the house out: its drop [K], the hottest supply [K] and why, and its source."""

    drop: float
    hottest: float
    why: str
    source: Source | None = None


def schemes(house: House, profiles: Sequence[Source]) -> tuple[Scheme, ...]:
    """The house as written, then one scheme for each source."""
    written = Scheme(house.design.drop, HOTTEST, "no source in mind")
    return (written, *(_for_source(house, source) for source in profiles))


def _for_source(house: House, source: Source) -> Scheme:
    wanted = next((entry for entry in house.sources if entry.name == source.name), None)
    drop = house.design.drop if wanted is None or wanted.drop is None else wanted.drop
    limits = [
        (source.highest_supply, "it makes no hotter water"),
        (house.design.water_limit, "limit for water to the floor (design.water_limit)"),
    ]
    if source.condenses_below is not None:
        condensing = source.condenses_below + drop - _CONDENSING_MARGIN
        limits.append((condensing, "so that its return is cool enough to condense"))
    if wanted is not None and wanted.supply is not None:
        limits.append((wanted.supply, "wanted in the house file"))
    hottest, why = min(limits, key=lambda limit: limit[0])
    return Scheme(drop, hottest, why, source)


def spaced(house: House, case: Case) -> list[tuple[float | None, Case]]:
    """A bay with every spacing [m] to choose from, the widest first; its own is among them."""
    if case.plates is None or case.tube.direction == "across":
        return [(None if case.plates is None else case.plates.spacing, case)]
    own = case.plates.spacing
    wanted = house.design.spacings or (*(ratio * case.plates.length for ratio in RATIOS), None)
    others = {round(value, 6) for value in wanted if value is not None and abs(value - own) > _SAME}
    widths = sorted({own, *(value for value in others if value >= case.plates.length)}, reverse=True)
    bare: list[tuple[float | None, Case]] = [(None, case.with_(plates=None))] if None in wanted else []
    return bare + [(width, case if width == own else case.with_(**{"plates.spacing": width})) for width in widths]


def check_spacings(house: House, cases: Sequence[Case]) -> None:
    """Raise `CaseError` for a spacing of the file that is shorter than every plate of the house."""
    lengths = [case.plates.length for case in cases if case.plates is not None]
    problems = [
        Problem(
            f"design.spacings[{number}]",
            format_value(spacing, "length"),
            f"the shortest plates of the house are {format_value(min(lengths), 'length')} long",
            "plates would overlap: leave it out",
        )
        for number, spacing in enumerate(house.design.spacings or ())
        if spacing is not None and lengths and spacing < min(lengths)
    ]
    if problems:
        raise CaseError(house.path or house.name, problems)


def try_options(options: Sequence[Option], flux: float, scheme: Scheme) -> tuple[Trial, ...]:
    """Every spacing held against a flux [W/m²] and a scheme, in the order given (the widest first)."""
    return tuple(_try(option, flux, scheme) for option in options)


def choose(trials: Sequence[Trial]) -> Trial:
    """The widest spacing that works; where none does the closest one that is warm enough, or else the closest."""
    working = [trial for trial in trials if trial.works]
    warm = [trial for trial in trials if trial.warm_enough]
    return working[0] if working else (warm or list(trials))[-1]


def _try(option: Option, flux: float, scheme: Scheme) -> Trial:
    room = float(option.case.room.temperature)
    try:
        excess = option.curve.excess_for(flux)
    except OutOfRangeError:
        return Trial(option, float("nan"), False, False)
    supply = room + entering_excess(excess, scheme.drop) if flux > 0.0 else room
    report = option.curve.report(excess) | {"water_supply_C": supply - ZERO_CELSIUS}
    warm = supply <= scheme.hottest
    kept = all(verdict.kept for verdict in hold(limits_for(option.case), report))
    return Trial(option, supply, warm and kept, warm)


def levels(house: House) -> Iterator[list[int]]:
    """Numbers of the rooms from the top of the house down: a room comes after all that lie above it."""
    above = {
        number: [other for other, upper in enumerate(house.rooms) if upper.below.room == room.name]
        for number, room in enumerate(house.rooms)
    }
    done: set[int] = set()
    while len(done) < len(house.rooms):
        ready = [number for number, uppers in above.items() if number not in done and done.issuperset(uppers)]
        yield ready
        done.update(ready)

