"""Random bays in the range of the learned films: passes end, and within 20."""

import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.taught import uses_learned_films
from sim.run import prepare, solve_model

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))
from air_set_design import BUILT, PARTS, THIN, Part
from air_set_wider import wide_bay

MOST, PIECE, PIECES = 20, 84, 6
SEED = 20270101
assert SEED not in {part.seed for part in PARTS}


def random_bays(piece: int, count: int = PIECE):
    """Bays by plain chance over all that the design draws from, of those that the films serve."""
    rng = np.random.default_rng([SEED, piece])
    parts = [Part(9000, SEED, own, i_joists=0.08, wide=True) for own in (BUILT, THIN)]
    draw = partial(rng.random, 22)
    found = []
    while len(found) < count:
        try:
            case = parse_case(wide_bay(parts[len(found) % 2], len(found), draw()).text)
        except CaseError:  # chance draws holes that no joist takes
            continue
        if uses_learned_films(case):
            found.append(case.with_(**{"mesh.fineness": "coarse"}))
    return found


def passes(case) -> float:
    """Passes of a solve; one that does not settle raises."""
    return solve_model(prepare(case)).report["outer_iterations"]


@pytest.mark.slow
@pytest.mark.parametrize("piece", range(PIECES))
def test_random_bays_settle_within_twenty_passes(piece):
    found = [passes(case) for case in random_bays(piece)]
    assert max(found) <= MOST
