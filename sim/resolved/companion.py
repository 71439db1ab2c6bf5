"""A companion of computed air: the same air among the same solids on larger cells, computed first.

What the finer cells change in a number bounds what they still leave open. Both start alike, and not the one from the
other: where several patterns of flow are stable, each finds its own, and the difference shows it. As a start the
companion would save time only where the air is slow to settle, and it would hand its pattern on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sim.airflow.domain import Domain, TooFewCellsError
from sim.resolved.air import Companion, ResolvedAir, RoundListener
from sim.resolved.means import Evidence, Round
from sim.resolved.settings import AirSettings
from sim.solver.steady import Solution

COARSER = 2.0
"""Cells of the companion over those of the run."""

LEAST_COARSER = 1.4
"""Least ratio of cells along an axis that makes a companion: planes that both meshes have keep some cells small."""

ERROR = 0.01
"""Standard error at which the companion is done: its difference need not be known better."""

ROUNDS_A_RENEWAL, LEAST_ROUNDS = 2, 16
"""Its rounds are longer and fewer: on few cells the solids' answers cost more than the flow."""


def companion_settings(settings: AirSettings) -> AirSettings:
    """How the companion of a run is computed."""
    return replace(
        settings,
        sizes=settings.sizes.refined(1.0 / COARSER),
        error=max(settings.error, ERROR),
        frames=(0, 0.0),
        companion=False,
        map_path="",
        errors=False,
        starts=1,
        rounds_a_renewal=ROUNDS_A_RENEWAL,
        least_rounds=LEAST_ROUNDS,
    )


def companion_of(
    settings: AirSettings, compute: Callable[[AirSettings], tuple[Solution, ResolvedAir]]
) -> Companion | None:
    """The companion of a run, by what computes such air.

    None where none is wanted, or where cells twice as large are too few to make a flow.
    """
    if not settings.companion:
        return None
    try:
        return Companion(*compute(companion_settings(settings)))
    except TooFewCellsError:
        return None


def for_companion(listener: RoundListener | None) -> RoundListener | None:
    """What hears of a companion's rounds: the same listener, told that they are the companion's."""
    if listener is None:
        return None

    def heard(record: Round, evidence: Evidence, seconds: float) -> None:
        listener(record, replace(evidence, companion=True), seconds)

    return heard


def beside_companion(air: ResolvedAir, coarser: Companion | None, settings: AirSettings) -> ResolvedAir:
    """Air with its companion, or with the note that its own cells are too large for one."""
    if coarser is not None and not is_coarser(coarser.air.domain, air.domain):
        coarser = None
    return replace(air, coarser=coarser, too_coarse=settings.companion and coarser is None)


def is_coarser(larger: Domain, own: Domain) -> bool:
    """Whether a mesh has so much larger cells than another that it tells what they cost."""
    axes = sum(count > 1 for count in own.shape)
    return bool((own.cells / larger.cells) ** (1.0 / axes) >= LEAST_COARSER)
