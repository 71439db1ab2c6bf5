"""What keeps a solved bay within its limits, or how much it may still give: by proportion from its one solution.

The excess of every part over the room is taken to grow with the water's. At the floor's surface it grows a little
slower, for the floor gives its heat by a power of its excess (EN 1264-2: 8.92 ΔT^1.1 W/m²), while what lies between
water and surface is a resistance: the cooler water of both reckonings is told, the safe side. Where what lies below is
so cold that it takes much of the heat, nothing is in proportion to the water's excess over the room: then no number is
told. `joistbay water` solves what is only told here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Literal

from sim.case.constants import ZERO_CELSIUS
from sim.results.law_errors import drained
from sim.results.people import UNITS, Units, format_value

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.rules.limits import Verdict

Shown = Literal["si", "ip", "both"]

_FLUX, _SUPPLY, _MEAN = "heat_flux_up_W_m2", "water_supply_C", "surface_mean_C"
_SPOTS = ("surface_peak_C", "covering_peak_C")
_FLOOR_LAW = 1.1
"""Power of the floor's excess in its heat (EN 1264-2)."""
_COLD = 0.1
"""Heat that colder air below may take out of the room, as a share of the heat up: beyond it proportion misleads [-]."""
_OPEN = 25.0
"""Share of the heat down from which a bay without insulation is told to have some [%]; common practice, no source."""
_LEAST = 1.0
"""Water less than this over the room [K] heats nothing: no way out by cooler water is told."""


def ways_out(case: Case, report: Mapping[str, float], verdicts: Sequence[Verdict], units: Shown) -> list[str]:
    """What to do where a limit is broken; where all are kept, how far the water may rise and what the floor then gives.

    Parameters
    ----------
    case : the bay that was solved.
    report : its report; without upward heat, or with water below the room, nothing is told.
    verdicts : its limits beside what was found.
    units : "si", "ip" or "both".
    """
    room = float(case.room.temperature) - ZERO_CELSIUS
    excess = report.get(_SUPPLY, room) - room
    if excess < _LEAST or report.get(_FLUX, 0.0) <= 0.0:
        return []
    reached = [(water, verdict) for verdict in verdicts if (water := _water_at(verdict, room, excess)) is not None]
    broken = [verdict for verdict in verdicts if not verdict.kept]
    if not reached or (broken and all(verdict not in broken for _, verdict in reached)):
        return []
    water, first = min(reached, key=lambda pair: pair[0])
    if water - room < _LEAST:
        return [*_even(case, report, broken, units)] if broken else []
    if drained(case, report) > _COLD:
        return [*_unscaled(first, broken), *_even(case, report, broken, units), *_insulate(case, report, units)]
    flux = report[_FLUX] * (water - room) / excess
    numbers = _about_water(water, units), _about(_FLUX, flux, units)
    if not broken:
        what = "the most within all limits (by proportion; joistbay water solves it)"
        reached_first = f"The first limit reached is {first.limit.what}, with water of about {numbers[0]}"
        return [f"{reached_first}: about {numbers[1]}, {what}.", *_insulate(case, report, units)]
    solved = "(by proportion; joistbay water solves it)"
    cooler = f"To keep all limits: water of at most about {numbers[0]}, which gives about {numbers[1]} {solved}."
    return [cooler, *_even(case, report, broken, units), *_insulate(case, report, units)]


def _unscaled(first: Verdict, broken: Sequence[Verdict]) -> list[str]:
    """What limits a bay of whose heat much goes down to the cold."""
    name = first.limit.what
    what = f"To keep {name} within its limit: cooler water" if broken else f"The first limit reached is {name}"
    return [f"{what}; joistbay water says at which (so much goes down to the cold that proportion misleads)."]


def _insulate(case: Case, report: Mapping[str, float], units: Shown) -> Iterator[str]:
    """What a bay without insulation loses."""
    share = report.get("share_down_percent", 0.0)
    if case.cavity.insulation is None and share > _OPEN:
        lost = format_value("share_down_percent", share, units)
        yield (
            f"No insulation lies in this bay and {lost} of the heat goes down: insulate below tube and plates, unless "
            "what lies below is to be warmed."
        )


def _water_at(verdict: Verdict, room: float, excess: float) -> float | None:
    """Supply [°C] at which a limit is reached, by proportion; None where its number does not follow the water."""
    limit = verdict.limit
    if limit.key == _SUPPLY:
        return limit.highest
    if verdict.value - limit.unheated <= 0.0:
        return None
    found = verdict.value - limit.unheated
    share = (limit.highest - limit.unheated) / found
    straight = excess * share
    if limit.key not in (*_SPOTS, _MEAN) or share <= 0.0:
        return room + straight
    return room + min(straight, share * found + (excess - found) * share**_FLOOR_LAW)


def _even(case: Case, report: Mapping[str, float], broken: Sequence[Verdict], units: Shown) -> Iterator[str]:
    """What else than cooler water keeps a limit at the same heat, and what does not."""
    spots = [verdict for verdict in broken if verdict.limit.key in _SPOTS]
    if case.floor.rugs and any(verdict.limit.key == "covering_peak_C" for verdict in spots):
        yield "Under a rug the covering is warmest: leave the rug out, or choose a thinner one."
    elif spots:
        mean, highest = report.get(_MEAN, math.nan), min(verdict.limit.highest for verdict in spots)
        shown = format_value(_MEAN, mean, units)
        if mean > highest:
            yield (
                f"No plates help at this heat: its mean floor of {shown} is over the limit too; what the room needs "
                "beyond has to come from elsewhere, or its losses have to fall."
            )
            return  # by cooler water neither
        elif mean < highest:
            even = eveners(case)
            said = ", or ".join(even) + ("," if len(even) > 1 else "")
            yield f"At the same heat {said} would even out its warmest spots: its mean of {shown} is within."
    if any(verdict.limit.key == _SUPPLY for verdict in broken):
        thinner = ["a thinner covering"] if case.floor.coverings else []
        yield f"With cooler water the same heat needs {', or '.join([*eveners(case), *thinner])}."


def eveners(case: Case) -> list[str]:
    """What spreads heat better than this bay does."""
    return ["plates" if case.plates is None else "closer or wider plates", *more_tube(case)]


def more_tube(case: Case) -> list[str]:
    """More tube than a bay has, where that is easily had."""
    if case.tube.direction == "across":
        return ["runs closer together"]
    return [] if len(case.tube.positions or ()) > 1 else ["a second run"]


def _about(key: str, value: float, units: Shown) -> str:
    """A number to whole units: it is no result."""
    systems: tuple[Units, ...] = ("si", "ip") if units == "both" else (units,)
    unit = UNITS["W_m2"] if key == _FLUX else UNITS["C"]
    texts = [f"{math.floor(unit.convert(value, system) + 1e-6)} {unit.name(system)}" for system in systems]
    return texts[0] if len(texts) == 1 else f"{texts[0]} ({texts[1]})"


def _about_water(water: float, units: Shown) -> str:
    """A supply temperature to whole degrees, downwards: the safe side."""
    return _about(_SUPPLY, water, units)
