"""Verification: every published or derived answer beside what the program computes.

What a folder expects is read in `sim.verify.folder`; its case is solved as its kind says (`sim.problems.kinds`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from sim.case.constants import ZERO_CELSIUS
from sim.case.load import parse_case
from sim.problems.kind import Tell, Values, say_nothing, timed
from sim.problems.kinds import kind_stated
from sim.verify.folder import CASES, Check, Folder, folders

HALVING = 0.01
"""Largest change of the total heat flow when the mesh is halved, ISO 10211:2017."""


@dataclass(frozen=True, slots=True)
class AccuracyRow:
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

    def as_dict(self) -> dict[str, object]:
        """Plain values, ready for JSON."""
        return {name: getattr(self, name) for name in self.__slots__}

    def __str__(self) -> str:
        return (
            f"{self.case:<22} {self.quantity:<40} {self.published:>12.6g} {self.computed:>12.6g} "
            f"{self.difference:>+10.2e} ±{self.allowed:<8.2g} {self.unit:<7} {'pass' if self.passed else 'FAIL'}"
        )


def verify(
    names: Iterable[str] | None = None,
    full: bool = False,
    *,
    where: Path = CASES,
    listener: Callable[[Folder], None] | None = None,
    tell: Tell | None = None,
    device: str | None = None,
) -> list[AccuracyRow]:
    """Solve verification cases and compare.

    Parameters
    ----------
    names : folders to run; all by default.
    full : on the fine mesh, with the change from the mesh half as fine for totals that a standard limits.
    where : folder that holds them.
    listener : called with each Folder before it is solved.
    tell : hears now and then, in words, how far the one being solved is.
    device : where resolved air is followed: "cpu", "gpu" or "auto"; by default as the cases say.

    Returns
    -------
    One AccuracyRow for each number, in file order. Whether it passed is in the row; nothing is raised for a miss.

    Raises
    ------
    ValueError : a folder is not there, is contradictory, or expects a number that its report does not have.
    """
    rows: list[AccuracyRow] = []
    for folder in folders(names, where):
        if listener:
            listener(folder)
        rows += compare_folder(folder, full, tell, device)
    return rows


def compare_folder(
    folder: Folder, full: bool = False, tell: Tell | None = None, device: str | None = None
) -> list[AccuracyRow]:
    """The rows of one verification folder; none where it is left to the full run."""
    refinement = folder.full if full else folder.coarse
    if not refinement:
        return []
    values = solve_folder(folder, refinement, tell, device)
    rows = [_row(folder, check, values, full) for check in folder.checks]
    if full and folder.halving:
        rows += _halved(folder, values, solve_folder(folder, refinement // 2, tell, device))
    return rows


def solve_folder(folder: Folder, refinement: int, tell: Tell | None = None, device: str | None = None) -> Values:
    """Every number of a folder's case, its mesh sizes divided by `refinement`, resolved air on a device.

    Without a companion on larger cells, which takes as long again: it tells of errors, and none are published.
    """
    path = folder.path / "case.toml"
    case = parse_case(path.read_text("utf-8"), folder.name, str(path))
    if case.air.is_resolved:
        own = {"companion": False} | ({} if device is None else {"device": device})
        case = case.model_copy(update={"air": case.air.model_copy(update=own)})
    kind = kind_stated(case)
    found: Values = kind.summarise(kind.solve(case, refinement, tell or say_nothing))
    return found


def _row(folder: Folder, check: Check, values: Values, full: bool) -> AccuracyRow:
    computed, allowed = _computed(folder, check, values), check.limit(full)
    difference = computed - check.published
    return AccuracyRow(
        case=folder.name,
        quantity=_quantity(check),
        unit=check.unit,
        published=check.published,
        computed=computed,
        difference=difference,
        allowed=allowed,
        passed=abs(difference) <= allowed,
        source=check.source,
    )


def _computed(folder: Folder, check: Check, values: Values) -> float:
    """The report's value in the check's unit."""
    key = timed(check.key, check.at)
    if key not in values:
        raise ValueError(f"{folder.name}: expects {key}, but the report has only {', '.join(sorted(values))}")
    value = values[key]
    if check.drop is not None:
        return check.drop / abs(value)
    return value + ZERO_CELSIUS if check.key.endswith("_C") and check.unit == "K" else value


def _quantity(check: Check) -> str:
    """The report's key, or what becomes of a flux under a known drop."""
    key = check.key
    if check.drop is not None:
        key = key.replace("heat_flux", "thermal_resistance").replace("_W_m2", "_m2K_W")
    return timed(key, check.at)


def _halved(folder: Folder, fine: Values, rough: Values) -> Iterable[AccuracyRow]:
    """Change of total heat flows when the mesh is halved, as shares."""
    for key in folder.halving:
        change = fine[key] / rough[key] - 1.0
        yield AccuracyRow(
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
