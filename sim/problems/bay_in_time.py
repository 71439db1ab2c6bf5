"""A joist bay in time, driven by its water, weather and thermostats."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeGuard

from sim.case.bay_case import Case
from sim.machine.unfinished import passing_folder
from sim.problems.bay import BayAtRest
from sim.problems.driving import case_drivers
from sim.problems.kind import KindInTime, Tell, Values, say_nothing
from sim.run import Model

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.problems.warm_up import WarmUp
    from sim.solver.march import Listener

_BAY = BayAtRest()


class BayInTime(KindInTime[Case, Model[Case], "WarmUp"]):
    """What `joistbay warmup` follows of a bay."""

    name = "joist bay in time"
    word = "a joist bay"
    side_by_side = True

    def holds(self, case: AnyCase) -> TypeGuard[Case]:
        """Every case of a bay can be followed: where it says nothing about time, its water comes at once."""
        return isinstance(case, Case)

    def check(self, case: Case, finer: int = 1) -> None:
        """As in the steady state; and what drives the bay can be followed."""
        _BAY.check(case, finer)
        case_drivers(case, 1.0)

    def prepare(self, case: Case, refinement: int = 1) -> Model[Case]:
        """As for the steady state."""
        return _BAY.prepare(case, refinement)

    def parts(self, ready: Model[Case]) -> tuple[object, ...]:
        """As for the steady state."""
        return _BAY.parts(ready)

    def until(self, case: Case) -> float:
        """As its section [time] says, else twelve hours."""
        return case.time.duration

    def follow(self, case: Case, listener: Listener | None = None) -> WarmUp:
        """The bay to the end of its time."""
        from sim.problems.warm_up import warm_up

        return warm_up(case, listener=listener)

    def solve(self, case: Case, refinement: int = 1, tell: Tell = say_nothing) -> WarmUp:
        """The bay to the end of its time."""
        from sim.problems.warm_up import usual_options, warm_up

        options = usual_options(case)
        return warm_up(
            case,
            options=replace(options, tolerance=options.tolerance / refinement**2),
            listener=lambda moment, step: tell(f"{step.time:.4g} s"),
            model=self.prepare(case, refinement),
        )

    def summarise(self, found: WarmUp) -> Values:
        """Its numbers, all of them of the whole time."""
        return found.report.values

    def save(self, found: WarmUp, folder: str | Path) -> Path:
        """Write it as warm-ups with a single choice."""
        from sim.problems.save_warm_up import StoredWarmUp, save_warm_ups, write_warm_up

        with passing_folder() as place:
            write_warm_up(found, place)
            choice = StoredWarmUp(found.case.title or found.case.name, place)
            return save_warm_ups(found.case, [choice], folder)
