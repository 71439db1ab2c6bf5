"""The design of the set of computed bays that teach the films: which bays, and which of them are never fitted.

A low-discrepancy sequence fills the ranges of what people build, so that any first part of the design fills them too.
Every bay is one plate pitch (bare tube: a stretch of 0.3 m), bounded by planes of symmetry. Whole families (one drop,
one joist spacing, one emissivity, one covering, half of the upright plates, I-joists) and some others are held out.

Five parts. The first (numbers from 0) is mostly plates hung flat, the second (from 1000) has what the first has few of
and wider ranges; the third (from 2000), drawn by a seed of its own from the ranges of both, is never fitted, and nobody
looked at how films do there before form and ridge of the law were settled. The fourth (from 3000) fills what is thin
and goes farther (`air_set_wider.py`); the fifth (from 4000), by a seed of its own and never fitted, is as wide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import qmc

SEED = 14
FRESH = "fresh"
INCH = 0.0254
TUBES = {"3/8": 0.0127, "1/2": 0.0159, "3/4": 0.0222}
COVERINGS = (
    ("bare", ""),
    ("vinyl", 'material = "vinyl plank"\nthickness = "5 mm"'),
    ("tile", 'material = "ceramic tile"\nthickness = "9 mm"'),
    ("oak", 'material = "oak"\nthickness = "19 mm"'),
    ("laminate", 'material = "laminate"\nthickness = "8 mm"'),
    ("cork", 'material = "cork flooring"\nthickness = "11 mm"'),
    ("carpet", 'material = "carpet"\nthickness = "16 mm"\nthermal_resistance = "0.25 m^2*K/W"'),
)
ARRANGEMENTS = (
    ("flat", 0.62), ("bare", 0.12), ("upright", 0.07), ("fastened", 0.07), ("sheathing", 0.05), ("across", 0.07),
)  # fmt: skip
MORE = (
    ("flat", 0.27), ("bare", 0.08), ("upright", 0.2), ("fastened", 0.12), ("sheathing", 0.13), ("across", 0.2),
)  # fmt: skip
LAST = (
    ("flat", 0.52), ("bare", 0.13), ("upright", 0.1), ("fastened", 0.07), ("sheathing", 0.06), ("across", 0.12),
)  # fmt: skip
THIN = (
    ("flat", 0.33), ("bare", 0.13), ("upright", 0.24), ("fastened", 0.06), ("sheathing", 0.11), ("across", 0.13),
)  # fmt: skip
BUILT = (
    ("flat", 0.40), ("bare", 0.14), ("upright", 0.16), ("fastened", 0.08), ("sheathing", 0.09), ("across", 0.13),
)  # fmt: skip
"""How often each arrangement comes in the parts."""

HELD_EMISSIVITY, HELD_JOIST, HELD_COVERING, HELD_DROP = 0.3, 19.2, "cork", (0.030, 0.034)
SPARED = 7
"""Besides whole families one bay in so many is held out."""


@dataclass(frozen=True, slots=True)
class Bay:
    """One bay of the set: number, arrangement, the text of its case, and why it is never fitted ("": it is)."""

    number: int
    arrangement: str
    text: str
    held: str


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the design: its first number and seed, arrangements, ends of what is wider in later parts [m].

    Those that are `wide` come from `air_set_wider`; one that is `never` to teach is held out as a whole.
    """

    first: int
    seed: int
    arrangements: tuple[tuple[str, float], ...]
    farthest: float = 0.50
    highest: float = 0.250
    i_joists: float = 0.0
    wide: bool = False
    never: bool = False


PARTS = (
    Part(0, SEED, ARRANGEMENTS),
    Part(1000, SEED + 1, MORE, 0.90, 0.300, 0.12),
    Part(2000, 20261128, LAST, 0.90, 0.300, never=True),
    Part(3000, 20261129, THIN, wide=True),
    Part(4000, 20261130, BUILT, i_joists=0.08, wide=True, never=True),
)


def design(count: int, part: int = 0) -> list[Bay]:
    """The first bays of a part of the design; those of a shorter design come first in a longer one."""
    from air_set_wider import wide_bay

    own = PARTS[part]
    # seventeen places for the lengths, then those that only later parts have: the first part stays what it was
    sizes = 22 if own.wide else 18 + (part > 0)
    points = qmc.Sobol(sizes, scramble=True, seed=own.seed).random(1 << max(count - 1, 1).bit_length())
    bay_at = wide_bay if own.wide else _bay
    return [bay_at(own, own.first + number, point) for number, point in enumerate(points[:count])]


def pick(at: float, choices: Any) -> Any:
    """The choice at a point of [0, 1), each as likely as its weight."""
    ends = np.cumsum([weight for _, weight in choices])
    return choices[min(int(np.searchsorted(ends / ends[-1], at, "right")), len(choices) - 1)][0]


def log_between(at: float, low: float, high: float) -> float:
    return float(low * (high / low) ** at)


def _bay(part: Part, number: int, p: Any) -> Bay:
    arrangement = pick(p[0], part.arrangements)
    joist = pick(p[1], ((12.0, 0.22), (16.0, 0.45), (HELD_JOIST, 0.06), (24.0, 0.27)))
    i_joist = len(p) > 18 and p[18] < part.i_joists
    clear = (joist - (2.5 if i_joist else 1.5)) * INCH
    runs = pick(p[2], ((1, 0.2), (2, 0.6), (3, 0.2)))
    runs = min(runs, int(clear / 0.11))
    tube = pick(p[3], (("3/8", 0.2), ("1/2", 0.6), ("3/4", 0.2)))
    emissivity = pick(p[4], ((0.05, 0.6), (HELD_EMISSIVITY, 0.06), (0.9, 0.34)))
    covering = pick(p[5], tuple((c[0], 0.05 if c[0] == HELD_COVERING else 0.16) for c in COVERINGS))
    drop = log_between(p[6], 0.012, 0.100)
    width = min(0.060 + 0.140 * p[7], clear / runs - 0.006)
    length = 0.10 + 0.50 * p[8] ** 2
    ratio = 1.0 + max(0.0, 2.2 * p[9] - 0.2)
    spacing = max(length, min(length * ratio, part.farthest))
    placement = pick(p[10], (("below", 0.7), ("in", 0.15), ("above", 0.15)))
    if drop < TUBES[tube] + 0.004 and placement == "above":
        placement = "below"
    below_plate = TUBES[tube] * {"below": 1.0, "in": 0.5, "above": 0.0}[placement]
    hung = {"flat": 0.001 + below_plate, "upright": width + TUBES[tube]}
    lowest = {"flat": drop, "upright": min(drop, 0.06), "bare": drop, "across": drop + 0.01}.get(arrangement, 0.0)
    if arrangement == "upright":
        drop, width = lowest, min(width, 0.12)
        hung["upright"] = width + (TUBES[tube] if placement == "below" else 0.0)
    below_all = lowest + hung.get(arrangement, TUBES[tube] + 0.001)
    height = max(log_between(p[11], 0.040, part.highest), below_all + 0.012)
    supply = 30.0 + 50.0 * p[12]
    flux_below = pick(p[13], (("unheated space", 0.5), ("heated room", 0.5)))
    cold = 5.0 + 19.0 * p[14] if flux_below == "unheated space" else 20.0
    insulated = p[15] > 0.12 or height < 0.12
    r_value = (8.0, 11.0, 19.0, 30.0)[int(4 * p[16])]
    parts = [
        f'[bay]\njoist_spacing = "{joist} in"\njoist_depth = "{1e3 * (height + (0.1 if insulated else 0.0)):.2f} mm"'
        + ('\njoist_kind = "i-joist"' if i_joist else ""),
        "[floor.sheathing]\nmaterial = \"plywood\"\nthickness = \"3/4 in\"",
        tube_text(arrangement, tube, runs, placement, drop, p),
        f'[water]\nsupply = "{supply:.2f} degC"\nflow = "1.8 l/min"',
        '[room]\ntemperature = "20 degC"',
        f'[below]\nkind = "{flux_below}"\ntemperature = "{cold:.2f} degC"',
    ]
    if words := dict(COVERINGS)[covering]:
        parts.append(f"[[floor.covering]]\n{words}")
    if insulated:
        parts.append(
            '[cavity.insulation]\nmaterial = "glass wool batt"\nthickness = "100 mm"\n'
            f'thermal_resistance = "R-{r_value:.0f}"'
        )
    if arrangement not in ("bare", "sheathing") and not (arrangement == "across" and p[17] < 0.5):
        parts.append(plates_text(arrangement, width, length, spacing, drop, emissivity, clear))
    text = 'span = "pitch"\n' + "\n".join(parts) + "\n"
    why = "I-joists" if i_joist else _held(number, arrangement, joist, emissivity, covering, drop)
    return Bay(number, arrangement, text, FRESH if part.never else why)


def tube_text(arrangement: str, size: str, runs: int, placement: str, drop: float, p: Any) -> str:
    lines = ["[tube]", f'size = "{size}"']
    if arrangement == "across":
        lines += ['direction = "across"', f'across_spacing = "{1e3 * (0.15 + 0.3 * p[17]):.1f} mm"']
        if p[17] < 0.5:
            lines.append(f'depth = "{1e3 * (drop + 0.012):.2f} mm"')
        return "\n".join(lines)
    lines.append(f"runs = {runs}")
    if arrangement == "bare":
        lines.append(f'depth = "{1e3 * drop:.2f} mm"')
    elif arrangement in ("flat", "upright"):
        lines.append(f'placement = "{placement}"')
    return "\n".join(lines)


def plates_text(
    arrangement: str, width: float, length: float, spacing: float, drop: float, emissivity: float, clear: float
) -> str:
    lines = ["[plates]", 'thickness = "0.5 mm"\nbond = "snug"\nmaterial = "aluminium 3003"']
    lines.append(f"emissivity_up = {emissivity}\nemissivity_down = {emissivity}")
    if arrangement == "across":
        length = min(length, clear - 0.02)
        return "\n".join([
            *lines, f'position = "hung"\ndrop = "{1e3 * (drop + 0.011):.2f} mm"',
            f'width = "{1e3 * min(width, 0.14):.1f} mm"',
            f'length = "{1e3 * length:.1f} mm"',
        ])  # fmt: skip
    lines.append(f'width = "{1e3 * width:.1f} mm"\nlength = "{1e3 * length:.1f} mm"')
    lines.append(f'spacing = "{1e3 * spacing:.1f} mm"')
    if arrangement == "fastened":
        return "\n".join([*lines, 'position = "fastened"\ncontact = "tight"'])
    lines.append(f'position = "hung"\ndrop = "{1e3 * drop:.2f} mm"')
    return "\n".join([*lines, *(['orientation = "upright"'] if arrangement == "upright" else [])])


def _held(number: int, arrangement: str, joist: float, emissivity: float, covering: str, drop: float) -> str:
    """Why a bay is never fitted; empty for those that teach."""
    if arrangement == "upright" and number % 2:
        return "upright"
    plated = arrangement not in ("bare", "sheathing")
    if plated and emissivity == HELD_EMISSIVITY:
        return "emissivity"
    if joist == HELD_JOIST:
        return "joist spacing"
    if covering == HELD_COVERING:
        return "covering"
    if arrangement in ("flat", "bare") and HELD_DROP[0] <= drop <= HELD_DROP[1]:
        return "drop"
    return "spared" if number % SPARED == 3 else ""
