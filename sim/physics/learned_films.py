"""Films of a cavity with tubes in it, as computed flows taught them.

A wall face gives the air q = h (T_s − T_r). Film h and the air that it faces, T_r, follow from its role (sheathing
over a plate, upper side of a plate, tube …), from its place on the plan of plates and tubes, and from a few measures of
the cavity:

    T_r = T_zone + θ L,    L = T_hot − T_zone
    h = [ s⁴ + (a (L/10 K)^p)⁴ ]^¼,    a = exp(bounded Σ c g),    θ = Σ c φ g

T_hot is the mean of plates and tubes, L what drives the flow, θ how much of it a plume still carries where it meets the
face (negative where cool air lies), s conduction through half a gap. g are measures of the cavity, φ shapes on the plan
(`plumes`), c and p the coefficients of `learned_films.json`. h has no regimes and stays above s as L goes to 0.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief
from sim.physics import plumes
from sim.physics.plumes import PlumePlan

Array = NDArray[np.float64]

DATA = Path(__file__).with_suffix(".json")

OVER, OPEN, UPRIGHT, ABOVE, BELOW, TUBE, BOTTOM, STANDING = range(8)
"""Roles: sheathing over plates and elsewhere, upright walls, plates above and below, tubes, bottom, standing plates."""

SET_MESH = (1.5, 1.5, 6.0)
"""What the mesh of the computed bays still adds to heat up, heat down and ripple [%]: on cells half as large 39 of them
differ by no more in 19 of 20, once the mean of each law's (`Law.finer`) is taken out; still finer ones add some. Heat
down is taken to be off as heat up is."""

ROLES = 8
SITUATIONS = 4
"""Plates hung flat; bare tubes; plates and tubes at the sheathing; standing plates."""

USUAL_POWER = np.array([0.25, 0.25, 0.25, 0.25, 0.2, 0.25, 0.2, 0.25])
USUAL_FILM = np.array([4.0, 4.0, 1.5, 3.5, 1.0, 3.5, 0.6, 2.5])
"""Film of each role [W/m²K] at 10 K that the coefficients are relative to."""

BOUND = 2.5
"""Largest logarithm of a film over the usual one, reached softly."""

LEAD = 10.0
"""Temperature difference at which the coefficients a hold [K]."""

LEAST_LEAD = 0.05
"""Below this difference films no longer fall [K]."""

LEAST_FILM = 0.05
"""Film that conduction leaves where no gap is narrow [W/m²K]."""

SHINES = 0.5
"""Emissivity below which a bottom shines: all that taught have 0.9."""

GAP_AIR = 0.0275
"""Conductivity of the air in a gap [W/m K], at 50 °C."""


@dataclass(frozen=True, slots=True)
class Measures:
    """Measures of a cavity with tubes in it [m], shares [-].

    Attributes
    ----------
    drop : from the cavity's top to the plates, or to the middle of bare tubes
    height : of the air
    across : clear width for each tube
    open_across : share of that width without plate
    open_along : from a plate's end to the next
    length : of a plate; 0 without
    diameter : of the tubes
    place : of the tube below (−0.5) to above (0.5) its plate
    """

    drop: float
    height: float
    across: float
    open_across: float
    open_along: float
    length: float
    diameter: float
    place: float

    def all(self) -> dict[str, float]:
        """What films and shapes depend on, by the names in SHAPE_MEASURES and FILM_MEASURES: about −1 to 1."""
        drop, height, across = (
            float(np.log(size / usual))
            for size, usual in ((self.drop + 0.004, 0.035), (self.height, 0.10), (self.across, 0.18))
        )
        open_across, open_along = 2.0 * self.open_across - 1.0, float(2.0 * np.tanh(self.open_along / 0.05) - 1.0)
        return {
            "one": 1.0, "drop": drop, "height": height, "across": across, "open across": open_across,
            "open along": open_along, "place": self.place, "drop²": drop * drop, "height²": height * height,
            "drop · open across": drop * open_across, "drop · height": drop * height,
            "open across²": open_across * open_across, "open across · open along": open_across * open_along,
            "length": float(np.log(max(self.length, 0.05) / 0.2)) if self.length else 0.0,
            "diameter": float(np.log(self.diameter / 0.016)),
        }  # fmt: skip

    def for_shapes(self) -> Array:
        """What shapes depend on (SHAPE_MEASURES,) [-]."""
        found = self.all()
        return np.array([found[name] for name in SHAPE_MEASURES])

    def for_films(self) -> Array:
        """What films depend on (FILM_MEASURES,) [-]."""
        found = self.all()
        return np.array([found[name] for name in FILM_MEASURES])


SHAPE_MEASURES = ("one", "drop", "height", "across", "open across", "open along", "place", "drop²", "length")
FILM_MEASURES = (
    "one", "drop", "height", "across", "open across", "open along", "place", "drop²", "drop · open across",
    "drop · height", "open across²", "open across · open along", "length", "diameter", "height²",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Law:
    """Coefficients of one situation.

    Attributes
    ----------
    film : (9, films) logarithm of films by role; the last row is what a tube's film changes under a plate
    exchange : (films,) logarithm of what openings of gaps over plates exchange, over the usual law
    power : (8,) added to the usual powers
    excess : shapes of θ by role, (columns, shapes) each
    finer : factor on films that takes out what the cells of the computed bays had added
    sharper : factor on how far θ of the sheathing departs from its mean: fitted patterns come out too weak
    """

    film: Array
    exchange: Array
    power: Array
    excess: dict[int, Array]
    finer: float = 1.0
    sharper: float = 1.0


@dataclass(frozen=True, slots=True, repr=False)
class LearnedFilms(Brief):
    """What a law says of some wall faces, arrays (n,).

    `scale` film at 10 K [W/m²K], `power`, `still` conduction [W/m²K], `excess` θ; `group` the stretch of air that a
    face belongs to, `hot` its share in that stretch's mean temperature of plates and tubes; `taught` whether there is
    such a film at all;
    `bands` are the law's errors of heat up, heat down and ripple in 19 of 20 such bays that it was not fitted to, and
    `nearer` the share of computed bays nearer the middle of what was computed, both [%] (`learned_bands`).
    """

    scale: Array
    power: Array
    still: Array
    excess: Array
    group: NDArray[np.int64]
    hot: Array
    taught: NDArray[np.bool_]
    bands: tuple[float, float, float] = (0.0, 0.0, 0.0)
    nearer: float = 0.0

    def lead(self, surface: Array, air: Array) -> Array:
        """What drives the flow at every face, T_hot − T_zone [K]."""
        mean = np.bincount(self.group, self.hot * surface)
        return np.asarray(mean[self.group] - air)

    def flux(self, surface: Array, air: Array) -> tuple[Array, Array]:
        """Heat flux into the air [W/m²] and film [W/m²K] at surface and zone temperatures [K]."""
        lead = self.lead(surface, air)
        drive = np.sqrt(lead * lead + LEAST_LEAD**2) / LEAD
        film = (self.still**4 + (self.scale * drive**self.power) ** 4) ** 0.25
        return film * (surface - air - self.excess * lead), film


def film_columns(role: int, plan: PlumePlan, point: Array) -> Array:
    """What multiplies a role's rows of `Law.film` at points (n, 3) [m]: (n, columns) [-]."""
    one = np.ones(len(point))
    if role != TUBE:
        return one[:, None]
    return np.column_stack([one, plumes.tube_bells(plan, point[:, 0], point[:, 1], 0.01)[1]])


def excess_columns(role: int, plan: PlumePlan, measures: Measures, point: Array) -> Array | None:
    """Shapes of θ at points (n, 3): a, b, depth below the top [m]; None where a role has none."""
    a, b, depth = point.T
    one, drop = np.ones_like(a), measures.drop
    if role in (OVER, OPEN):
        tight, loose, wide = (0.004 + share * drop for share in (0.10, 0.30, 0.90))
        columns = [one, plumes.wall_bell(plan, a, 0.01 + 0.1 * drop), plumes.wall_bell(plan, a, 0.02 + 0.5 * drop)]
        columns += [plumes.cover(plan, a, b, tight), plumes.cover(plan, a, b, wide)]
        for width in (tight, loose, wide):
            columns += plumes.tube_bells(plan, a, b, width)
        for width in (tight, loose):
            columns += plumes.edge_bells(plan, a, b, width)
        return np.column_stack(columns)
    if role == UPRIGHT:
        low = np.exp((depth - measures.height) / 0.03)
        around = plumes.tube_bells(plan, a, b, 0.02 + 0.9 * drop)
        level = [depth / measures.height - 0.5, np.exp(-depth / 0.012), low, np.tanh((depth - drop) / 0.015)]
        return np.column_stack([one, *level, *around])
    if role == BOTTOM:
        around = plumes.tube_bells(plan, a, b, 0.04)
        return np.column_stack([one, plumes.cover(plan, a, b, 0.02), *around, plumes.wall_bell(plan, a, 0.03)])
    return one[:, None] if role == BELOW else None


def films_at(
    law: Law, plan: PlumePlan, measures: Measures, role: NDArray[np.int64], point: Array
) -> tuple[Array, Array, Array]:
    """Scale, power and θ [-], each (n,), of faces by role (n,) (−1: none) and place (n, 3) [m]."""
    scale, excess = np.zeros(len(role)), np.zeros(len(role))
    power = (USUAL_POWER + law.power)[role]
    films, shapes = measures.for_films(), measures.for_shapes()
    rows = law.film @ films
    for own in range(ROLES):
        on = np.flatnonzero(role == own)
        if len(on):
            used = rows[[own, ROLES]] if own == TUBE else rows[[own]]
            logarithm = film_columns(own, plan, point[on]) @ used
            scale[on] = law.finer * USUAL_FILM[own] * np.exp(BOUND * np.tanh(logarithm / BOUND))
            columns = excess_columns(own, plan, measures, point[on])
            if columns is not None:
                excess[on] = columns @ (law.excess[own] @ shapes)
    return scale, power, excess


def exchange_factor(law: Law, measures: Measures) -> float:
    """Factor on what the openings of a gap over a plate exchange [-]."""
    return float(np.exp(np.clip(measures.for_films() @ law.exchange, -4.0, 4.0)))


class LawData(TypedDict):
    """Coefficients of a law as the data file keeps them: (rows of) one each measure."""

    film: list[list[float]]
    exchange: list[float]
    power: list[float]
    excess: list[list[list[float]]]
    finer: float
    sharper: float


class BandData(TypedDict):
    """Where the computed bays of a kind lie, and how far off the law was among them."""

    bays: int
    measures: dict[str, list[float]]
    quantiles: list[float]
    farthest: float
    up: list[float]
    down: list[float]
    ripple: list[float]


class CorrelationsData(TypedDict):
    """What correlations were off among the computed bays of a kind."""

    bays: int
    up_percent: float
    down_percent: float
    ripple_percent: float
    up_computed: list[float]
    down_computed: list[float]
    ripple_computed: list[float]


class FitData(TypedDict):
    """How a law was fitted."""

    bays: int
    ridge: float
    coefficients: int


class LearnedData(TypedDict):
    """The data file."""

    made: str
    fits: list[FitData]
    laws: list[LawData]
    bands: dict[str, BandData]
    correlations: dict[str, CorrelationsData]


@lru_cache(maxsize=1)
def learned_data() -> LearnedData:
    """The data file: laws by situation, their range, errors, and how they were made."""
    found: LearnedData = json.loads(DATA.read_text("utf-8"))
    return found


@lru_cache(maxsize=SITUATIONS)
def learned_law(situation: int) -> Law:
    """The law of one of the SITUATIONS."""
    return law_from(learned_data()["laws"][situation])


def law_from(found: LawData) -> Law:
    """A law from its coefficients as the data file keeps them."""
    excess = {int(role): np.array(rows) for role, rows in enumerate(found["excess"]) if rows}
    film, exchange, power = (np.array(found[name]) for name in ("film", "exchange", "power"))
    return Law(film, exchange, power, excess, found["finer"], found["sharper"])
