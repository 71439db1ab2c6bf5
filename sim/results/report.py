"""The numbers a person wants from a solved case."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from sim.machine.brief import small_tree
from sim.machine.notebook import card, folded, library_pandas, table
from sim.results.people import report_rows, shown_value

if TYPE_CHECKING:
    import pandas

    from sim.resolved.air import ResolvedAir
    from sim.solver.steady import Solution


HEADLINES = (
    "heat_flux_up_W_m2",
    "share_down_percent",
    "surface_mean_C",
    "surface_peak_C",
    "ripple_K",
    "water_supply_C",
)
"""Numbers of a bay that a report shows first."""

OPEN = ("Heat", "Floor surface", "Nusselt numbers", "Warm-up")
"""Groups that are open in a notebook."""


@dataclass(frozen=True, slots=True, repr=False)
class Report:
    """Named numbers; every key ends in its unit (°C for temperatures), as in `report.json`."""

    name: str
    values: Mapping[str, float]

    def __getitem__(self, key: str) -> float:
        if key not in self.values:
            raise KeyError(f"{key}: no such number in the report; {_near(key, self.values)}")
        return self.values[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values)

    def __len__(self) -> int:
        return len(self.values)

    def __contains__(self, key: object) -> bool:
        return key in self.values

    def keys(self) -> Iterable[str]:
        """The keys of all numbers, each ending in its unit."""
        return self.values.keys()

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

    def headlines(self, most: int = 6) -> list[tuple[str, str]]:
        """The first numbers of the report with their keys: key and value in SI, in printing order."""
        from sim.results.air_motion import air_headline

        wanted = [key for key in HEADLINES if key in self.values] or air_headline(self.values) or list(self.values)
        return [(key, shown_value(self.values, key, "si")) for key in wanted[:most]]

    def to_pandas(self) -> pandas.Series[float]:
        """The numbers as a pandas series by key; every key ends in its unit."""
        return library_pandas().Series(self.as_dict(), name=self.name, dtype=float)  # type: ignore[no-any-return]

    def _repr_html_(self) -> str:
        si, ip = (report_rows(self.values, units) for units in ("si", "ip"))
        groups = list(dict.fromkeys(row.group for row in si))
        lines = [(one.group, (one.label, one.text, other.text)) for one, other in zip(si, ip, strict=True)]
        parts = (folded(name, table(t for g, t in lines if g == name), opened=name in OPEN) for name in groups)
        return card(f"Report {self.name}", *parts)

    def __repr__(self) -> str:
        rows = [*self.headlines(), ("all", f"{len(self.values)} numbers: print(report), report[key]")]
        return small_tree(f"Report {self.name}", rows)

    def __str__(self) -> str:
        return self.text("both")


def _near(key: str, known: Iterable[str]) -> str:
    """Which key was meant, or some that there are."""
    names = list(known)
    near = get_close_matches(key, names, n=1, cutoff=0.5)
    return f'did you mean "{near[0]}"?' if near else f"there are {', '.join(names[:6])} ..."


def summarise(
    name: str,
    numbers: Callable[[Solution], Mapping[str, float]],
    solution: Solution,
    air: ResolvedAir | None = None,
    films: Mapping[str, float] = MappingProxyType({}),
) -> Report:
    """The report of a solved case: the numbers of its build-up, and how it was solved.

    Resolved air adds its speeds, films, those of bodies among them, how steady its means are and what its mesh leaves
    open.
    """
    values = numbers(solution)
    if air is not None:
        from sim.results.air_errors import error_values, map_error
        from sim.results.air_report import air_values

        errors = {**error_values(values, air, numbers), **map_error(air, solution)}
        values = {**values, **films, **air_values(air), **errors}
    return Report(name, MappingProxyType({**values, **_run_values(solution, 0.0 if air is None else air.seconds)}))


def _run_values(solution: Solution, followed: float) -> dict[str, float]:
    """How it was solved; `followed`: time for the flow of resolved air, before the last solution [s]."""
    return {
        "audit_residual": solution.balance.residual,
        "cells": float(solution.system.conduction.active.size),
        "outer_iterations": float(len(solution.history) - 1),
        "solve_time_s": solution.seconds.get("solve", 0.0) + followed,
    }
