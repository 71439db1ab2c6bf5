"""The pattern of a mean flow: how many plumes rise in it."""

from __future__ import annotations

import numpy as np

from sim.airflow.domain import Domain
from sim.airflow.flow import Flow

SHARE = 0.4
"""Share of the strongest rise from which on air counts as rising in a plume."""


def plumes(domain: Domain, mean: Flow) -> int:
    """Places in the plan where the mean flow rises, at some height, with at least SHARE of its strongest rise.

    Two rolls that rise side by side in the middle make one plume, two that rise at the walls make two.
    """
    rising = np.where(domain.air, mean.cell_velocity[2], 0.0).max(axis=2)
    if rising.max() <= 0.0:
        return 0
    from scipy import ndimage  # a tenth of a second

    _, count = ndimage.label(rising >= SHARE * rising.max())
    return int(count)


def pattern_words(counts: list[int]) -> str:
    """One line about a flow that rises in another number of plumes on another mesh, empty where all are alike.

    Examples
    --------
    >>> pattern_words([2, 1])
    '2 plumes on the coarsest mesh, then 1: the flow changes its pattern, and bands hold no more than what was seen'
    >>> pattern_words([2, 2])
    ''
    """
    if len(set(counts)) < 2:
        return ""
    others = ", then ".join(str(count) for count in counts[1:])
    first = f"{counts[0]} plume{'s' if counts[0] != 1 else ''}"
    return (
        f"{first} on the coarsest mesh, then {others}: the flow changes its pattern, and bands hold no more than what "
        "was seen"
    )
