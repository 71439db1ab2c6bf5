"""What a page is made from: a stored run as it is told, with what rules say of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from sim.case.bay_case import Case
from sim.case.load import AnyCase
from viz.choice import Choice
from viz.floor_limits import floor_limits
from viz.report.maps import MappedFloor
from viz.report.told import Told

USUAL_ROOM = 293.15
"""Room temperature [K] where neither case nor fields tell it."""


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution in both unit systems: its subject, its text, its source, whether a rule is broken, and how badly.

    `badness` is what the same caution of several bays is ordered by.
    """

    subject: str
    text: Told
    source: str
    broken: bool = False
    badness: float = 0.0


@dataclass(frozen=True)
class RunRecord:
    """One stored run.

    Attributes
    ----------
    choice : Choice
        Fields, report, title.
    case : AnyCase, optional
        None where this version of the program does not understand the stored case any more.
    case_text : str
        The case as it was understood, every key.
    written : str
        The case file as its author wrote it; empty where the folder does not hold it.
    limits : sequence of mappings
        Verdicts: what, key, highest, value, kept, source.
    cautions : sequence of Warned
    versions : mapping
    history : sequence of mappings
    feet : what a foot feels, in sentences.
    ways : what keeps the limits, or how far the water may rise, in sentences.
    below : steps downwards, as `sim.results.downwards.downward_chain` gives them.
    stored : the stored case as a command line names it; empty where there is none.
    """

    choice: Choice
    case: AnyCase | None
    case_text: str
    written: str = ""
    limits: Sequence[Mapping[str, Any]] = ()
    cautions: Sequence[Warned] = ()
    versions: Mapping[str, str] = field(default_factory=dict)
    history: Sequence[Mapping[str, Any]] = ()
    below: Sequence[tuple[str, float, float]] = ()
    feet: Sequence[Told] = ()
    ways: Sequence[Told] = ()
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    stored: str = ""

    @property
    def report(self) -> Mapping[str, Any]:
        """Report keys and values."""
        return self.choice.report

    @property
    def title(self) -> str:
        """Title of the case."""
        return self.choice.case or self.choice.name

    @property
    def air_alone(self) -> bool:
        """Whether the flow of the air was computed and nothing else."""
        return "temperature" not in self.choice.fields and "air_temperature" in self.choice.fields

    @cached_property
    def bay(self) -> Case | None:
        """The case, where it is that of a joist bay."""
        return None if self.case is None else self.case.joist_bay

    @property
    def room(self) -> float:
        """Room temperature [K]; the usual one where nothing tells it."""
        if self.bay is not None:
            return float(self.bay.room.temperature)
        return USUAL_ROOM if self.choice.room is None else self.choice.room

    def floor(self, name: str = "") -> MappedFloor | None:
        """The floor as a map shows it; None where the run has none."""
        from viz.choice import floor_plans

        if "floor_temperature" not in self.choice.fields or "surface_mean_C" not in self.report:
            return None
        return MappedFloor(floor_plans([self.choice])[0], self.room, self.report, floor_limits(self.limits), name)
