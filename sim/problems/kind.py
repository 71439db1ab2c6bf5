"""What every kind of problem can do; each kind is one file beside this one, and `sim.problems.kinds` lists them."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Generic, TypeGuard, TypeVar

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.rules.caution import Caution
    from sim.solver.march import Listener

CaseT = TypeVar("CaseT", bound=Case | BlocksCase)
Ready = TypeVar("Ready")
Found = TypeVar("Found")

Values = Mapping[str, float]
Tell = Callable[[str], None]
"""Hears now and then, in words, how far the solution of a problem is."""


class TooLargeError(Exception):
    """A mesh would be absurdly large; the message says how large, and what to change."""


def say_nothing(text: str) -> None:
    """Nobody wants to know."""


class Kind(ABC, Generic[CaseT, Ready, Found]):
    """A kind of problem: which cases are of it, and how one is checked, made ready, solved, told and kept."""

    name: ClassVar[str]
    preparing: ClassVar[str] = "mesh and view factors"
    """What takes a while in `prepare`."""
    word: ClassVar[str] = "blocks"
    """What a case of it is, as messages say it."""
    at_equal_heat: ClassVar[bool] = False
    """Whether its water can be sought for a wished heat: then choices are compared twice, with their own water and at
    equal heat, and others once."""
    untimed: ClassVar[str] = (
        "has no [time]; write duration and start_temperature there, or joistbay run for the steady state"
    )
    """What is said of a case that no kind follows in time."""

    @abstractmethod
    def holds(self, case: AnyCase) -> TypeGuard[CaseT]:
        """Whether a case states such a problem."""

    @abstractmethod
    def check(self, case: CaseT, finer: int = 1) -> None:
        """Refuse what cannot be solved, before anything is.

        Raises
        ------
        ValueError : it cannot be built.
        TooLargeError : its mesh, `finer` times as fine, would be absurdly large.
        """

    def check_whole(self, case: CaseT) -> None:
        """The same, and what only other commands would read; nothing more unless a kind says so."""
        self.check(case)

    def doubts(self, case: CaseT) -> tuple[Caution, ...]:
        """What is sound but to be thought over before anything is solved; nothing unless a kind says so."""
        return ()

    @abstractmethod
    def prepare(self, case: CaseT, refinement: int = 1) -> Ready:
        """Everything up to the equations, all mesh sizes divided by `refinement`."""

    def sketch(self, case: CaseT) -> Ready:
        """The same at the case's own sizes, without what takes long and only a solve needs; to be shown."""
        return self.prepare(case)

    @abstractmethod
    def parts(self, ready: Ready) -> tuple[object, ...]:
        """What has been made ready, part by part; each prints as a small tree."""

    @abstractmethod
    def solve_as_usual(self, case: CaseT) -> Found:
        """Solve a case as closely as everyday runs do.

        Raises
        ------
        NotConvergedError, BalanceError, FlowError, MarchError : where it cannot be solved.
        """

    @abstractmethod
    def solve(self, case: CaseT, refinement: int = 1, tell: Tell = say_nothing) -> Found:
        """Solve a case more strictly than in everyday runs, so that what differs is the mesh and the model.

        Errors in time fall with the square of the refinement, as those in space do.
        """

    @abstractmethod
    def summarise(self, found: Found) -> Values:
        """Its numbers by report key; those of a moment stand under `timed(key, time)`."""

    @abstractmethod
    def save(self, found: Found, folder: str | Path) -> Path:
        """Write it as a folder, which appears complete or not at all.

        Raises
        ------
        StoreError : it cannot be written, or holds something that is not ours.
        """


class KindInTime(Kind[CaseT, Ready, Found]):
    """A kind of problem in time."""

    side_by_side: ClassVar[bool] = False
    """Whether several choices of it are followed beside each other, as jobs; of others one, step by step."""

    @abstractmethod
    def until(self, case: CaseT) -> float:
        """How long a case is followed [s]."""

    @abstractmethod
    def follow(self, case: CaseT, listener: Listener | None = None) -> Found:
        """Follow a case to its end as closely as everyday runs do; the listener hears of every step.

        Raises
        ------
        NotConvergedError, BalanceError, MarchError : where it cannot be followed.
        """

    def solve_as_usual(self, case: CaseT) -> Found:
        """The case to the end of its time."""
        return self.follow(case)


def timed(key: str, at: float | None) -> str:
    """The key of a number at a time [s]; None: in the steady state or at the end."""
    return key if at is None else f"{key} at {at:g} s"
