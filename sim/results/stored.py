"""A result of a bay that lies in a run folder, with the same words as one in memory."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from sim.case.bay_case import Case
from sim.case.load import parse_case
from sim.machine.brief import Brief
from sim.results.report import Report
from sim.store.run_folder import StoreError, read_run

if TYPE_CHECKING:
    import xarray


@dataclass(frozen=True, repr=False)
class StoredResult(Brief):
    """Case, report and fields of a run folder, read when they are asked for."""

    folder: Path

    @cached_property
    def case(self) -> Case:
        """The case that was solved."""
        with read_run(self.folder) as run:
            case = parse_case(run.case_text, self.folder.name)
        if not isinstance(case, Case):
            raise StoreError(f"{self.folder}: is not the run of a joist bay")
        return case

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
            return run.fields.load()
