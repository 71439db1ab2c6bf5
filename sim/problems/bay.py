"""A joist bay, or one pitch of it, in its steady state."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypeGuard

from sim.case.bay_case import Case
from sim.problems.driving import outdoor_temperature
from sim.problems.steady import Steady
from sim.run import Result

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.rules.caution import Caution


class BayAtRest(Steady[Case]):
    """What `joistbay run` solves of a bay."""

    name = "joist bay, steady state"
    word = "a joist bay"
    at_equal_heat = True

    def holds(self, case: AnyCase) -> TypeGuard[Case]:
        """Every case of a bay has a steady state."""
        return isinstance(case, Case)

    def check_whole(self, case: Case) -> None:
        """The same, and the weather, which only a warm-up reads."""
        self.check(case)
        outdoor_temperature(case)

    def doubts(self, case: Case) -> tuple[Caution, ...]:
        """Of its build-up, without any number of a solution."""
        from sim.rules.cautions import doubts

        return doubts(case)

    def save(self, found: Result[Case], folder: str | Path) -> Path:
        """Write it as a run folder; with resolved air together with the films that it teaches."""
        if found.air is None:
            return super().save(found, folder)
        from sim.problems.calibration import calibrate
        from sim.resolved.calibration_file import save_calibration

        taught = calibrate(found)
        kept = super().save(found, folder)
        save_calibration(taught, kept)
        return kept


def teach(found: Result[Case], folder: Path) -> None:
    """Add to a run folder of resolved air the films that it teaches, which take longer than the rest of it."""
    from sim.problems.calibration import calibrate
    from sim.resolved.calibration_file import save_calibration

    save_calibration(calibrate(found), folder)
