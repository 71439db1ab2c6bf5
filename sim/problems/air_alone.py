"""Air alone: blocks in which only the flow of the air is computed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypeGuard

from sim.case.blocks_case import BlocksCase
from sim.problems.kind import Kind, Tell, Values, say_nothing

if TYPE_CHECKING:
    from sim.airflow.stepping import FlowStepper, Look
    from sim.case.load import AnyCase
    from sim.problems.air_box import AirProblem
    from sim.problems.air_run import AirRun


class AirAlone(Kind["BlocksCase", "AirProblem", "AirRun"]):
    """What `joistbay run` follows where no solid conducts."""

    name = "air alone"
    word = "air alone"
    untimed = "is air alone, which has no [time]; joistbay run follows its flow"
    preparing = "grid of the air"

    def holds(self, case: AnyCase) -> TypeGuard[BlocksCase]:
        """Blocks whose solids all have a stated temperature or let no heat through."""
        return isinstance(case, BlocksCase) and case.air_alone

    def check(self, case: BlocksCase, finer: int = 1) -> None:
        """Its grid is no mistake."""
        from sim.airflow.domain import check_size
        from sim.problems.air_box import air_edges

        check_size(air_edges(case, 1.0 / finer))

    def prepare(self, case: BlocksCase, refinement: int = 1) -> AirProblem:
        """Grid and flow problem."""
        from sim.problems.air_box import build_air_problem

        return build_air_problem(case, 1.0 / refinement)

    def parts(self, ready: AirProblem) -> tuple[object, ...]:
        """The flow problem."""
        return (ready,)

    def solve_as_usual(self, case: BlocksCase) -> AirRun:
        """Its flow until that rests or its means do."""
        from sim.problems.air_run import solve_air

        return solve_air(case)

    def solve(self, case: BlocksCase, refinement: int = 1, tell: Tell = say_nothing) -> AirRun:
        """Its flow until that rests or its means do."""
        from sim.problems.air_run import solve_air

        longest = case.air.longest

        def hear(look: Look, stepper: FlowStepper) -> None:
            tell(f"{look.time:.4g} s of at most {longest:.4g}, step {look.steps:,}, change {look.change:.2g}")

        return solve_air(case, hear, refinement=refinement)

    def summarise(self, found: AirRun) -> Values:
        """Its report."""
        return found.report.values

    def save(self, found: AirRun, folder: str | Path) -> Path:
        """Write it as a run folder."""
        from sim.problems.air_run import save_air

        return save_air(found, folder)
