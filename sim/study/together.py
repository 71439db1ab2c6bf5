"""Several searches at once: what each wants solved next is solved together with what the others want.

A search is a generator that yields cases, is sent their results, and returns what it found.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from sim.case.errors import CaseError
from sim.jobs.bay_workers import ValueThenWork
from sim.results.stored import StoredResult
from sim.run import Result
from sim.study.compare import FLUX, AskedChoice, ComparedChoice, Comparison, with_twins
from sim.study.many import Hands, reports_by_films, solve_many
from sim.study.sampling import Draw, TrialResult, reason, varied
from sim.study.water import HOTTEST, NeededWater, Target, UnreachableError, no_such_water, search_supply

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.load import AnyCase
    from sim.problems.at_rest import Solved

Found = TypeVar("Found", covariant=True)
Search: TypeAlias = Generator["list[Case]", "list[Result[Case]]", Found]
Tell = Callable[[str], None]


RISE_POWER = 1.14
"""Power of water above the room by which heat rises where air is computed: conduction alone has 1, radiation and plumes
have more; 1.11 to 1.17 in three kitchens. It spares a search a flow, and what it finds does not hang on it."""


def keep_result(result: Result[Case], store: Path) -> ValueThenWork:
    """A result that is written where it was solved, by the process that did; the films that it teaches come later."""
    from sim.problems.bay import teach
    from sim.problems.steady import save_run

    kept = StoredResult(save_run(result, Path(mkdtemp(dir=store)) / "run"))
    vars(kept)["report"] = result.report
    return ValueThenWork(kept, partial(teach, result, kept.folder))


def pursue(
    searches: Sequence[Search[Found]], device: str, tell: Tell | None = None, hands: Hands | None = None
) -> list[Found | Exception]:
    """What every search found, or the exception that it ended in; `hands`: what holds the solids."""
    with nullcontext(hands) if hands else Hands() as kept:
        return _pursue(searches, device, tell, kept)


def _pursue(
    searches: Sequence[Search[Found]], device: str, tell: Tell | None, hands: Hands
) -> list[Found | Exception]:
    found: dict[int, Found | Exception] = {}
    wanted: dict[int, list[Case]] = {}

    def go_on(number: int, outcomes: list[Result[Case] | Exception] | None) -> None:
        try:
            search = searches[number]
            wanted[number] = next(search) if outcomes is None else search.send(_all_solved(outcomes))
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
    return [found[number] for number in range(len(searches))]


def _all_solved(outcomes: Sequence[Result[Case] | Exception]) -> list[Result[Case]]:
    """Results of cases; raises the exception that one of them ended in."""
    solved = []
    for outcome in outcomes:
        if isinstance(outcome, Exception):
            raise outcome
        solved.append(outcome)
    return solved


def _solved(
    wanted: Mapping[int, list[Case]], device: str, tell: Tell | None, hands: Hands
) -> list[Result[Case] | Exception]:
    """All wanted cases, solved together."""
    cases = [case for own in wanted.values() for case in own]
    done = iter(range(1, len(cases) + 1))

    def ended(number: int, outcome: object) -> None:
        if tell:
            how = f"failed: {reason(outcome)}" if isinstance(outcome, Exception) else "done"
            tell(f"{next(done)} of {len(cases)}, {cases[number].name} {how}")

    return solve_many(cases, device=device, listener=ended, hands=hands)


def supply_cases(case: Case, first: Result[Case], target: Target, tolerance: float) -> Search[NeededWater]:
    """The search for the supply [K] that gives a target within `tolerance`, a share of it, as cases to solve."""
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
        found: NeededWater = end.value
        return found


def begin_hands(choices: Sequence[AskedChoice], store: Path | None = None) -> Hands:
    """Processes for the solids of choices, each with its own water and with what gives the first one's heat.

    With a `store` results are written there by the processes that made them.
    """
    hands = Hands(partial(keep_result, store=store) if store else None)
    hands.wanted(*_processes(2 * sum(not choice.twin for choice in with_twins(choices)) - 1))
    return hands


def _processes(most: int) -> tuple[int, int]:
    """Processes for so many bays, and threads of each: twice as many as cores, since answers use one of them and only
    ends use more, which do not come all at once."""
    cores = os.cpu_count() or 1
    size = min(cores, most)
    return size, max(2 * cores // size, 1)


def compare_together(
    case: Case,
    choices: Sequence[AskedChoice],
    *,
    flux: float | None = None,
    tell: Tell | None = None,
    hands: Hands | None = None,
) -> Comparison:
    """`compare.compare_choices` with all choices solved at once on the case's device.

    Water for the wanted flux [W/m²] is searched until that is as close as the means of the air are known (`air.error`).
    `hands`: from `begin_hands`; the caller has them settle what they put off, and ends them.
    """
    with nullcontext(hands) if hands else begin_hands(choices) as kept:
        return _compared(case, choices, flux, tell, kept)


def _compared(
    case: Case, choices: Sequence[AskedChoice], flux: float | None, tell: Tell | None, hands: Hands
) -> Comparison:
    asked = with_twins(choices)
    nearer = _guessed(asked, hands) if flux is None else {}
    cases = [choice.case for choice in asked]
    outcomes = solve_many([*cases, *nearer.values()], device=case.air.device, hands=hands)
    first, begins = outcomes[: len(asked)], list(zip(cases, outcomes, strict=False))
    for number, begin in zip(nearer, zip(nearer.values(), outcomes[len(asked) :], strict=True), strict=True):
        if not isinstance(begin[1], Exception):
            begins[number] = begin
    solved = [each for each in first if not isinstance(each, Exception)]
    if flux is None:
        flux = solved[0].report[FLUX] if solved else float("nan")
    target = Target(FLUX, flux)
    searches = [
        _search(choice, result, target, begin) for choice, result, begin in zip(asked, first, begins, strict=True)
    ]
    found = pursue(searches, case.air.device, tell, hands)
    return Comparison(case, tuple(_choice(*row) for row in zip(asked, first, found, strict=True)), flux)


def _guessed(asked: Sequence[AskedChoice], hands: Hands) -> dict[int, Case]:
    """Choices, by number, with the water that would give them the first one's heat if films were right about how much
    more one gives than the other: their flow is followed beside the others', and a search begins there."""
    wanted = [number for number, choice in enumerate(asked) if not choice.twin]
    if len(wanted) < 2:
        return {}
    reports = reports_by_films([asked[number].case for number in wanted], hands)
    first, guessed = reports[0], {}
    for number, report in zip(wanted[1:], reports[1:], strict=True):
        if isinstance(first, Exception) or isinstance(report, Exception) or report[FLUX] <= 0.0:
            continue
        with suppress(CaseError):
            guessed[number] = _with_heat(asked[number].case, first[FLUX] / report[FLUX])
    return guessed


def _with_heat(case: Case, times: float) -> Case:
    """A case with the water that gives it so many times its heat.

    Raises CaseError where no such water fits it.
    """
    room = float(case.room.temperature)
    excess = (float(case.water.supply) - room) * max(times, 0.0) ** (1.0 / RISE_POWER)
    return case.with_(**{"water.supply": min(room + excess, HOTTEST)})


def _search(
    choice: AskedChoice, result: Result[Case] | Exception, target: Target, begin: tuple[Case, Any]
) -> Search[NeededWater | None]:
    """What is still to be solved for a choice, from some case and its result: nothing where it failed or has a twin."""
    if isinstance(result, Exception):
        return _failed(result)
    return _nothing() if choice.twin else supply_cases(*begin, target, choice.case.air.error)


def _nothing() -> Search[None]:
    """A search that has ended."""
    return None
    yield []


def _failed(error: Exception) -> Search[None]:
    """A search that has failed before it began."""
    raise error
    yield []


def _choice(
    asked: AskedChoice, at_water: Result[Case] | Exception, found: NeededWater | Exception | None
) -> ComparedChoice:
    """A choice from its result at the case's water, and what the search for other water found."""
    if isinstance(at_water, Exception):
        return ComparedChoice(asked, None, None, failure=reason(at_water))
    if isinstance(found, UnreachableError):
        return ComparedChoice(asked, at_water, None, str(found))
    if isinstance(found, Exception):
        return ComparedChoice(asked, None, None, failure=reason(found))
    return ComparedChoice(asked, at_water, found)


def report_values(result: Solved) -> dict[str, float]:
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
        if isinstance(outcome, Exception):
            yield TrialResult(trial, failure=reason(outcome))
        else:
            yield TrialResult(trial, outcome)
