"""A result of a bay that lies in a run folder, with the same words as one in memory."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.case.bay_case import Case
from sim.case.errors import CaseError, shortened
from sim.case.load import AnyCase, parse_case
from sim.machine.brief import Brief, head_of, small_tree
from sim.machine.notebook import card, folded
from sim.results.report import Report
from sim.solver.balance import Balance
from sim.store.run_folder import CASE_FILE, StoreError, read_run

if TYPE_CHECKING:
    import xarray


@dataclass(frozen=True, slots=True, repr=False)
class KeptRun:
    """A run folder in memory, with the words and types of a solve.

    Attributes
    ----------
    case : Case or BlocksCase
    report : Report
    fields : xarray.Dataset
        As `Result.fields`.
    history : tuple of mappings
        A line a pass, or a look at the flow.
    versions : mapping
        Of the libraries behind it.
    """

    case: AnyCase
    report: Report
    fields: xarray.Dataset
    history: tuple[Mapping[str, Any], ...]
    versions: Mapping[str, str]

    @property
    def floor(self) -> xarray.DataArray:
        """Floor surface temperature [K] on the plan, as `Result.floor`.

        Raises
        ------
        StoreError : this run has no floor.
        """
        if "floor_temperature" not in self.fields:
            raise StoreError(f"{self.case.name}: this run has no floor surface")
        return self.fields["floor_temperature"].rename("floor")

    @property
    def balance(self) -> Balance | None:
        """Heat in and out by path [W] of a bay, all runs of tube as one; None of other runs."""
        known, paths = self.report.values, ("up", "down", "edge")
        if "heat_flow_supplied_W" not in known:
            return None
        flows = {path: known[f"heat_flow_{path}_W"] for path in paths}
        return Balance({"water": known["heat_flow_supplied_W"]}, {path: flow for path, flow in flows.items() if flow})

    def __repr__(self) -> str:
        return small_tree(head_of(self), [*self.report.headlines(), ("has", "report, balance, fields, floor, case")])

    def _repr_html_(self) -> str:
        return card(f"Run {self.case.name}", self.report._repr_html_(), folded("Case", self.case._repr_html_()))


def read_kept(folder: str | Path) -> KeptRun:
    """Read a run folder whole; raises as `read_run`."""
    with read_run(folder) as run:
        values = {key: math.nan if value is None else value for key, value in run.report.items()}
        case, report = kept_case(run.folder, run.case_text), Report(run.name, MappingProxyType(values))
        return KeptRun(case, report, run.loaded_fields(), run.history, run.versions)


def kept_case(folder: Path, text: str) -> AnyCase:
    """The case that a folder keeps.

    Raises
    ------
    StoreError : this version cannot read it.
    """
    try:
        return parse_case(text, folder.name)
    except CaseError as error:
        first = error.problems[0]
        said = shortened(f"{first.key} {first}".strip(), 200)
        raise StoreError(f"{folder}: its case cannot be read ({CASE_FILE}: {said})") from None


@dataclass(frozen=True, repr=False)
class StoredResult(Brief):
    """Case, report and fields of a run folder, read when they are asked for."""

    folder: Path

    @cached_property
    def case(self) -> Case:
        """The case that was solved."""
        with read_run(self.folder) as run:
            case = kept_case(self.folder, run.case_text)
        if (bay := case.joist_bay) is None:
            raise StoreError(f"{self.folder}: is not the run of a joist bay")
        return bay

    @cached_property
    def report(self) -> Report:
        """Its numbers; what was not a number is NaN again."""
        with read_run(self.folder) as run:
            values = {key: math.nan if value is None else value for key, value in run.report.items()}
            return Report(self.folder.name, values)

    @cached_property
    def fields(self) -> xarray.Dataset:
        """Its fields, loaded into memory."""
        with read_run(self.folder) as run:
            return run.loaded_fields()
