"""Choices side by side, and what one bay needs: compare, water, widest spacing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, overload

from joistbay.amounts import Amount, read_amount
from joistbay.runs import bay_of
from sim.case.bay_case import Case
from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.load import AnyCase
from sim.jobs.spread import spread
from sim.study.compare import AskedChoice, ComparedChoice, Comparison, compare_choices, solve_twice
from sim.study.spacing import SpacingWish, WidestSpacing
from sim.study.water import NeededWater, required_supply

Changes = Mapping[str, Any]


@overload
def compare(
    case: AnyCase,
    key: str,
    values: Sequence[Any],
    *,
    names: Sequence[str] | None = None,
    flux: Amount | None = None,
    workers: int = 1,
) -> Comparison: ...
@overload
def compare(
    case: AnyCase, changes: Mapping[str, Changes], /, *, flux: Amount | None = None, workers: int = 1
) -> Comparison: ...
@overload
def compare(
    cases: Sequence[AnyCase] | Mapping[str, AnyCase], /, *, flux: Amount | None = None, workers: int = 1
) -> Comparison: ...


def compare(
    case: Any,
    key: Any = None,
    values: Any = None,
    *,
    names: Sequence[str] | None = None,
    flux: Amount | None = None,
    workers: int = 1,
) -> Comparison:
    """Solve bays twice each: at their own water, and at the water that gives the same heat.

        compare(case, "plates.spacing", ["9 in", "12 in", "none"], workers=2)
        compare(case, {"oak": {}, "tile": {"floor.covering[0].material": "ceramic tile"}})
        compare([case, other])        or        compare({"as built": case, "as planned": other})

    Parameters
    ----------
    case : Case, a sequence of cases, or a mapping of cases by their titles
    key : a dotted key and its `values`, or a mapping of changes by title; values as in `Case.with_`
    names : what to call the values; as they are written by default
    flux : upward heat flux of the second comparison [W/m²]; by default what the first choice delivers
    workers : processes that share the choices; 1 solves here

    Returns
    -------
    Comparison; `.to_pandas("water")` and `.to_pandas("heat")` are its tables.

    Raises
    ------
    CaseError : a value does not fit, or a case is no joist bay; nothing is solved.
    NotConvergedError, BalanceError : a choice could not be solved.
    """
    first, asked = _asked(case, key, values, names)
    wanted = None if flux is None else read_amount(flux, "heat flux", "flux", first.name)
    return compare_choices(first, asked, flux=wanted, performer=partial(_perform, workers) if workers > 1 else None)


def _asked(case: Any, key: Any, values: Any, names: Sequence[str] | None) -> tuple[Case, list[AskedChoice]]:
    """The case that is varied, and all choices."""
    if isinstance(key, str):
        base, each = bay_of(case), [values] if isinstance(values, str) else list(values or ())
        _need_choices(base, each)
        shown = names or [str(value) for value in each]
        pairs = zip(shown, each, strict=True)
        return base, [AskedChoice(name, base.with_({key: value}), {key: value}) for name, value in pairs]
    if isinstance(key, Mapping):
        base = bay_of(case)
        _need_choices(base, key)
        return base, [AskedChoice(str(name), base.with_(new), dict(new)) for name, new in key.items()]
    titled = case.items() if isinstance(case, Mapping) else _titled(case)
    bays = [AskedChoice(str(name), bay_of(each)) for name, each in titled]
    if not bays:
        raise ValueError("there is no case to compare; give some, or one case with a key and its values")
    return bays[0].case, bays


def _titled(cases: Any) -> list[tuple[str, Any]]:
    """Cases with their names; those of one name are numbered."""
    listed = [cases] if isinstance(cases, Case) else list(cases)
    names = [getattr(case, "name", "") for case in listed]
    own = [name if names.count(name) == 1 else f"{name} {n}" for n, name in enumerate(names, 1)]
    return list(zip(own, listed, strict=True))


def _need_choices(case: Case, choices: Any) -> None:
    if not choices:
        raise CaseError(case.path or case.name, [Problem("values", "", "there is nothing to compare", "give some")])


def _perform(workers: int, asked: Sequence[AskedChoice], flux: float | None) -> list[ComparedChoice]:
    """The choices by several processes; where one failed, its exception."""
    if len(asked) < 2:
        return [solve_twice(choice, flux) for choice in asked]
    outcomes = spread(partial(solve_twice, flux=flux), list(asked), min(workers, len(asked)))
    for outcome in outcomes:
        if isinstance(outcome, Exception):
            raise outcome
    return [outcome for outcome in outcomes if not isinstance(outcome, Exception)]


def water(case: AnyCase, flux: Amount) -> NeededWater:
    """The supply temperature at which a bay gives an upward heat flux.

    Parameters
    ----------
    case : a joist bay
    flux : [W/m²], or a text such as "60 W/m^2" or "20 Btu/(h*ft^2)"

    Returns
    -------
    NeededWater: `supply` [K], `result` at that water, `solves`.

    Raises
    ------
    UnreachableError : no water up to 95 °C gives it.
    """
    from sim.run import prepare, solve_model

    bay = bay_of(case)
    wanted = read_amount(flux, "heat flux", "flux", bay.name)
    model = prepare(bay)
    return required_supply(model, solve_model(model), wanted)


def widest_spacing(
    case: AnyCase,
    flux: Amount,
    *,
    supply: Amount | None = None,
    peak: Amount | None = None,
    ripple: Amount | None = None,
) -> WidestSpacing:
    """The widest plate spacing that gives an upward heat flux within limits on the floor surface; some four solves.

    Parameters
    ----------
    case : a joist bay with plates, one pitch long
    flux : least upward heat flux [W/m²]
    supply : water temperature [K] in place of the case's own
    peak : highest floor surface [K], or a text such as "29 degC"; by default the limit that fits the case
    ripple : largest difference of warmest and coolest spot [K]

    Raises
    ------
    CaseError : the case has no plates to space.
    NoSpacingError : no spacing keeps all that; the text says what is possible.
    """
    from sim.rules.limits import limits_for
    from sim.study.spacing import widest_spacing as search

    bay = bay_of(case)
    bay = bay if supply is None else bay.with_({"water.supply": supply})
    usual = next(limit.highest for limit in limits_for(bay) if limit.key == "surface_peak_C")
    highest = usual if peak is None else read_amount(peak, "temperature", "peak", bay.name) - ZERO_CELSIUS
    largest = None if ripple is None else read_amount(ripple, "temperature difference", "ripple", bay.name)
    return search(bay, SpacingWish(read_amount(flux, "heat flux", "flux", bay.name), highest, largest))
