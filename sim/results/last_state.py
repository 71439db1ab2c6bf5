"""The state in which a run ended, as pictures of the whole build-up want it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.results.report import Report

if TYPE_CHECKING:
    import xarray

    from sim.case.load import AnyCase


@dataclass(frozen=True, slots=True)
class LastState:
    """A case, its fields and its numbers at the end.

    Attributes
    ----------
    fields : xarray.Dataset
        As of a run; of a bay in time that kept no snapshots, the floor and the outlines alone.
    room : float or None
        Temperature of the room then [K], where it is not that of the case.
    moment : str
        Which moment, as a phrase; empty at rest.
    missing : tuple of str
        What is not there, and how it would be.
    """

    case: AnyCase
    fields: xarray.Dataset
    report: Report
    room: float | None = None
    moment: str = ""
    missing: tuple[str, ...] = ()
