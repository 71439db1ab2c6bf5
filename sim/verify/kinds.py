"""How the case of a verification folder is solved: one entry a kind of problem.

A kind turns a case and a refinement into numbers by report key; those of a moment stand under `timed(key, time)`. A
new kind is one more function and one more row of KINDS.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sim.case.load import parse_case
from sim.run import mesh_fineness, prepare, solve_model
from sim.solve.steady import SteadyOptions
from sim.verify.folder import Folder

Values = Mapping[str, float]
Tell = Callable[[str], None]
"""Hears now and then, in words, how far the solution of a problem is."""

OPTIONS = SteadyOptions(residual=1e-7, imbalance=1e-8, linear_tolerance=1e-3)
"""Stricter than for everyday runs, so that what differs is the mesh and the model, not the iteration.

Not with resolved air, whose means have a standard error far above that of any iteration.
"""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: which cases are of it, and what solves one with its mesh sizes divided by a number."""

    name: str
    holds: Callable[[Any], bool]
    solve: Callable[[Any, int, Tell], Values]


def _say_nothing(text: str) -> None:
    """Nobody wants to know."""


def solve_folder(folder: Folder, refinement: int, tell: Tell | None = None) -> Values:
    """Every number of a folder's case, its mesh sizes divided by `refinement`."""
    path = folder.path / "case.toml"
    case = parse_case(path.read_text("utf-8"), folder.name, str(path))
    return kind_of(case).solve(case, refinement, tell or _say_nothing)


def kind_of(case: Any) -> Kind:
    """The first kind that a case is of."""
    return next(kind for kind in KINDS if kind.holds(case))


def timed(key: str, at: float | None) -> str:
    """The key of a number at a time [s]; None: in the steady state or at the end."""
    return key if at is None else f"{key} at {at:g} s"


def _steady(case: Any, refinement: int, tell: Tell) -> Values:
    found = solve_model(
        prepare(case, mesh_fineness(case).refined(refinement)),
        options=None if case.air.model == "resolved" else OPTIONS,
        listener=lambda record: tell(f"pass {record.number}, residual {record.residual:.0e}"),
        air_listener=lambda record, evidence, seconds: tell(f"{record.time:.4g} s of air, step {record.steps:,}"),
    )
    return found.report.values


def _in_time(case: Any, refinement: int, tell: Tell) -> Values:
    """Errors in time fall with the square of the refinement, as those in space do."""
    from sim.problems.blocks_in_time import follow_blocks, march_options

    options = march_options(case)
    options = replace(options, tolerance=options.tolerance / refinement**2)
    found = follow_blocks(
        case,
        fineness=mesh_fineness(case).refined(refinement),
        options=options,
        listener=lambda moment, step: tell(f"{step.time:.4g} s"),
    )
    *_, end = found.reports.values()
    return dict(end.values) | {
        timed(key, time): value for time, report in found.reports.items() for key, value in report.values.items()
    }


def _has_time(case: Any) -> bool:
    return case.kind == "blocks" and case.time is not None


def _flow(case: Any, refinement: int, tell: Tell) -> Values:
    from sim.problems.air_alone import solve_air

    def hear(look: Any, stepper: Any) -> None:
        tell(f"{look.time:.4g} s of at most {case.air.longest:.4g}, step {look.steps:,}, change {look.change:.2g}")

    return solve_air(case, hear, refinement=refinement).report.values


def _is_air_alone(case: Any) -> bool:
    return bool(getattr(case, "air_alone", False))


KINDS = (
    Kind("flow", _is_air_alone, _flow),
    Kind("in time", _has_time, _in_time),
    Kind("steady state", lambda case: True, _steady),
)
"""The kinds, special ones first."""
