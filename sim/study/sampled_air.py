"""What the intervals of a study hold of the air's own error, in words, and which of its solves are by other air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sim.results.air_words import by_correlations, correlations_words
from sim.study.inputs import drawn

if TYPE_CHECKING:
    from sim.case.load import AnyCase

Solve = tuple[Mapping[str, float], Mapping[str, float]]
"""Values of the inputs in SI, and the report."""


def held_words(flows: Sequence[float], up: float, ripple: float) -> list[str]:
    """What intervals hold [%]: errors of flows of air alone, or of learned films in heat up and ripple."""
    if any(flows):
        return [f"intervals hold each flow's own error too, by its cells and swings: up to ±{max(flows):.2g} %"]
    if not up:
        return []
    return [f"intervals hold the learned films' own error too: heat up ±{up:.0f} %, ripple ±{ripple:.0f} %"]


def outside_words(case: AnyCase, solves: Sequence[Solve]) -> list[str]:
    """How many solves' air follows correlations, and what these are off by, which no interval holds."""
    plain = [values for values, report in solves if by_correlations(report)]
    if not plain:
        return []
    last = (drawn(case, plain[-1]) if plain[-1] else case).joist_bay
    law = correlations_words([last]) if last else ""
    many = f"all {len(solves)}" if len(plain) == len(solves) else f"{len(plain)} of {len(solves)}"
    return [f"in {many} solves {law}; no interval holds that"] if law else []
