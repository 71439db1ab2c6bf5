"""The numbers a person wants from a solved case."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from sim.results.people import report_rows

if TYPE_CHECKING:
    from sim.resolved.march import ResolvedAir
    from sim.solver.steady import Solution


@dataclass(frozen=True, slots=True)
class Report:
    """Named numbers; every key ends in its unit (°C for temperatures), as in `report.json`."""

    name: str
    values: Mapping[str, float]

    def __getitem__(self, key: str) -> float:
        return self.values[key]

    def get(self, key: str, default: float | None = None) -> float | None:
        """The value of a key, or a default."""
        return self.values.get(key, default)

    def as_dict(self) -> dict[str, float]:
        """A plain dictionary, ready for JSON."""
        return dict(self.values)

    def text(self, units: Literal["si", "ip", "both"] = "si") -> str:
        """The report as a small tree in the wanted units."""
        rows = report_rows(self.values, units)
        groups = list(dict.fromkeys(row.group for row in rows))
        lines = [f"Report {self.name}"]
        for group in groups:
            last, own = group == groups[-1], [row for row in rows if row.group == group]
            lines.append(f"{'└──' if last else '├──'} {group}")
            for row in own:
                mark = "└──" if row is own[-1] else "├──"
                lines.append(f"{'   ' if last else '│  '} {mark} {row.label:<42} {row.text}")
        return "\n".join(lines)

    def __str__(self) -> str:
        return self.text("both")


def summarise(
    name: str,
    numbers: Callable[[Solution], Mapping[str, float]],
    solution: Solution,
    air: ResolvedAir | None = None,
) -> Report:
    """The report of a solved case: the numbers of its build-up, and how it was solved.

    Resolved air adds its speeds, films, how steady its means are and what its mesh leaves open.
    """
    values = numbers(solution)
    if air is not None:
        from sim.results.air_errors import error_values, map_error
        from sim.results.air_report import air_values

        values = {**values, **air_values(air), **error_values(values, air, numbers), **map_error(air, solution)}
    return Report(name, MappingProxyType({**values, **_run_values(solution)}))


def _run_values(solution: Solution) -> dict[str, float]:
    return {
        "audit_residual": solution.balance.residual,
        "cells": float(solution.system.conduction.active.size),
        "outer_iterations": float(len(solution.history) - 1),
        "solve_time_s": solution.seconds.get("solve", 0.0),
    }
