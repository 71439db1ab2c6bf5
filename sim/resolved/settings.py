"""How computed air is to be computed: the sizes of its cells, and when its means are good enough."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sim.airflow.flow import AirProperties, air_at
from sim.resolved.domain import AirSizes
from sim.resolved.means import BATCHES, LEAST_ROUNDS
from sim.resolved.thinner import FilmBound, free_bound

ROUNDS_A_RENEWAL = 4
"""Rounds in the time in which the walls' films would renew the heat of the cavity's air."""

FORGET = 0.3
"""Weight of a new round in the running mean that the solids answer to."""

RESIDUAL, ONE_PASS = 1e-4, 1e-3
"""What an answer may leave: usually after two passes, and where flow costs less than answers after one. A pass leaves a
hundredth of what a round changes (2.6e-2 becomes 2.6e-4 in a kitchen), which the next takes up; the last is exact."""

MOST_STARTS = 2
"""Starts of a flow at most."""


@dataclass(frozen=True, slots=True)
class RoundLength:
    """Rounds so many times longer than usual, the weight of a new one, and how many a window must hold."""

    times: float
    forget: float
    least: int


LONG, LONGEST = RoundLength(2.0, 0.4, 3 * BATCHES), RoundLength(3.0, 0.5, 2 * BATCHES)
"""Rounds where flow costs less than the solids' answers, the longer the larger the solids are: fewer of them average
as long as usual ones or longer. Their weight is larger, as each is better known; with the least answer of a film
(`march.STIFFNESS`) anything below two thirds is stable."""

MANY_CELLS = 500_000
"""Cells of solids from which rounds are the longest: in a whole bay of 1.7 million an answer takes seven times as long
as a round of flow on a device, in pitches about as long."""


@dataclass(frozen=True, slots=True)
class AirSettings:
    """How finely and how long the flow is computed.

    Attributes
    ----------
    sizes : AirSizes
    slip : sides that are planes of symmetry
    subgrid : bool
        Vreman's model of eddies finer than the cells.
    scheme : "bounded" or "central"
        Advection of heat.
    error, imbalance : float
        Standard error of the mean heat flows, and mean imbalance over the heat supplied, at which to stop.
    longest : float [s]
        Simulated time at which to stop in any case.
    frames : (count, until [s])
        Pictures of the start to keep.
    air : callable
        Properties of the air from the mean temperature of the cavity [K]; by default those of real air.
    companion : bool
        Whether the air is computed on larger cells first, which bounds what the mesh costs.
    errors : bool
        Whether the errors of all numbers are worked out at the end.
    loss : FilmBound
        Bound on the share of a film that the mesh may be off by; see `sim.resolved.thinner`.
    unseen : float
        Share of the floor's ripple that stays open where no companion tells of it; see `sim.resolved.unseen`.
    mirrors : tuple of int
        Axes across which halves that mirror each other are averaged.
    map_path : str
        Path of the outer surface whose ripple is to be known before the run ends; empty: none.
    starts : int
        Starts of the flow that differ in their random warmth, MOST_STARTS at most. On a device always one.
    rounds_a_renewal, least_rounds : float, int
        Rounds in the time in which films would renew the air's heat, and how many the windows must hold to count.
    forget : float
        Weight of a new round in the running mean that the solids answer to.
    residual : float
        Share of the heat supplied that an answer within a round may leave unbalanced, summed over cells.
    """

    sizes: AirSizes
    slip: tuple[str, ...] = ()
    subgrid: bool = True
    scheme: str = "bounded"
    error: float = 0.01
    imbalance: float = 0.01
    longest: float = 600.0
    frames: tuple[int, float] = (0, 0.0)
    air: Callable[[float], AirProperties] = air_at
    companion: bool = True
    errors: bool = True
    loss: FilmBound = free_bound("bounded")
    unseen: float = 0.0
    mirrors: tuple[int, ...] = ()
    map_path: str = ""
    starts: int = 1
    rounds_a_renewal: float = ROUNDS_A_RENEWAL
    least_rounds: int = LEAST_ROUNDS
    forget: float = FORGET
    residual: float = RESIDUAL

    def with_long_rounds(self, cells: int) -> AirSettings:
        """The same for a flow that is followed on a device, among solids of so many cells."""
        long = LONGEST if cells >= MANY_CELLS else LONG
        slower = ROUNDS_A_RENEWAL / long.times
        return replace(self, rounds_a_renewal=slower, forget=long.forget, least_rounds=long.least, residual=ONE_PASS)
