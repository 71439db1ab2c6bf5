"""The steady state of a case of any kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias, overload

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.load import no_case
from sim.case.whole import WholeCase
from sim.problems.kinds import kind_of
from sim.run import Result

if TYPE_CHECKING:
    from sim.problems.air_run import AirRun

    Solved: TypeAlias = Result[Case] | Result[BlocksCase] | AirRun


@overload
def solve_at_rest(case: Case) -> Result[Case]: ...
@overload
def solve_at_rest(case: BlocksCase) -> Result[BlocksCase] | AirRun: ...


def solve_at_rest(case: Case | BlocksCase) -> Result[Case] | Result[BlocksCase] | AirRun:
    """Solve a case in steady state, whatever it is of.

    Parameters
    ----------
    case : Case or BlocksCase
        As `load_case` gives it. A bay or blocks become a Result; air alone, whose flow is followed to its rest or its
        mean, an AirRun.

    Raises
    ------
    TypeError
        It is no case.
    NotConvergedError, BalanceError, FlowError
        As in `sim.solve` and `sim.solve_air`.
    """
    if not isinstance(case, WholeCase):
        raise no_case(case)
    found: Result[Case] | Result[BlocksCase] | AirRun = kind_of(case).solve_as_usual(case)
    return found
