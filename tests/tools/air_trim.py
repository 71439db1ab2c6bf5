"""Trim the fitted laws: `python tests/tools/air_trim.py --put`, after `air_fit.py` and before `air_errors.py --put`.

Stripes: a fit to noisy patterns comes out too even. A factor on the uneven part of the sheathing's θ makes ripples of
the bays that teach right in the mean, all solved through as a user would.

Finer cells: what the cells of the computed bays cost is told by twins on cells half as large. Where heat upwards
changes by far more than its standard error over the twins, the law gets a factor on films that takes it out.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from typing import Any
from unittest.mock import patch

import numpy as np
from air_errors import KNOWN, LAWS, ONE_THREAD, SPARED, group, on_its_cells
from air_set_file import bays, twins

from sim.case.load import parse_case
from sim.physics.learned_films import DATA
from sim.run import prepare, solve_model
from sim.solver import learned_air

UP, RIPPLE = "heat_flow_up_W", "ripple_K"
TRIALS = {"finer": 0.96, "stripes": 1.10}
"""Factors with which the answers of heat and ripple are found."""

BEYOND = 3.0
"""Standard errors of the twins' mean that it must exceed."""

ENOUGH, FEW = 10, 6
"""Bays of a law whose ripples are looked at, and twins by which its heat's answer is found."""


@contextmanager
def with_factors(**factors: float) -> Iterator[None]:
    """Laws with these factors."""
    with on_its_cells():
        plain = learned_air.learned_law
        with patch.object(learned_air, "learned_law", lambda n: replace(plain(n), **factors)):
            yield


def solved(bay: dict[str, Any], factors: dict[str, float]) -> tuple[float, float]:
    """Heat upwards [W] and ripple [K] of a bay whose law has these factors."""
    case = parse_case(bay["text"], "trial").with_(**{"mesh.fineness": "coarse", "air.model": "films"})
    with with_factors(**factors):
        report = solve_model(prepare(case)).report
    return float(report[UP]), float(report[RIPPLE])


def answers(own: list[dict[str, Any]], before: dict[str, float], name: str, pool: Any) -> tuple[Any, Any]:
    """(bays, 2) heat and ripple with some factors, and powers with which they follow one more."""
    usual = np.array(list(pool.map(partial(solved, factors=before), own)))
    tried = np.array(list(pool.map(partial(solved, factors=before | {name: TRIALS[name]}), own)))
    return usual, np.log(tried / usual).mean(axis=0) / np.log(TRIALS[name])


def changes() -> dict[str, list[tuple[dict[str, Any], float, float]]]:
    """Of every kind its twins with the change of heat upwards and of ripple [-]."""
    finer, found = twins(), defaultdict(list)
    for bay in bays():
        if bay["number"] in finer:
            own, half = bay["report"], finer[bay["number"]]["report"]
            found[group(bay)].append((bay, half[UP] / own[UP] - 1.0, half[RIPPLE] / own[RIPPLE] - 1.0))
    return found


def stripes_of(own: list[dict[str, Any]], pool: Any) -> float:
    """The factor on stripes with which the ripple of some bays is right in the mean."""
    usual, power = answers(own, {"stripes": 1.0}, "stripes", pool)
    short = np.log([bay["report"][RIPPLE] for bay in own] / usual[:, 1])
    return float(np.exp(np.median(short) / power[1]))


def finer_of(own: list[Any], stripes: float, pool: Any) -> float:
    """The factor on films that changes the mean heat upwards as cells half as large do; 1 where that is little."""
    up = np.log1p([change for _, change, _ in own])
    if len(own) < 3 or abs(up.mean()) < BEYOND * up.std(ddof=1) / np.sqrt(len(own)):
        return 1.0
    _, power = answers([bay for bay, _, _ in own[:FEW]], {"stripes": stripes}, "finer", pool)
    return float(np.exp(up.mean() / power[0]))


def show(found: dict[str, list[Any]]) -> None:
    """What cells half as large change, kind by kind."""
    for kind, own in sorted(found.items()):
        up, ripple = (100.0 * np.array([each[n] for each in own]) for n in (1, 2))
        print(
            f"{kind} ({len(own)}): heat up {up.mean():+.2f} %, spread {up.std(ddof=1):.2f}; "
            f"ripple {ripple.mean():+.1f} %, spread {ripple.std(ddof=1):.1f}",
            flush=True,
        )


def main() -> None:
    """Table of changes, and with `--put` the factors into the data file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--put", action="store_true")
    parser.add_argument("--situations", default="0,1,2,3", help="laws to trim")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    found = changes()
    show(found)
    if not options.put:
        return
    teachers = [bay for bay in bays() if bay["held"] in ("", SPARED) and bay["largest_error"] <= KNOWN]
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        for number in map(int, options.situations.split(",")):
            data, kinds = json.loads(DATA.read_text("utf-8")), LAWS[number]
            own = [bay for bay in teachers if group(bay) in kinds]
            stripes = stripes_of(own[:: len(own) // ENOUGH or 1][:ENOUGH], pool)
            finer = finer_of([twin for kind in kinds for twin in found[kind]], stripes, pool)
            data["laws"][number] |= {"stripes": round(stripes, 3), "finer": round(finer, 4)}
            DATA.write_text(json.dumps(data) + "\n", encoding="utf-8")
            print(f"{' and '.join(kinds)}: stripes times {stripes:.3f}, films times {finer:.4f}", flush=True)


if __name__ == "__main__":
    main()
