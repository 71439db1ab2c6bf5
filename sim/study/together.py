"""Several searches at once: what each wants solved next is solved together with what the others want.

A search is a generator that yields cases, is sent their results, and returns what it found.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any

from sim.case.errors import CaseError
from sim.jobs.bay_workers import Later
from sim.results.stored import StoredResult
from sim.run import Result
from sim.study.compare import FLUX, AskedChoice, ComparedChoice, Comparison, with_twins
from sim.study.many import Hands, solve_many
from sim.study.sampling import Draw, TrialResult, reason, varied
from sim.study.water import Target, UnreachableError, no_such_water, search_supply

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.load import AnyCase

Search = Generator[list[Any], list[Any], Any]
Tell = Callable[[str], None]


RISE_POWER = 1.14
"""Power of water above the room by which heat rises where air is computed: conduction alone has 1, radiation and plumes
have more; 1.11 to 1.17 in three kitchens. It spares a search a flow, and what it finds does not hang on it."""


def keep_result(result: Result, store: Path) -> Later:
    """A result that is written where it was solved, by the process that did; its report is there at once."""
    from sim.problems.save_result import save_result

    kept = StoredResult(Path(mkdtemp(dir=store)) / "run")
    vars(kept)["report"] = result.report
    return Later(kept, partial(save_result, result, kept.folder))


def pursue(
    searches: Sequence[Search], device: str, tell: Tell | None = None, hands: Hands | None = None
) -> list[Any]:
    """What every search found, or the exception that it ended in; `hands`: what holds the solids."""
    with nullcontext(hands) if hands else Hands() as kept:
        return _pursue(searches, device, tell, kept)


def _pursue(searches: Sequence[Search], device: str, tell: Tell | None, hands: Hands) -> list[Any]:
    found: list[Any] = [None] * len(searches)
    wanted: dict[int, list[Any]] = {}

    def go_on(number: int, results: list[Any] | None) -> None:
        try:
            failed = next((each for each in results or [] if isinstance(each, Exception)), None)
            if failed is not None:
                raise failed
            search = searches[number]
            wanted[number] = next(search) if results is None else search.send(results)
        except StopIteration as end:
            found[number] = end.value
        except Exception as error:  # one search must not end the others: what went wrong is what it found
            found[number] = error

    for number in range(len(searches)):
        go_on(number, None)
    while wanted:
        asked, results = wanted.copy(), iter(_solved(wanted, device, tell, hands))
        wanted.clear()
        for number, cases in asked.items():
            go_on(number, [next(results) for _ in cases])
    return found


def _solved(wanted: dict[int, list[Any]], device: str, tell: Tell | None, hands: Hands) -> list[Any]:
    """All wanted cases, solved together."""
    cases = [case for own in wanted.values() for case in own]
    done = iter(range(1, len(cases) + 1))

    def ended(number: int, outcome: Any) -> None:
        if tell:
            how = f"failed: {reason(outcome)}" if isinstance(outcome, Exception) else "done"
            tell(f"{next(done)} of {len(cases)}, {cases[number].name} {how}")

    return solve_many(cases, device=device, listener=ended, hands=hands)


def supply_cases(case: Case, first: Result[Case], target: Target, tolerance: float) -> Search:
    """The search for the supply that gives a target, as cases to solve."""
    search = search_supply(case, first, target, tolerance, RISE_POWER)
    try:
        supply = next(search)
        while True:
            try:
                changed = case.with_(**{"water.supply": supply})
            except CaseError as error:
                raise no_such_water(case, supply, error) from error
            (result,) = yield [changed]
            supply = search.send(result)
    except StopIteration as end:
        return end.value


def compare_together(
    case: Case,
    choices: Sequence[AskedChoice],
    *,
    flux: float | None = None,
    tell: Tell | None = None,
    store: Path | None = None,
) -> Comparison:
    """`compare.compare_choices` with all choices solved at once on the case's device.

    Water for the wanted flux is searched until the flux is as close as the means of the air are known (`air.error`).
    With a `store` results are written there by the processes that made them.
    """
    with Hands(partial(keep_result, store=store) if store else None, spare=store is not None) as hands:
        found = _compared(case, choices, flux, tell, hands)
        hands.settle()
        return found


def _compared(
    case: Case, choices: Sequence[AskedChoice], flux: float | None, tell: Tell | None, hands: Hands
) -> Comparison:
    asked = with_twins(choices)
    first = solve_many([choice.case for choice in asked], device=case.air.device, hands=hands)
    solved = [each for each in first if not isinstance(each, Exception)]
    if flux is None:
        flux = solved[0].report[FLUX] if solved else float("nan")
    target = Target(FLUX, flux)
    searches = [
        _search(choice, result, target, case.air.error) for choice, result in zip(asked, first, strict=True)
    ]
    found = pursue(searches, case.air.device, tell, hands)
    return Comparison(case, tuple(_choice(*row) for row in zip(asked, first, found, strict=True)), flux)


def _search(choice: AskedChoice, result: Any, target: Target, tolerance: float) -> Search:
    """What is still to be solved for a choice: nothing for one that failed or has a twin."""
    if isinstance(result, Exception):
        return _failed(result)
    return _nothing() if choice.twin else supply_cases(choice.case, result, target, tolerance)


def _nothing() -> Search:
    """A search that has ended."""
    return None
    yield []


def _failed(error: Exception) -> Search:
    """A search that has failed before it began."""
    raise error
    yield []


def _choice(asked: AskedChoice, at_water: Any, found: Any) -> ComparedChoice:
    """A choice from its result at the case's water, and what the search for other water found."""
    if isinstance(at_water, Exception):
        return ComparedChoice(asked, None, None, failure=reason(at_water))
    if isinstance(found, UnreachableError):
        return ComparedChoice(asked, at_water, None, str(found))
    if isinstance(found, Exception):
        return ComparedChoice(asked, None, None, failure=reason(found))
    return ComparedChoice(asked, at_water, found)


def report_values(result: Result) -> dict[str, float]:
    """What a study keeps of a result."""
    return dict(result.report.values)


def perform_together(case: AnyCase, trials: Sequence[Draw]) -> Iterator[TrialResult]:
    """All trials of a study at once on the case's device; a `sampling.Performer`."""
    cases, fitting = [], []
    for trial in trials:
        try:
            cases.append(varied(case, trial))
            fitting.append(trial)
        except CaseError as error:
            yield TrialResult(trial, failure=reason(error))
    outcomes = solve_many(cases, device=case.air.device, harvest=report_values)
    for trial, outcome in zip(fitting, outcomes, strict=True):
        failed = isinstance(outcome, Exception)
        yield TrialResult(trial, failure=reason(outcome)) if failed else TrialResult(trial, outcome)
