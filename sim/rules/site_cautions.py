"""Cautions for the site: holes, nails, treated lumber, pressure test, frost.

Each function takes a `Situation` and yields a caution where its number calls for one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.rules.boring import HOLE_MARGIN, SOURCE, Boring, boring_of
from sim.rules.caution import NO_SOURCE, Caution, Situation

NAIL = 0.0508
"""Usual length of flooring nails and screws [m]: 2 in, common practice, no source."""

RELIEF = 2.07
"""Pressure at which the relief valve of a small heating system opens [bar]: 30 psi, common practice, no source."""

TEST_LEAST, TEST_FACTOR, TEST_MINUTES = 6.9, 1.5, 15
"""Pressure test of the residential code: at least this [bar, 100 psi], at least so many times the design pressure."""

NO_HOLE = 1e-3
"""A hole smaller than this is none [m]."""

FREEZES = ((0.0, 0.1, 0.2, 0.3, 0.4, 0.5), (0.0, -3.3, -7.1, -12.7, -21.1, -33.5))
"""Mass shares of propylene glycol in water, and where the mixture begins to freeze [°C]."""

FREEZES_SOURCE = "ASHRAE Handbook, Fundamentals 2009, ch. 31, propylene glycol (from memory)"


def proof_pressure(design: float = RELIEF) -> float:
    """Pressure of the test before the bays are closed [bar] for a design pressure [bar].

    Examples
    --------
    >>> proof_pressure(2.07), round(proof_pressure(5.0), 1)
    (6.9, 7.5)
    """
    return max(TEST_LEAST, TEST_FACTOR * design)


def holes(at: Situation) -> Iterator[Caution]:
    """Holes by which the tube passes from bay to bay."""
    boring = boring_of(at.case)
    hole = at.length(boring.hole)
    if at.case.bay.joist_kind == "i-joist":
        text = f"holes of {hole}: I-joists may be bored only as their maker says; never cut a flange"
        rule = "International Residential Code 2021, R502.8.2"
        yield Caution("bored I-joists", text, rule, "hole_mm", 1e3 * boring.hole, 0.0)
        return
    text, weight = _boring_text(at, boring), boring.hole / max(boring.largest_hole, NO_HOLE)
    yield Caution("bored joists" if boring.allowed else "holes too large", text, SOURCE, "hole_mm",
                  1e3 * boring.hole, 1e3 * boring.largest_hole, not boring.allowed, weight)


def _boring_text(at: Situation, boring: Boring) -> str:
    """What sawn joists of this depth may have."""
    hole, depth = at.length(boring.hole), at.length(boring.depth)
    largest, notch, end, long = (
        at.length(value, "down")
        for value in (boring.largest_hole, boring.deepest_notch, boring.deepest_end_notch, boring.longest_notch)
    )
    centre, apart = (at.length(value, "up") for value in (boring.nearest_centre, boring.centre_spacing))
    if boring.largest_hole < NO_HOLE:
        left = at.length(HOLE_MARGIN, "up")
        return f"no hole at all in joists of {depth}, for {left} must stay above and below; lead the tube another way"
    beginning = f"holes of {hole} in joists of {depth}: at most {largest}"
    if not boring.allowed:
        return f"{beginning}; bore smaller holes, use thinner tube or another way"
    return (
        f"{beginning}, centres {centre} or more from top and bottom and {apart} or more apart; notches at most {notch} "
        f"deep and {long} long, none in the middle third of the span, {end} deep at the ends; keep fire blocking whole"
    )


def nails(at: Situation) -> Iterator[Caution]:
    """Nails and screws that reach the tube from above."""
    floor, plates = at.case.floor, at.case.plates
    below = float(plates.drop) if plates else float(at.case.tube.depth)
    cover = sum(float(layer.thickness) for layer in (*floor.coverings, floor.sheathing)) + below
    if cover < NAIL:
        text = (
            f"only {at.length(cover, 'down')} from the top of the floor to plate or tube: a nail of "
            f"{at.length(NAIL)} reaches it; choose shorter ones, keep the tube under pressure while "
            "the floor is laid, clip nail points from older floors, leave a plan of the tube"
        )
        yield Caution("nails and screws", text, NO_SOURCE, "cover_mm", 1e3 * cover, 1e3 * NAIL)


def treated_lumber(at: Situation) -> Iterator[Caution]:
    """Aluminium and plain steel against wood that may be treated."""
    plates = at.case.plates
    if plates is not None and plates.material.startswith("aluminium") and plates.drop <= 0.0:
        text = (
            "aluminium lies on wood: lumber treated with copper preservative, and wet cement, eat it; put a barrier "
            "between; fasteners in such lumber are stainless or hot-dip galvanised steel"
        )
        source = "trade press on treated lumber; International Residential Code 2021, R317.3 (from memory)"
        yield Caution("treated lumber", text, source, "gap_mm", 1e3 * float(plates.drop), 0.0)


def pressure_test(at: Situation) -> Iterator[Caution]:
    """Test before anything is closed."""
    bar = proof_pressure()
    if at.report.get("tube_m_per_m2", 1.0) > 0.0:
        text = (
            f"test with at least {at.say('bar', bar)} for {TEST_MINUTES} minutes before the bays are closed, and hold "
            "pressure while floors are nailed; plastic tube gives way at first and the gauge follows the temperature; "
            "compressed air stores energy: low pressure and soap first, stand clear"
        )
        source = "International Residential Code 2018, M2101.10; EN 1264-4:2021 (4 to 6 bar with water)"
        yield Caution("pressure test", text, source, "pressure_bar", bar, TEST_LEAST)


def frost(at: Situation) -> Iterator[Caution]:
    """Water over a place that is colder than it freezes."""
    below, glycol = float(at.case.below.temperature) - ZERO_CELSIUS, float(at.case.water.glycol)
    freezes = freezing_point(glycol)
    if at.case.below.kind in ("unheated space", "outdoors") and below < freezes:
        mixed = f"{100.0 * glycol:.0f} % glycol in it, which freezes from {at.say('C', freezes)} on: it does so"
        text = (
            f"{at.say('C', below)} below the bay and {mixed if glycol else 'plain water in it: it freezes'} where "
            f"circulation stops; insulate, keep air from blowing through, or use {'more' if glycol else 'propylene'} "
            "glycol that suits the source"
        )
        yield Caution("frost", text, FREEZES_SOURCE if glycol else NO_SOURCE, "below_C", below, freezes)


def freezing_point(glycol: float) -> float:
    """Where water with a mass share of propylene glycol begins to freeze [°C].

    Examples
    --------
    >>> freezing_point(0.0), freezing_point(0.25)
    (0.0, -9.9)
    """
    return round(float(np.interp(glycol, FREEZES[0], FREEZES[1])), 1)


RULES = (holes, nails, treated_lumber, pressure_test, frost)
"""All of them, in the order in which they are told."""
