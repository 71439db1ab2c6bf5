"""What is asked of a solver's process, and what it answers: plain values that can be sent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from sim.case.bay_case import Case

if TYPE_CHECKING:
    from sim.run import Result

Mesh = Literal["quick", "own"]
"""The mesh of a drag, and that which the case asks for."""


@dataclass(frozen=True, slots=True)
class SolveJob:
    """A bay to solve on one of the meshes, and the water for the flux that is wished for."""

    change: int
    case: Case
    mesh: Mesh
    wish: float | None = None


@dataclass(frozen=True, slots=True)
class PageJob:
    """A page of a bay: the one to hand over, or its scene to turn."""

    change: int
    case: Case
    units: str
    what: Literal["page", "scene"] = "page"


@dataclass(frozen=True, slots=True)
class FlowJob:
    """A bay whose air is to be followed as it flows."""

    change: int
    case: Case


@dataclass(frozen=True, slots=True)
class Reply:
    """An answer to a job: `kind` says what `told` is.

    answer: numbers and pictures; needed: the water for the wish; progress: how far; outline: the plan of a house before
    it is solved; page, scene: HTML; failed: why; dropped: a newer change has come.
    """

    kind: Literal["answer", "needed", "progress", "outline", "page", "scene", "failed", "dropped"]
    change: int
    mesh: str
    told: Any = None


@dataclass(frozen=True, slots=True)
class Makers:
    """What makes pictures and pages of a result: functions of modules, so that they can be sent to a process."""

    picture: Callable[[Any, Any, str], dict[str, Any]]
    page: Callable[[Result[Case], str], str]
    scene: Callable[[Result[Case], str], str]
