"""Many cases at once, by processes of this machine or together on an accelerator."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Literal, overload

from sim.case.bay_case import Case

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.problems.air_run import AirRun
    from sim.run import Result

    Solved = Result[Any] | AirRun


@overload
def solve_many(
    cases: Sequence[Case],
    *,
    workers: int | None = None,
    device: str | None = None,
    errors: Literal["raise"] = "raise",
    listener: Callable[[int, object], None] | None = None,
) -> list[Result[Case]]: ...
@overload
def solve_many(
    cases: Sequence[AnyCase],
    *,
    workers: int | None = None,
    device: str | None = None,
    errors: Literal["raise", "return"] = "raise",
    listener: Callable[[int, object], None] | None = None,
) -> list[Solved | Exception]: ...


def solve_many(
    cases: Sequence[AnyCase],
    *,
    workers: int | None = None,
    device: str | None = None,
    errors: Literal["raise", "return"] = "raise",
    listener: Callable[[int, object], None] | None = None,
) -> list[Any]:
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

    found = spread_out(list(cases), workers=workers, device=device, listener=listener)
    failed = next((outcome for outcome in found if isinstance(outcome, Exception)), None)
    if failed is not None and errors == "raise":
        raise failed
    return found
