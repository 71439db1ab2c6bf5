"""Verification: every published or derived answer beside what the program computes.

A verification folder holds `case.toml` (any case), `expected.toml` and a README with the problem. In
`expected.toml` each `[[check]]` names its `source`, `unit`, tolerance (`absolute` in that unit, or
`relative`) and the `published` numbers by key of the report; `[mesh]` says by how much the case's mesh sizes
are divided in the quick (`coarse`) and in the `full` run.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.load import parse_case
from sim.run import Result, mesh_fineness, solve
from sim.solve.steady import SteadyOptions

CASES = Path(__file__).resolve().parents[2] / "cases" / "verification"
"""The folders that come with the program."""

OPTIONS = SteadyOptions(residual=1e-7, imbalance=1e-8, linear_tolerance=1e-3)
"""Stricter than for everyday runs, so that what differs is the mesh and the model, not the iteration."""

HALVING = 0.01
"""Largest change of the total heat flow when the mesh is halved, ISO 10211:2017."""


@dataclass(frozen=True, slots=True)
class Check:
    """One number to reproduce: report key, value, allowed difference (both in `unit`) and its source.

    With a `drop` [K] the number is a thermal resistance: the drop over the flux that the key names.
    """

    key: str
    published: float
    unit: str
    allowed: float
    source: str
    drop: float | None = None


@dataclass(frozen=True, slots=True)
class Folder:
    """A verification problem: its case file, its checks and its mesh refinements."""

    name: str
    path: Path
    checks: tuple[Check, ...]
    coarse: int
    full: int
    halving: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name}: {len(self.checks)} numbers, mesh {self.coarse} (quick) and {self.full} (full)"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the accuracy table; numbers in `unit`."""

    case: str
    quantity: str
    unit: str
    published: float
    computed: float
    difference: float
    allowed: float
    passed: bool
    source: str

    def as_dict(self) -> dict[str, Any]:
        """Plain values, ready for JSON."""
        return {name: getattr(self, name) for name in self.__slots__}

    def __str__(self) -> str:
        return (
            f"{self.case:<22} {self.quantity:<40} {self.published:>12.6g} {self.computed:>12.6g} "
            f"{self.difference:>+10.2e} ±{self.allowed:<8.2g} {self.unit:<7} {'pass' if self.passed else 'FAIL'}"
        )


def load_checks(folder: Path) -> Folder:
    """Read the expected numbers of a verification folder.

    Raises
    ------
    ValueError : a check has no tolerance or two, one source gives a key twice, or the mesh cannot be halved.
    """
    data = tomllib.loads((folder / "expected.toml").read_text("utf-8"))
    mesh = data.get("mesh", {})
    checks = tuple(check for group in data["check"] for check in _checks(folder.name, group))
    keys = [(check.key, check.source) for check in checks]
    if twice := {key for key, source in keys if keys.count((key, source)) > 1}:
        raise ValueError(f"{folder.name}: {', '.join(sorted(twice))} given twice")
    coarse, halving = mesh.get("coarse", 1), tuple(data.get("halving", ()))
    full = mesh.get("full", coarse)
    if halving and full % 2:
        raise ValueError(f"{folder.name}: mesh.full must be even, so that half of it can be run as well")
    return Folder(folder.name, folder, checks, coarse, full, halving)


def _checks(name: str, group: Mapping[str, Any]) -> Iterable[Check]:
    if ("absolute" in group) == ("relative" in group):
        raise ValueError(f"{name}: a check needs an absolute or a relative tolerance ({group['source']})")
    for key, number in group["published"].items():
        allowed = group.get("absolute", group.get("relative", 0.0) * abs(number))
        yield Check(
            key,
            float(number),
            group["unit"],
            float(allowed),
            group["source"],
            group.get("drop"),
        )


def folders(names: Iterable[str] | None = None, where: Path = CASES) -> list[Folder]:
    """The verification folders by name, all of them without names.

    Raises
    ------
    ValueError : a name is not one of the folders; the message lists them.
    """
    known = {path.parent.name: path.parent for path in sorted(where.glob("*/expected.toml"))}
    chosen = list(known) if names is None else list(names)
    if unknown := [name for name in chosen if name not in known]:
        raise ValueError(f"no verification case {', '.join(unknown)}; there are {', '.join(known)}")
    return [load_checks(known[name]) for name in chosen]


def verify(
    names: Iterable[str] | None = None,
    full: bool = False,
    *,
    where: Path = CASES,
    listener: Callable[[Folder], None] | None = None,
) -> list[Row]:
    """Solve verification cases and compare.

    Parameters
    ----------
    names : folders to run; all by default.
    full : on the fine mesh, with the change from the mesh half as fine for totals that a standard limits.
    where : folder that holds them.
    listener : called with each Folder before it is solved.

    Returns
    -------
    One Row for each number, in file order. Whether it passed is in the row; nothing is raised for a miss.
    """
    rows: list[Row] = []
    for folder in folders(names, where):
        if listener:
            listener(folder)
        rows += compare_folder(folder, full)
    return rows


def compare_folder(folder: Folder, full: bool = False) -> list[Row]:
    """The rows of one verification folder."""
    refinement = folder.full if full else folder.coarse
    result = _solve(folder, refinement)
    rows = [_row(folder, check, result) for check in folder.checks]
    if full and folder.halving:
        rows += _halved(folder, result, _solve(folder, refinement // 2))
    return rows


def _solve(folder: Folder, refinement: int) -> Result:
    path = folder.path / "case.toml"
    case = parse_case(path.read_text("utf-8"), folder.name, str(path))
    return solve(case, fineness=mesh_fineness(case).refined(refinement), options=OPTIONS)


def _row(folder: Folder, check: Check, result: Result) -> Row:
    computed = _computed(check, result)
    difference = computed - check.published
    return Row(
        case=folder.name,
        quantity=_quantity(check),
        unit=check.unit,
        published=check.published,
        computed=computed,
        difference=difference,
        allowed=check.allowed,
        passed=abs(difference) <= check.allowed,
        source=check.source,
    )


def _computed(check: Check, result: Result) -> float:
    """The report's value in the check's unit."""
    value = result.report[check.key]
    if check.drop is not None:
        return check.drop / abs(value)
    return value + ZERO_CELSIUS if check.key.endswith("_C") and check.unit == "K" else value


def _quantity(check: Check) -> str:
    """The report's key, or what becomes of a flux under a known drop."""
    if check.drop is None:
        return check.key
    return check.key.replace("heat_flux", "thermal_resistance").replace("_W_m2", "_m2K_W")


def _halved(folder: Folder, fine: Result, rough: Result) -> Iterable[Row]:
    """Change of total heat flows when the mesh is halved, as shares."""
    for key in folder.halving:
        change = fine.report[key] / rough.report[key] - 1.0
        yield Row(
            case=folder.name,
            quantity=f"{key} mesh halved",
            unit="-",
            published=0.0,
            computed=change,
            difference=change,
            allowed=HALVING,
            passed=abs(change) <= HALVING,
            source="ISO 10211:2017, mesh-halving rule",
        )
