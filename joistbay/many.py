"""Many cases at once, by processes of this machine or together on an accelerator."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Literal, TypeAlias, TypedDict, Unpack, overload

from sim.case.bay_case import Case
from sim.case.whole import WholeCase

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.case.load import AnyCase
    from sim.problems.air_run import AirRun
    from sim.problems.at_rest import Solved
    from sim.run import Result


class Sharing(TypedDict, total=False):
    """Who solves them, and who hears of it."""

    workers: int | None
    device: str | None
    listener: Callable[[int, object], None] | None


Raise: TypeAlias = Literal["raise"]
Return: TypeAlias = Literal["return"]


@overload
def solve_many(cases: Sequence[Case], *, errors: Raise = "raise", **how: Unpack[Sharing]) -> list[Result[Case]]: ...
@overload
def solve_many(
    cases: Sequence[BlocksCase], *, errors: Raise = "raise", **how: Unpack[Sharing]
) -> list[Result[BlocksCase] | AirRun]: ...
@overload
def solve_many(cases: Sequence[AnyCase], *, errors: Raise = "raise", **how: Unpack[Sharing]) -> list[Solved]: ...
@overload
def solve_many(cases: Sequence[AnyCase], *, errors: Return, **how: Unpack[Sharing]) -> list[Solved | Exception]: ...


def solve_many(
    cases: Sequence[AnyCase],
    *,
    workers: int | None = None,
    device: str | None = None,
    errors: Literal["raise", "return"] = "raise",
    listener: Callable[[int, object], None] | None = None,
) -> Sequence[Solved | Exception]:
    """Solve many cases in steady state; results in the order of the cases.

    Parameters
    ----------
    cases : of whatever kinds
    workers : processes, one thread each; 1 works in this process, which is the default without an accelerator
    device : "cpu", "gpu" or "auto" for computed air; by default as the cases say
    errors : "raise" raises the first failure once all are solved; "return" leaves failures in their cases' places
    listener : called with a case's number and its outcome as soon as it is there

    Raises
    ------
    NotConvergedError, BalanceError, FlowError : as `solve`, of the first case that failed.
    """
    from sim.study.many import solve_many as spread_out

    if isinstance(cases, WholeCase):
        raise TypeError("cases: a list of cases is wanted, not a single one; solve(case) solves that")
    found = spread_out(list(cases), workers=workers, device=device, listener=listener)
    failed = next((outcome for outcome in found if isinstance(outcome, Exception)), None)
    if failed is not None and errors == "raise":
        raise failed
    return found
