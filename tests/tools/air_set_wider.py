"""Parts of the design of computed bays that go beyond what most people build, and fill what the first parts left thin.

Drops from 6 mm, air from 25 to 420 mm, plates 45 to 210 mm wide, up to 1.25 m long and far apart, upright ones of
every width, tubes at the sheathing over a lowered batt, tubes across through holes, joists at any spacing, rooms of 16
to 24 °C.
Whole families are held out here too: drops of 7.5 to 8.5 mm, air of 30 to 33 mm, plates 0.8 to 0.95 m long, joists 18.4
to 20.2 in apart, and what the first parts hold out (the one emissivity and covering, I-joists).
"""

from __future__ import annotations

from typing import Any

from air_set_design import (
    COVERINGS,
    FRESH,
    HELD_COVERING,
    HELD_EMISSIVITY,
    INCH,
    SPARED,
    TUBES,
    Bay,
    Part,
    log_between,
    pick,
    plates_text,
    tube_text,
)

HELD_DROPS, HELD_HEIGHTS, HELD_LENGTHS, HELD_JOISTS = (0.0075, 0.0085), (0.030, 0.033), (0.80, 0.95), (18.4, 20.2)
"""Families that never teach [m; joists in inches]."""

JOISTS = (12.0, 16.0, 24.0, 400.0 / 25.4, 600.0 / 25.4)
EMISSIVITIES = ((0.05, 0.45), (0.1, 0.1), (HELD_EMISSIVITY, 0.04), (0.9, 0.41))
HUNG = ("flat", "bare", "upright", "across")
PLATED = ("flat", "upright", "fastened", "across")


def wide_bay(part: Part, number: int, p: Any) -> Bay:
    """The bay at a point of the unit cube."""
    arrangement = pick(p[0], part.arrangements)
    joist = JOISTS[int(len(JOISTS) * 2.0 * p[1])] if p[1] < 0.5 else 11.0 + 28.0 * (p[1] - 0.5)
    i_joist = p[18] < part.i_joists
    clear = (joist - (2.5 if i_joist else 1.5)) * INCH
    runs = min(pick(p[2], ((1, 0.2), (2, 0.5), (3, 0.3))), int(clear / 0.11))
    size = pick(p[3], (("3/8", 0.2), ("1/2", 0.55), ("3/4", 0.25)))
    tube = TUBES[size]
    emissivity = pick(p[4], EMISSIVITIES)
    covering = pick(p[5], tuple((c[0], 0.05 if c[0] == HELD_COVERING else 0.16) for c in COVERINGS))
    drop = log_between(p[6], 0.006, 0.024) if p[20] < 0.55 else log_between(p[6], 0.024, 0.110)
    width = min(0.045 + 0.165 * p[7], clear / runs - 0.006)
    length = 0.10 + 0.50 * p[8] ** 1.5 if p[19] < 0.85 else 0.60 + 0.65 * p[8]
    apart = 0.0 if p[9] < 0.15 else log_between((p[9] - 0.15) / 0.85, 0.003, 0.65)
    placement = pick(p[10], (("below", 0.6), ("in", 0.2), ("above", 0.2)))
    if drop < {"below": 0.0, "in": 0.5 * tube + 0.004, "above": tube + 0.004}[placement]:
        placement = "below"
    depth_of = {"below": tube, "in": 0.5 * tube, "above": 0.0}[placement]
    if arrangement == "upright":
        drop = min(drop, 0.08)
    hung = {"flat": 0.001 + depth_of, "upright": width + (tube if placement == "below" else 0.0)}
    lowest = drop + (0.012 if arrangement == "across" else 0.0) if arrangement in HUNG else 0.0
    height = max(_height(p[11]), lowest + hung.get(arrangement, tube + 0.001) + 0.006)
    insulated = height < 0.12 or p[15] > 0.3
    parts = [
        f'[bay]\njoist_spacing = "{joist:.3f} in"\njoist_depth = "{1e3 * (height + 0.1 * insulated):.2f} mm"'
        + ('\njoist_kind = "i-joist"' if i_joist else ""),
        '[floor.sheathing]\nmaterial = "plywood"\nthickness = "3/4 in"',
        tube_text(arrangement, size, runs, placement, drop, p),
        f'[water]\nsupply = "{27.0 + 55.0 * p[12]:.2f} degC"\nflow = "1.8 l/min"',
        *_surroundings(p),
        *([f"[[floor.covering]]\n{words}"] if (words := dict(COVERINGS)[covering]) else []),
    ]
    if insulated:
        r_value = (8.0, 11.0, 19.0, 30.0)[int(4 * p[16])]
        parts.append(
            '[cavity.insulation]\nmaterial = "glass wool batt"\nthickness = "100 mm"\n'
            f'thermal_resistance = "R-{r_value:.0f}"'
        )
    plated = arrangement in PLATED and not (arrangement == "across" and p[17] < 0.5)
    if plated:
        parts.append(plates_text(arrangement, width, length, length + apart, drop, emissivity, clear))
    text = 'span = "pitch"\n' + "\n".join(parts) + "\n"
    facts = {
        "I-joists": i_joist, "emissivity": plated and emissivity == HELD_EMISSIVITY,
        "joist spacing": _in(joist, HELD_JOISTS), "covering": covering == HELD_COVERING,
        "drop": arrangement in HUNG and _in(drop, HELD_DROPS), "height": _in(height, HELD_HEIGHTS),
        "plate length": plated and _in(length, HELD_LENGTHS), SPARED_WORD: number % SPARED == 3,
    }  # fmt: skip
    why = next((word for word, held in facts.items() if held), "")
    return Bay(number, arrangement, text, FRESH if part.never else why)


SPARED_WORD = "spared"


def _in(value: float, ends: tuple[float, float]) -> bool:
    return ends[0] <= value <= ends[1]


def _height(at: float) -> float:
    """Of the air [m]: low, usual and high cavities."""
    if at < 0.35:
        return log_between(at / 0.35, 0.025, 0.060)
    return log_between((at - 0.35) / 0.25, 0.060, 0.210) if at < 0.60 else log_between((at - 0.6) / 0.4, 0.210, 0.420)


def _surroundings(p: Any) -> list[str]:
    """Room above, room or cold space below."""
    room = 16.0 + 8.0 * p[21]
    kind, cold = ("unheated space", 5.0 + 19.0 * p[14]) if p[13] < 0.5 else ("heated room", room)
    return [f'[room]\ntemperature = "{room:.2f} degC"', f'[below]\nkind = "{kind}"\ntemperature = "{cold:.2f} degC"']
