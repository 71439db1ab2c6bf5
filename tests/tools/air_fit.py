"""Fit the learned films to the set of computed bays: `python tests/tools/air_fit.py`, into `learned_films.json`.

Walls are held at the temperatures of the computed bays. The law then gives every face its heat and, by the balance of
the air, the zones their temperatures; its coefficients are those with the least

    mean over bays of  Σ A (q − q')² / (A_s q̄_s²) + 30 (Q_s/Q_s' − 1)² + floor + zones' temperatures  +  ridge · Σ c²

(q' computed, s the sheathing, whose pattern counts by what the floor shows of it: `air_floor`) by Gauss-Newton.
Coefficients that are hardly missed go out, as long as the bays spared
for this come out as well; then all bays that may be fitted, these too, give the rest their values. Bays that are held
out take no part in any of this. Every bay is averaged over its mirror images, and what the computed air had not yet
balanced is shared out by heat.
"""

from __future__ import annotations

import argparse
import json
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from air_errors import LAWS, group
from air_floor import floor_modes
from air_set_file import bays as kept_bays
from scipy.spatial import cKDTree
from threadpoolctl import threadpool_limits

from sim.bay.cells import fill_cells
from sim.bay.grid import build_grid
from sim.build_up import build_geometry, mesh_fineness
from sim.case.constants import STILL_AIR
from sim.case.load import parse_case
from sim.physics import learned_films as law
from sim.physics.openings import opening_conductance
from sim.solver import assemble_cavity
from sim.solver.air_plan import find_air_plan, measures_of, situation_of
from sim.solver.learned_air import GAP, _still, places_of, roles_of

RIDGE = 5e-3
UPWARD = 30.0
"""Weight of the sheathing's whole heat beside its pattern."""
FLOOR, USUAL_UNEVEN = 1.0, 0.35
"""Weight of the floor's pattern, whose variance counts over its own deviation in a bay times a usual one [K]: between
shares and kelvins."""
LEAST_UNEVEN = 0.03
"""Floors are taken as no more even than this share of their warmth."""
POINTWISE = 0.3
"""Weight of the sheathing's heat face by face, which the floor smooths."""
SPARED = "spared"
KNOWN = 0.03
"""Bays whose means are known no better than this do not teach."""
HOT = (law.ABOVE, law.BELOW, law.TUBE, law.STANDING)
SHEATHING = (law.OVER, law.OPEN)
WITH_EXCESS = {law.OVER: 17, law.OPEN: 17, law.UPRIGHT: 7, law.BOTTOM: 5, law.BELOW: 1}
FILMS, SHAPES = len(law.FILM_MEASURES), len(law.SHAPE_MEASURES)

SHARPER = (1.15, 1.0, 1.0, 1.0)
"""Of each law, by how much θ of the sheathing goes farther from its mean than fitted, for the ripple: least squares
make a pattern weak, as one that is a little beside its place is off by less the weaker it is. With 1, ripple of flat
plates' bays that were left out in turn was 7 % low in the median, with this 4 %; finer cells take 2 % from the computed
ripple. The heat stays, and the floor's map is as near to the computed one as before."""

ENOUGH = 1.03
"""Fewest coefficients are taken with which spared bays come out no worse than this over the best."""


@dataclass
class Bay:
    """One bay made ready: faces (n,), zones (z,), and what multiplies the coefficients."""

    number: int
    arrangement: str
    held: str
    situation: int
    role: Any
    area: Any
    heat: Any
    wall: Any
    still: Any
    zone: Any
    zone_air: Any
    hot: float
    films: dict[int, tuple[Any, Any]]
    shapes: dict[int, tuple[Any, Any]]
    measures: Any
    openings: Any
    weight: Any
    upward: Any
    zone_weight: Any
    floor: Any


def places() -> tuple[dict[Any, slice], int]:
    """Where each part of the law lies among the coefficients, and how many there are."""
    found: dict[Any, slice] = {}
    at = 0
    sizes = [(("film", role), FILMS * (2 if role == law.TUBE else 1)) for role in range(law.ROLES)]
    sizes += [("exchange", FILMS), ("power", law.ROLES)]
    sizes += [(("excess", role), SHAPES * count) for role, count in WITH_EXCESS.items()]
    for name, size in sizes:
        found[name] = slice(at, at + size)
        at += size
    return found, at


PLACES, COUNT = places()
COUNTS = (COUNT, 200, 140, 100, 70)
"""Numbers of coefficients that are tried, each from the one before, after so many rounds of all."""
FIRST = 6


def ready(kept: dict[str, Any]) -> Bay:
    """A bay of the set made ready to fit."""
    case = parse_case(str(kept["text"]), f"bay-{int(kept['number'])}")
    cells, cavity = without_radiation(case.with_(**{"mesh.fineness": "coarse", "air.model": "correlations"}))
    found = find_air_plan(cells)
    assert cavity is not None and found is not None
    if len(cavity.centre) != kept["faces"] or np.abs(cavity.centre.mean(axis=0) - kept["middle"]).max() > 1e-4:
        raise ValueError(f"bay {kept['number']}: its mesh is not the one that it was computed on")
    role, inside = roles_of(cells, cavity, found)
    heat, wall, mirrored = mirrored_means(kept, cavity, found, role >= 0)
    gaps = [n for n, name in enumerate(cavity.zone_names) if name.startswith(GAP)]
    zone, number = merged_zones(cavity.walls.zone, gaps, mirrored)
    area = np.bincount(mirrored, np.where(role >= 0, cavity.walls.area, 0.0), len(role))
    shown = _floor(case, cells, cavity, np.isin(role, SHEATHING), mirrored)
    own = np.flatnonzero(area > 0.0)
    measures, point = measures_of(found, cells), places_of(cavity, found)[own]
    open_zones = [z for z in np.unique(cavity.walls.zone[inside]) if z not in gaps]
    volume = np.bincount(cells.zone.ravel() + 1, cells.grid.volumes().ravel(), len(cavity.zone_names) + 1)[1:]
    air = [np.average(kept["air"][open_zones], weights=volume[open_zones])]
    of_gap = dict(zip(gaps, number, strict=True))
    air += [np.mean([kept["air"][g] for g in gaps if of_gap[g] == z]) for z in range(1, zone.max() + 1)]
    bay = Bay(
        int(kept["number"]), str(kept["arrangement"]), str(kept["held"]), situation_of(found), role[own], area[own],
        heat[own], wall[own], _still(cavity, role)[own], zone[own], np.array(air), 0.0, {}, {}, measures,
        _gap_openings(cavity, gaps, number, found.drop), None, None, None, shown[:, own],
    )  # fmt: skip
    return _with_columns(bay, found.plan, point)


def _floor(case: Any, cells: Any, cavity: Any, top: Any, mirrored: Any) -> Any:
    """What the first of every face's images does to the floor's pattern (modes, faces); as last row to its warmth."""
    on = np.flatnonzero(top)
    area, edges = cavity.walls.area[on], (cells.grid.edges[0], cells.grid.edges[1])
    modes, even = floor_modes(case, edges, cavity.centre[on, :2], area)
    found = np.zeros((len(modes) + 1, len(top)))
    whole = np.vstack([modes, even * area / (np.ptp(edges[0]) * np.ptp(edges[1]))])
    np.add.at(found.T, mirrored[on], whole.T)
    return found


def without_radiation(case: Any) -> tuple[Any, Any]:
    """Cells of a case, and the cavity without its patches: walls are held, so radiation takes no part."""
    geometry = build_geometry(case)
    cells = fill_cells(geometry, build_grid(geometry, mesh_fineness(case)))
    with patch.object(assemble_cavity, "_patches", return_value=(None, None)):
        return cells, assemble_cavity.build_cavity(cells, "correlations")


def mirrored_means(kept: dict[str, Any], cavity: Any, found: Any, counted: Any) -> tuple[Any, Any, Any]:
    """Heat flux and temperature averaged over mirror images, and the first of every face's images."""
    flux = kept["heat"] / cavity.walls.area
    left = float((kept["heat"] * counted).sum())
    flux = np.where(counted, flux - np.abs(flux) * left / float((np.abs(kept["heat"]) * counted).sum()), flux)
    point, side = places_of(cavity, found), cavity.side.astype(int)
    tree = cKDTree(np.column_stack([point, 10.0 * side]))
    images = []
    for turned in ((), (0,), (1,), (0, 1)):
        place, look = point.copy(), side.copy()
        for axis in turned:
            own = (1 - found.axis, found.axis)[axis]
            place[:, axis] = found.low[own] + found.high[own] - place[:, axis]
            look = np.where(look // 2 == own, look ^ 1, look)
        away, index = tree.query(np.column_stack([place, 10.0 * look]))
        if away.max() < 2e-3:
            images.append(index)
    mean = [np.mean([values[index] for index in images], axis=0) for values in (flux, kept["wall"])]
    return mean[0], mean[1], np.min(images, axis=0)


def merged_zones(zone: Any, gaps: list[int], mirrored: Any) -> tuple[Any, list[int]]:
    """Zone of every face, 0 for the open air, and the zone of every gap; gaps that are mirror images are one."""
    own = np.zeros(len(zone), np.int64)
    for number, gap in enumerate(gaps):
        own[zone == gap] = number + 1
    label = np.arange(len(gaps) + 1)
    for first, second in {(a, b) for a, b in zip(own, own[mirrored], strict=True) if a != b}:
        low, high = sorted((label[first], label[second]))
        label[label == high] = low
    kinds = np.unique(label)
    return np.searchsorted(kinds, label[own]), [int(np.searchsorted(kinds, label[n + 1])) for n in range(len(gaps))]


def _gap_openings(cavity: Any, gaps: list[int], number: list[int], drop: float) -> Any:
    """(area, height, path) of what every merged gap opens to (zones − 1, 3)."""
    found = np.zeros((max(number, default=0), 3))
    for gap, zone in zip(gaps, number, strict=True):
        own = (cavity.openings.first == gap) | (cavity.openings.second == gap)
        area = cavity.openings.area[own]
        found[zone - 1] = found[zone - 1, 0] + area.sum(), drop, np.average(cavity.openings.path[own], weights=area)
    return found


def _with_columns(bay: Bay, plan: Any, point: Any) -> Bay:
    """The bay with columns of its faces, its weights and the mean of its plates and tubes."""
    films, shapes = bay.measures.for_films(), bay.measures.for_shapes()
    for role in np.unique(bay.role):
        on = np.flatnonzero(bay.role == role)
        columns = law.film_columns(role, plan, point[on])
        bay.films[role] = on, (columns[:, :, None] * films).reshape(len(on), -1)
        columns = law.excess_columns(role, plan, bay.measures, point[on])
        if columns is not None:
            bay.shapes[role] = on, (columns[:, :, None] * shapes).reshape(len(on), -1)
    hot, top = np.isin(bay.role, HOT), np.isin(bay.role, SHEATHING)
    bay.hot = float(np.average(bay.wall[hot], weights=bay.area[hot]))
    above, flux = bay.area[top].sum(), np.average(np.abs(bay.heat[top]), weights=bay.area[top])
    bay.weight = bay.area / above / flux**2 * np.where(top, POINTWISE, 1.0)
    *uneven, warm = bay.floor @ bay.heat
    least = LEAST_UNEVEN * warm
    own = np.sqrt(np.square(uneven).sum() + least * least)
    bay.floor = np.sqrt(FLOOR / (own * USUAL_UNEVEN)) * bay.floor[:-1]
    bay.upward = np.where(top, bay.area, 0.0) / abs((bay.area * bay.heat)[top].sum())
    bay.zone_weight = np.full(len(bay.zone_air), 0.2 / (bay.hot - bay.zone_air[0]) ** 2)
    bay.zone_weight[1:] *= 0.3
    return bay


@dataclass
class Answer:
    """What a law makes of a bay: heat flux of the faces, air of the zones, and their slopes with the coefficients."""

    heat: Any
    air: Any
    heat_slope: Any = None
    air_slope: Any = None


def _among(on: Any, place: slice) -> tuple[Any, Any]:
    """Which of a part's coefficients are among some, and their numbers there."""
    at = np.flatnonzero((on >= place.start) & (on < place.stop))
    return on[at] - place.start, at


def answer(bay: Bay, c: Any, on: Any = None) -> Answer:
    """Heat of every face and air of every zone, walls held; slopes with the coefficients `on`."""
    logarithm, excess = np.zeros(len(bay.area)), np.zeros(len(bay.area))
    for role, (faces, columns) in bay.films.items():
        logarithm[faces] = columns @ c[PLACES["film", role]]
    for role, (faces, columns) in bay.shapes.items():
        excess[faces] = columns @ c[PLACES["excess", role]]
    bent = np.tanh(logarithm / law.BOUND)
    scale, power = law.USUAL_FILM[bay.role] * np.exp(law.BOUND * bent), (law.USUAL_POWER + c[PLACES["power"]])[bay.role]
    films = bay.measures.for_films()
    factor = np.exp(np.clip(films @ c[PLACES["exchange"]], -4.0, 4.0))
    air, count = bay.zone_air.copy(), len(bay.zone_air)
    for _ in range(30):
        lead = np.maximum(bay.hot - air, law.LEAST_LEAD)[bay.zone]
        moving = scale * (lead / law.LEAD) ** power
        film = (bay.still**4 + moving**4) ** 0.25
        share = (moving / film) ** 4
        heat = film * (bay.wall - air[bay.zone] - excess * (bay.hot - air[bay.zone]))
        slope = film * (1.0 - excess) + heat * share * power / lead
        left = np.bincount(bay.zone, heat * bay.area, count)
        matrix = np.diag(np.bincount(bay.zone, slope * bay.area, count))
        through = _exchange(bay, air, factor, left, matrix)
        step = np.clip(np.linalg.solve(matrix, left), -3.0, 3.0)
        air = np.minimum(air + step, bay.hot - law.LEAST_LEAD)
        if np.abs(step).max() < 1e-6:
            break
    if on is None:
        return Answer(heat, air)
    own = np.zeros((len(heat), len(on)))
    for role, (faces, columns) in bay.films.items():
        some, at = _among(on, PLACES["film", role])
        own[np.ix_(faces, at)] = columns[:, some] * (heat * share * (1.0 - bent * bent))[faces, None]
        some, at = _among(on, slice(PLACES["power"].start + role, PLACES["power"].start + role + 1))
        own[np.ix_(faces, at)] = (heat * share * np.log(lead / law.LEAD))[faces, None][:, some]
    for role, (faces, columns) in bay.shapes.items():
        some, at = _among(on, PLACES["excess", role])
        own[np.ix_(faces, at)] = -columns[:, some] * (film * (bay.hot - air[bay.zone]))[faces, None]
    zones = np.array([bay.area[bay.zone == z] @ own[bay.zone == z] for z in range(count)])
    some, at = _among(on, PLACES["exchange"])
    zones[1:, at] -= np.outer(through, films[some])
    zones[0, at] += through.sum() * films[some]
    moved = np.linalg.solve(matrix, zones)
    return Answer(heat, air, own - slope[:, None] * moved[bay.zone], moved)


def _exchange(bay: Bay, air: Any, factor: float, left: Any, matrix: Any) -> Any:
    """Heat that gaps give the open air [W]; joins what is left over in the zones and its slopes."""
    if len(air) == 1:
        return np.zeros(0)
    area, height, path = bay.openings.T
    difference = air[1:] - air[0]
    size = np.sqrt(difference**2 + 0.01)
    moving = opening_conductance(area, height, size, 0.5 * (air[1:] + air[0])) * factor
    still = STILL_AIR * area / path * factor
    flow, slope = (moving + still) * difference, moving * (1.0 + 0.5 * (difference / size) ** 2) + still
    left[1:] -= flow
    left[0] += flow.sum()
    gap = np.arange(1, len(air))
    matrix[gap, gap] += slope
    matrix[0, 0] += slope.sum()
    matrix[0, gap] -= slope
    matrix[gap, 0] -= slope
    return flow


def penalty(ridge: float) -> Any:
    """Ridge of every coefficient: a tenth for what depends on nothing, much for powers."""
    found = np.full(COUNT, ridge)
    for name, place in PLACES.items():
        period = SHAPES if name[0] == "excess" else FILMS
        found[place.start : place.stop : period] *= 0.1 if name != "power" else 1.0
    found[PLACES["power"]] = 30.0 * ridge
    return found


def misfit(bay: Bay, found: Answer) -> float:
    """What a bay adds to the sum that is made small."""
    off, air = found.heat - bay.heat, found.air - bay.zone_air
    shown = bay.floor @ off
    return float(shown @ shown + bay.weight @ off**2 + UPWARD * (bay.upward @ off) ** 2 + bay.zone_weight @ air**2)


class Crew:
    """Bays shared between processes, which add up what each makes of its own.

    Blocks of bays are the same, and are added in the same order, whoever works and however many do: sums of floating
    numbers hang on it.
    """

    def __init__(self, own: list[Bay], workers: int) -> None:
        self.count = len(own)
        ordered = sorted(own, key=lambda bay: bay.number)
        self._blocks = [ordered[at::BLOCKS] for at in range(min(BLOCKS, len(own)))]
        self._pool = None
        if workers > 1:
            SHARES[:] = self._blocks
            self._pool = ProcessPoolExecutor(workers, get_context("fork"), threadpool_limits, (1,))

    def misfits(self, c: Any) -> float:
        """What all bays add to the sum."""
        return float(sum(self._each(misfits, c)))

    def sums(self, c: Any, on: Any) -> tuple[Any, Any, float]:
        """`sums` of all bays."""
        parts = zip(*self._each(sums, c, on), strict=True)
        return tuple(sum(part) for part in parts)  # type: ignore[return-value]

    def _each(self, work: Any, *values: Any) -> list[Any]:
        if self._pool is None:
            with threadpool_limits(1):
                return [work(block, *values) for block in self._blocks]
        return list(self._pool.map(partial(_on_share, work, values), range(len(self._blocks))))

    def close(self) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown()


BLOCKS = 16
"""Blocks that bays are summed in."""

SHARES: list[list[Bay]] = []
"""The blocks of the crew at work, there before it is forked."""


def _on_share(work: Any, values: Any, number: int) -> Any:
    return work(SHARES[number], *values)


def fit(own: Crew, ridge: float, active: Any, start: Any, rounds: int = 12) -> tuple[Any, Any]:
    """Coefficients with the least sum, by Gauss-Newton with Marquardt's damping, and the sum's second slopes.

    Only the coefficients `active` differ from 0.
    """
    c, lam, damping = np.where(active, start, 0.0), penalty(ridge), 1e-2
    on = np.flatnonzero(active)

    def total(c: Any) -> float:
        return own.misfits(c) / own.count + float(lam @ c**2)

    for _ in range(rounds):
        matrix, gradient, before = (part / own.count for part in own.sums(c, on))
        matrix, gradient, before = matrix + np.diag(lam[on]), gradient + (lam * c)[on], before + lam @ c**2
        change, after, damping = _step(c[on], (matrix, gradient), damping, before, lambda x: total(_spread(x, on)))
        c = _spread(change, on)
        if before - after < 2e-3 * before:
            break
    return c, matrix


def misfits(own: list[Bay], c: Any) -> float:
    """What some bays add to the sum."""
    return sum(misfit(bay, answer(bay, c)) for bay in own)


def sums(own: list[Bay], c: Any, on: Any) -> tuple[Any, Any, float]:
    """What some bays add to the second slopes, to the slopes and to the sum."""
    matrix, gradient, before = np.zeros((len(on), len(on))), np.zeros(len(on)), 0.0
    for bay in own:
        found = answer(bay, c, on)
        slope, moved = found.heat_slope, found.air_slope
        off, air, mean = found.heat - bay.heat, found.air - bay.zone_air, bay.upward @ slope
        weighted = slope * bay.weight[:, None]
        shown = bay.floor @ slope
        matrix += shown.T @ shown
        gradient += shown.T @ (bay.floor @ off)
        matrix += slope.T @ weighted + moved.T @ (moved * bay.zone_weight[:, None]) + UPWARD * np.outer(mean, mean)
        gradient += weighted.T @ off + moved.T @ (bay.zone_weight * air) + UPWARD * mean * (bay.upward @ off)
        before += misfit(bay, found)
    return matrix, gradient, before


def _spread(values: Any, on: Any) -> Any:
    """All coefficients from those that are not 0."""
    found = np.zeros(COUNT)
    found[on] = values
    return found


def _step(c: Any, system: Any, damping: float, before: float, total: Any) -> tuple[Any, float, float]:
    """A step that makes the sum smaller, the sum after it, and the damping for the next."""
    matrix, gradient = system
    while damping < 1e5:
        change = -np.linalg.solve(matrix + damping * np.diag(np.diag(matrix) + 1e-7), gradient)
        change *= min(1.0, 2.0 / np.abs(change).max())
        after = total(c + change)
        if after < before:
            return c + change, after, max(damping / 5.0, 1e-8)
        damping *= 5.0
    return c, before, damping


def leaner(own: Crew, spared: list[Bay], ridge: float, start: Any) -> Any:
    """Which coefficients are worth having, fitted without the spared bays and judged by them.

    Those go first that the sum misses least: c² over the diagonal of its inverse second slopes.
    """
    active, c = penalty(ridge) > 0.0, start
    tried: list[tuple[float, Any]] = []
    for count in COUNTS:
        if count < COUNT:
            on = np.flatnonzero(active)
            worth = c[on] ** 2 / np.diag(np.linalg.inv(matrix))  # noqa: F821 (of the fit before)
            active = _spread(worth >= np.sort(worth)[-count], on) > 0.0
        c, matrix = fit(own, ridge, active, c, rounds=4 if count < COUNT else FIRST)
        score = float(np.mean([min(misfit(bay, answer(bay, c)), 2.0) for bay in spared]))
        print(f"  {count} coefficients: {score:.4f}", flush=True)
        tried.append((score, active))
    best = min(score for score, _ in tried)
    return next(active for score, active in reversed(tried) if score <= ENOUGH * best)


DIGITS = 10
"""Decimals of the coefficients that are kept: what another machine's sums differ by lies below."""


def as_law(c: Any) -> dict[str, Any]:
    """Coefficients as the data file keeps them."""
    film = [c[PLACES["film", role]][:FILMS] for role in range(law.ROLES)] + [c[PLACES["film", law.TUBE]][FILMS:]]
    excess = [
        c[PLACES["excess", role]].reshape(-1, SHAPES).round(DIGITS).tolist() if role in WITH_EXCESS else []
        for role in range(law.ROLES)
    ]
    return {
        "film": np.array(film).round(DIGITS).tolist(),
        "exchange": c[PLACES["exchange"]].round(DIGITS).tolist(),
        "power": c[PLACES["power"]].round(DIGITS).tolist(),
        "excess": excess,
        "finer": 1.0,
        "sharper": 1.0,
    }


def coefficients_of(kept: dict[str, Any]) -> Any:
    """The data file's coefficients of a law in the order of the fit."""
    found = np.zeros(COUNT)
    for role in range(law.ROLES):
        rows = [kept["film"][role], kept["film"][law.ROLES]] if role == law.TUBE else [kept["film"][role]]
        found[PLACES["film", role]] = np.concatenate(rows)
        if role in WITH_EXCESS:
            found[PLACES["excess", role]] = np.ravel(kept["excess"][role])
    found[PLACES["exchange"]], found[PLACES["power"]] = kept["exchange"], kept["power"]
    return found


def taught_law(own: list[Bay], start: Any, workers: int) -> tuple[Any, int]:
    """Coefficients of one situation, and how many of them are not 0: those that a start has, or those worth having."""
    active = start != 0.0
    if not active.any():
        few = Crew([bay for bay in own if not bay.held], workers)
        active = leaner(few, [bay for bay in own if bay.held], RIDGE, start)
        few.close()
    every = Crew(own, workers)
    c, _ = fit(every, RIDGE, active, np.zeros(COUNT))
    every.close()
    return c, int(active.sum())


def teachers(workers: int, asked: list[int]) -> list[Bay]:
    """All bays of some situations that teach, made ready."""
    kept = [bay for bay in kept_bays() if bay["held"] in ("", SPARED) and bay["largest_error"] <= KNOWN]
    wanted = {kind for situation in asked for kind in LAWS[situation]}
    kept = [bay for bay in kept if group(bay) in wanted]
    if workers == 1:
        return list(map(ready, kept))
    with ProcessPoolExecutor(workers, get_context("fork")) as pool:
        return list(pool.map(ready, kept, chunksize=4))


def main() -> None:
    """Fit one law for each situation; their errors are put in by `air_errors.py`."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--situations", default="", help="these only, the others stay")
    parser.add_argument("--start", type=Path, help="laws whose choice of coefficients is kept")
    parser.add_argument("--out", type=Path, default=law.DATA, help="where the laws go")
    options = parser.parse_args()
    asked = [int(n) for n in options.situations.split(",") if n] or list(range(law.SITUATIONS))
    fit_laws(teachers(options.workers, asked), asked, options.workers, options.start, options.out)


def fit_laws(
    taught: list[Bay], asked: list[int], workers: int, start: Path | None = None, out: Path = law.DATA
) -> None:
    """Fit the laws of some situations and put them into a file, where the others stay as the shipped file has them."""
    data = json.loads(law.DATA.read_text("utf-8")) | {"made": date.today().isoformat()}
    for situation in asked:
        own = [bay for bay in taught if bay.situation == situation]
        print(f"situation {situation}: {len(own)} bays", flush=True)
        known = json.loads(start.read_text("utf-8"))["laws"][situation] if start else None
        c, count = taught_law(own, np.zeros(COUNT) if known is None else coefficients_of(known), workers)
        data["laws"][situation] = as_law(c) | {"sharper": SHARPER[situation]}
        data["fits"][situation] = {"bays": len(own), "ridge": RIDGE, "coefficients": count}
        out.write_text(json.dumps(data) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
