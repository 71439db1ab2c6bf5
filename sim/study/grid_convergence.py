"""Numerical uncertainty: a case on three grids, each headline number as value ± what the mesh leaves open.

The procedure is that of I. Celik and others 2008, "Procedure for estimation and reporting of uncertainty due to
discretization in CFD applications", J. Fluids Eng. 130, 078001, which rests on P. Roache's grid convergence index as
ASME V&V 20-2009 (section 2) does. Index 1 is the finest grid, 3 the coarsest, h = (volume / cells)^(1/3):

    ε21 = φ2 − φ1,  ε32 = φ3 − φ2,  s = sign(ε32 / ε21),  r21 = h2 / h1,  r32 = h3 / h2
    p ln r21 = ln|ε32 / ε21| + ln[(r21^p − s) / (r32^p − s)]         observed order p
    φ_ext = φ1 + δ,  δ = (φ1 − φ2) / (r21^p − 1)                     Richardson's value
    U = 1.25 |δ|                                                     half width of the band, GCI = U / |φ1|

What the three numbers do decides how far that holds:

- monotone: as above, p taken as 2 (the order of the scheme) where it comes out higher. δ is then the larger of those
  from grids 1, 2 and from grids 1, 3 (own choice); a tenth above 2 the order is not confirmed, which takes factor 3
  instead of 1.25 (Oberkampf and Roy 2010, as below): errors of several kinds then happen to cancel on some grid.
- slow (p below 0.5): p = 0.5 and factor 3 instead of 1.25, which Roache keeps for orders that are not confirmed;
  both limits as in W. Oberkampf and C. Roy 2010, "Verification and Validation in Scientific Computing", section 8.7
  (from memory).
- oscillating: half the spread of the three values (F. Stern and others 2001, J. Fluids Eng. 123, 793) times the same
  factor 3 (own choice), or three times the larger δ of grids 1, 2 and of grids 1, 3 with p within both limits, where
  that is less: a coarsest grid that is far off on the other side made bands ten times as wide.
- not converging: steps that do not shrink. Three times the whole spread, as L. Eça and M. Hoekstra do (from memory).
- fitted: computed air on meshes near each other, see `sim.study.air_grids`.

View factors are traced with rays, so a bay with a cavity also carries their scatter. It is measured by solving the
coarsest grid with other rays, and joins the band as a root of squares. So does what empirical laws of films leave open:
correlations and the water's film by their own spread (`sim.study.law_bands`), learned films by what they were off by in
19 of 20 bays that never taught them (`sim.results.law_errors`). What a case states is taken as it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, expm1, hypot, isfinite, log, nan
from statistics import stdev
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from sim.bay.grid import Fineness, build_grid
from sim.build_up import build_geometry, mesh_fineness
from sim.problems.steady import STRICT
from sim.results.air_errors import BAY_NUMBERS as HEADLINE
from sim.results.air_errors import STUDENT
from sim.results.people import format_uncertain, quantity
from sim.results.report import Report
from sim.run import Result, prepare, solve_model
from sim.solver.assemble_cavity import REPEATS, SEED
from sim.study.compare import StudyStep
from sim.study.law_bands import Laws, laws_of

if TYPE_CHECKING:
    from sim.case.load import AnyCase

SAFETY, CAUTION = 1.25, 3.0
"""Factors on the estimated error: three grids with a confirmed order, and an order that is not confirmed."""

LEAST_ORDER, SCHEME_ORDER = 0.5, 2.0
"""Limits of the order used for a band."""

CONFIRMED = 1.1
"""Observed order over that of the scheme up to which it counts as confirmed."""

ROUND_OFF = 1e-10
"""Spread that counts as none, as a share of the value and in any unit of the report."""

Triple = tuple[float, float, float]
Behaviour = Literal["monotone", "fitted", "slow", "oscillating", "not converging", "unchanged"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number on three grids, finest first, and the band round the finest one, all in the number's own unit.

    `band` is the half width owed to the mesh, `scatter` the one owed to traced rays, `law` the one owed to empirical
    films; `order` is the observed one and `extrapolated` Richardson's value, both NaN where the three values do not
    converge steadily.
    """

    values: Triple
    band: float
    behaviour: Behaviour
    order: float = nan
    extrapolated: float = nan
    scatter: float = 0.0
    law: float = 0.0

    @property
    def value(self) -> float:
        """The number on the finest grid."""
        return self.values[0]

    @property
    def told(self) -> str:
        """What the three values did, in words."""
        known = isfinite(self.order) and self.order < 10.0
        return f"{self.behaviour}, order {self.order:.1f}" if known else self.behaviour

    @property
    def uncertainty(self) -> float:
        """Half width of the whole band, about 95 % coverage."""
        return hypot(self.band, self.scatter, self.law)

    @property
    def index(self) -> float:
        """The grid convergence index: `band` as a share of the value."""
        return self.band / abs(self.value) if self.value else nan

    def as_dict(self) -> dict[str, object]:
        """Plain values, ready for JSON."""
        own = {name: getattr(self, name) for name in self.__slots__}
        return own | {"value": self.value, "uncertainty": self.uncertainty, "index": self.index}


def estimate(values: Triple, ratios: tuple[float, float]) -> Estimate:
    """Value ± band of a number from three grids; see the module's description.

    Parameters
    ----------
    values : the number on the finest, the middle and the coarsest grid, in any unit.
    ratios : r21 and r32, sizes of neighbouring cells, both above 1.

    Examples
    --------
    Celik and others 2008, table 1, first column (from memory): order 1.53, 6.1685, index 2.2 %.

    >>> found = estimate((6.063, 5.972, 5.863), (1.5, 4 / 3))
    >>> round(found.order, 2), round(found.extrapolated, 4), round(found.index, 3)
    (1.53, 6.1685, 0.022)
    """
    fine, medium, coarse = values
    spread = max(values) - min(values)
    first, second = medium - fine, coarse - medium
    if spread <= ROUND_OFF * max(abs(fine), 1.0):
        return Estimate(values, 0.0, "unchanged")
    order = observed_order(values, ratios)
    if order <= 0.0:
        return Estimate(values, CAUTION * spread, "not converging")
    used = min(max(order, LEAST_ORDER), SCHEME_ORDER)
    step = -first / (ratios[0] ** used - 1)
    larger = max(abs(step), abs(fine - coarse) / ((ratios[0] * ratios[1]) ** used - 1))
    if first * second < 0.0:
        return Estimate(values, CAUTION * min(spread / 2, larger), "oscillating")
    error = larger if order > SCHEME_ORDER else abs(step)
    slow = order < LEAST_ORDER
    band = (SAFETY if LEAST_ORDER <= order <= CONFIRMED * SCHEME_ORDER else CAUTION) * error
    return Estimate(values, band, "slow" if slow else "monotone", order, fine + step)


def observed_order(values: Triple, ratios: tuple[float, float]) -> float:
    """The order p at which three values converge.

    It solves the implicit equation of the module's description, which Celik and others iterate; here its root is
    bracketed, so that any pair of ratios will do. The sign is kept: an order of 0 or less means that the steps do
    not shrink. Infinite where the two finer values agree, minus infinite where the two coarser ones do.

    Parameters
    ----------
    values, ratios : as in `estimate`.
    """
    fine, medium, coarse = values
    first, second = medium - fine, coarse - medium
    if first == 0.0 or second == 0.0:
        return float("inf") if first == 0.0 else -float("inf")
    sign = 1 if first * second > 0 else -1
    wanted = log(abs(second / first))
    a, b = log(ratios[0]), log(ratios[1])

    def excess(order: float) -> float:
        """The logarithm of the ratio of changes that an order makes, less the one seen; zero at the observed order."""
        return order * a + _log_part(order, b, sign) - _log_part(order, a, sign) - wanted

    limit = 700.0 / max(a, b)
    if excess(-limit) > 0.0 or excess(limit) < 0.0:
        return -limit if excess(-limit) > 0.0 else limit
    from scipy.optimize import brentq

    return float(brentq(excess, -limit, limit, xtol=1e-10))


def _log_part(order: float, rate: float, sign: int) -> float:
    """ln(r^p − s) with r = e^rate; for s = 1 less ln p, which two of them have in common, so that p = 0 is harmless."""
    power = order * rate
    if sign < 0:
        return log(exp(power) + 1.0)
    return log(expm1(power) / order) if abs(power) > 1e-9 else log(rate) + 0.5 * power


def refinement_ratios(shapes: Sequence[tuple[int, int, int]]) -> tuple[float, float]:
    """The ratios of cell widths, r21 and r32, of three grids of one domain, finest first, from their numbers of cells.

    h = (volume / cells)^(1/d), with d the axes that were refined: one along which nothing varies keeps its one cell.

    Raises
    ------
    ValueError : a grid has no more cells than the next coarser one.
    """
    axes = sum(fine > coarse for fine, coarse in zip(shapes[0], shapes[-1], strict=True))
    cells = [x * y * z for x, y, z in shapes]
    if not cells[0] > cells[1] > cells[2]:
        raise ValueError(f"grids of {', '.join(map(str, cells))} cells are no sequence of refinements")
    return (cells[0] / cells[1]) ** (1 / axes), (cells[1] / cells[2]) ** (1 / axes)


@dataclass(frozen=True, slots=True)
class GridStudy:
    """A case on three grids, finest first: `result` is the finest one's, `estimates` go by report key.

    `remarks` are sentences on what limits the bands of computed air.
    """

    result: Result
    shapes: tuple[tuple[int, int, int], ...]
    ratios: tuple[float, float]
    estimates: Mapping[str, Estimate]
    remarks: tuple[str, ...] = ()

    @property
    def cells(self) -> tuple[int, ...]:
        """Number of cells of each grid, finest first."""
        return tuple(x * y * z for x, y, z in self.shapes)

    @property
    def with_bands(self) -> Result:
        """The finest result, its report with a further key `…_uncertainty` for each number that has a band."""
        report = self.result.report
        bands = {f"{key}_uncertainty": found.uncertainty for key, found in self.estimates.items()}
        return replace(self.result, report=Report(report.name, MappingProxyType(report.as_dict() | bands)))

    def as_dict(self) -> dict[str, object]:
        """Everything but the fields as plain values, ready for JSON."""
        return {
            "cells": list(self.cells),
            "ratios": list(self.ratios),
            "remarks": list(self.remarks),
            "numbers": {key: found.as_dict() for key, found in self.estimates.items()},
        }

    def text(self, units: Literal["si", "ip", "both"] = "si") -> str:
        """Grids and numbers as a small tree."""
        cells = " → ".join(f"{count:,}" for count in reversed(self.cells))
        lines = [
            f"Grids of {self.result.report.name}: {cells} cells, ratios {self.ratios[1]:.2f} and {self.ratios[0]:.2f}"
        ]
        width = max(map(len, self.estimates), default=0)
        for key, found in self.estimates.items():
            number = format_uncertain(key, found.value, found.uncertainty, units)
            mark = "└──" if key == list(self.estimates)[-1] else "├──"
            lines.append(f"{mark} {key:<{width}}  {number}, {found.told}")
        return "\n".join([*lines, *self.remarks])

    def __str__(self) -> str:
        return self.text("si")


def with_uncertainty(
    case: AnyCase, listener: Callable[[StudyStep], None] | None = None, *, refinement: float = 2.0
) -> GridStudy:
    """Solve a case on its own grid, a coarser and a finer one, and put a band on each headline number.

    Parameters
    ----------
    case : Case or BlocksCase
    listener : called with each StudyStep.
    refinement : factor between the cell sizes asked for, about 2. Sheets stay one cell thick and every interface keeps
        its plane, so that the real ratios, from the numbers of cells, are smaller.

    Returns
    -------
    GridStudy, whose result is the finest grid's.

    Raises
    ------
    ValueError : the three sizes do not give three grids.
    NotConvergedError, BalanceError : as in `sim.run.solve`.
    """
    base, geometry = mesh_fineness(case), build_geometry(case)
    sizes = [base.scaled(refinement**power) for power in (-1, 0, 1)]
    shapes = [build_grid(geometry, size).shape for size in sizes]
    ratios = refinement_ratios(shapes)
    say = _teller(listener, shapes)
    say("coarsest grid, and again with other rays", 2)
    coarse, scatter, laws = _coarsest(case, sizes[2])
    say("middle grid", 1)
    medium = _solve(case, sizes[1]).report
    say("finest grid", 0)
    result = _solve(case, sizes[0])
    report = result.report
    reports = (report, medium, coarse)
    estimates = {
        key: replace(
            estimate((fine, middle, rough), ratios),
            scatter=scatter.get(key, 0.0),
            law=laws.half_width(key, report.values),
        )
        for key, (fine, middle, rough) in headline_numbers(reports).items()
    }
    return GridStudy(result, tuple(shapes), ratios, MappingProxyType(estimates))


def _solve(case: AnyCase, size: Fineness, ray_seed: int = SEED) -> Result:
    return solve_model(prepare(case, size, ray_seed=ray_seed), options=STRICT)


def _coarsest(case: AnyCase, size: Fineness) -> tuple[Report, dict[str, float], Laws]:
    """The coarsest grid's report, what other rays change in it (half widths of 95 %), and what laws leave open."""
    model = prepare(case, size)
    first = solve_model(model, options=STRICT)
    laws = laws_of(model, first, list(headline_numbers([first.report])))
    if first.solution.system.cavity is None:
        return first.report, {}, laws
    reports = [first.report, *(_solve(case, size, SEED + repeat).report for repeat in range(1, REPEATS + 1))]
    rays = {key: STUDENT * stdev(values) for key, values in headline_numbers(reports).items()}
    return first.report, rays, laws


def headline_numbers(reports: Sequence[Report]) -> dict[str, tuple[float, ...]]:
    """Headline numbers of several reports by key, where they are numbers in all of them."""
    first = reports[0].values
    keys = [key for key in HEADLINE if key in first] or [key for key in first if quantity(key).group != "Run"]
    found = {key: tuple(float(report.values.get(key, nan)) for report in reports) for key in keys}
    return {key: values for key, values in found.items() if all(map(isfinite, values))}


def _teller(
    listener: Callable[[StudyStep], None] | None, shapes: Sequence[tuple[int, int, int]]
) -> Callable[[str, int], None]:
    """A function that tells which grid comes now."""

    def tell(name: str, grid: int) -> None:
        x, y, z = shapes[grid]
        if listener:
            listener(StudyStep(f"{name}: {x * y * z:,} cells", len(shapes) - grid, len(shapes)))

    return tell
