"""Which bays of many go together: the more, the fewer launches; the less alike, the emptier their common grid."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from itertools import combinations, count

from sim.airflow.device.tables import FlowProblem, planes_for

MOST_VALUES = 60_000_000
"""Values of one field of a batch: some 12 GB on the device with all that belongs to them."""

MOST_INFLUENCE = 4_000_000_000
"""Values of all inverse influence matrices of a batch: 32 GB."""

A_BATCH = 1_500_000
"""Values of a common grid that cost about as much as one batch more. A step's launches take 0.1 ms, a value (empty or
not) 0.4 ns: 0.3 million values are worth one set of launches; five times as many, as batches go one after the other,
and a bay that waits for its solids leaves the device to the others of its own batch only."""


def find_batches(problems: Mapping[int, FlowProblem]) -> list[list[int]]:
    """Bays by their numbers in batches, large batches first: two join as long as that costs less than it saves."""
    batches = {n: [number] for n, number in enumerate(sorted(problems))}
    names = count(len(batches))
    waste = [(_waste(problems, batches[a], batches[b]), a, b) for a, b in combinations(batches, 2)]
    heapq.heapify(waste)
    while waste:
        lost, a, b = heapq.heappop(waste)
        if lost > A_BATCH:
            break
        if a in batches and b in batches and _holds(problems, batches[a] + batches[b]):
            joined, own = batches.pop(a) + batches.pop(b), next(names)
            for other, numbers in batches.items():
                heapq.heappush(waste, (_waste(problems, joined, numbers), own, other))
            batches[own] = joined
    return sorted((sorted(batch) for batch in batches.values()), key=lambda batch: (-len(batch), batch))


def _waste(problems: Mapping[int, FlowProblem], first: Sequence[int], second: Sequence[int]) -> int:
    """Values that the common grid of two batches has more than their own two."""
    return _values(problems, [*first, *second]) - _values(problems, first) - _values(problems, second)


def _values(problems: Mapping[int, FlowProblem], numbers: Sequence[int]) -> int:
    """Values of one field of a batch."""
    shapes = [problems[n].domain.shape for n in numbers]
    px, py, pz = (planes_for(max(shape[axis] for shape in shapes)) for axis in range(3))
    return len(numbers) * px * py * pz


def _holds(problems: Mapping[int, FlowProblem], numbers: Sequence[int]) -> bool:
    """Whether the device holds a batch."""
    influence = sum(problems[n].influence.matrix.size for n in numbers)
    return _values(problems, numbers) <= MOST_VALUES and influence <= MOST_INFLUENCE
