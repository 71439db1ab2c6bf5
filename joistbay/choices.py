"""Choices side by side, and what one bay needs: compare, water, widest spacing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from typing import Any, overload

from joistbay.amounts import Amount, read_amount
from joistbay.many import solve_many
from joistbay.runs import bay_of, case_of
from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.load import AnyCase
from sim.case.named_choices import named_choices
from sim.case.whole import WholeCase
from sim.jobs.spread import spread
from sim.problems.kinds import kind_of
from sim.study.compare import AskedChoice, ComparedChoice, Comparison, compare_choices, solve_twice
from sim.study.side_by_side import SideBySide, unlike
from sim.study.spacing import SpacingWish, WidestSpacing
from sim.study.water import NeededWater, required_supply

Changes = Mapping[str, object]


@overload
def compare(
    case: Case,
    key: str,
    values: Sequence[object],
    *,
    names: Sequence[str] | None = None,
    flux: Amount | None = None,
    workers: int = 1,
) -> Comparison: ...
@overload
def compare(
    case: BlocksCase, key: str, values: Sequence[object], *, names: Sequence[str] | None = None, workers: int = 1
) -> SideBySide: ...
@overload
def compare(
    case: Case, changes: Mapping[str, Changes] | None = None, /, *, flux: Amount | None = None, workers: int = 1
) -> Comparison: ...
@overload
def compare(case: BlocksCase, changes: Mapping[str, Changes], /, *, workers: int = 1) -> SideBySide: ...
@overload
def compare(
    cases: Sequence[Case] | Mapping[str, Case], /, *, flux: Amount | None = None, workers: int = 1
) -> Comparison: ...
@overload
def compare(cases: Sequence[BlocksCase] | Mapping[str, BlocksCase], /, *, workers: int = 1) -> SideBySide: ...
@overload
def compare(
    cases: Sequence[AnyCase] | Mapping[str, AnyCase], /, *, flux: Amount | None = None, workers: int = 1
) -> Comparison | SideBySide: ...


def compare(
    case: Any,
    key: Any = None,
    values: Any = None,
    *,
    names: Sequence[str] | None = None,
    flux: Amount | None = None,
    workers: int = 1,
) -> Comparison | SideBySide:
    """Solve bays twice each, at their own water and at the water that gives the same heat; blocks and air alone once.

        compare(case, "plates.spacing", ["9 in", "12 in", "none"], workers=2)
        compare(case, {"oak": {}, "tile": {"floor.covering[0].material": "ceramic tile"}})
        compare([case, other])        or        compare({"as built": case, "as planned": other})
        compare(layer, "air.rayleigh", [1000, 2000, 5000])
        compare(case)                 what the section [compare] of a bay lists

    Parameters
    ----------
    case : Case, BlocksCase, a sequence of cases, or a mapping of cases by their titles; all of one kind
    key : a dotted key and its `values`, or a mapping of changes by title; values as in `Case.with_`
    names : what to call the values; as they are written by default
    flux : of bays, upward heat flux of the second comparison [W/m²]; by default what the first choice delivers
    workers : processes that share the choices; 1 solves here

    Returns
    -------
    Comparison of bays; `.to_pandas("water")` and `.to_pandas("heat")` are its tables. SideBySide of blocks or of air
    alone, with `.to_pandas()`, and `["name"]` for what was found of a choice.

    Raises
    ------
    CaseError : a value does not fit, or cases are of several kinds; nothing is solved.
    NotConvergedError, BalanceError, FlowError : a choice could not be solved.
    """
    titled, changes = _titled_cases(case, key, values, names)
    cases = list(titled.values())
    if wrong := unlike(cases):
        raise CaseError(cases[0].path or cases[0].name, [Problem("", "", wrong, "solve_many takes them all")])
    first = case_of(case) if isinstance(case, WholeCase) else cases[0]
    if not kind_of(first).at_equal_heat:
        return _once(first, titled, changes, flux, workers)
    asked = [AskedChoice(name, bay_of(each), changes.get(name, {})) for name, each in titled.items()]
    wanted = None if flux is None else read_amount(flux, "heat flux", "flux", first.name)
    performer = partial(_perform, workers) if workers > 1 else None
    return compare_choices(bay_of(first), asked, flux=wanted, performer=performer)


def _titled_cases(
    case: object, key: object, values: object, names: Sequence[str] | None
) -> tuple[dict[str, AnyCase], dict[str, Changes]]:
    """All choices by name, and what each changes where one case is varied."""
    if isinstance(key, str):
        each = _listed(values)
        shown = [str(name) for name in names or each]
        if len(shown) != len(each):
            raise ValueError(f"names has {len(shown)} entries for {len(each)} values; give as many")
        if twice := next((name for place, name in enumerate(shown) if name in shown[:place]), ""):
            raise ValueError(f"{twice} is there twice; name each choice once")
        changes: dict[str, Changes] = {name: {key: value} for name, value in zip(shown, each, strict=True)}
    elif isinstance(key, Mapping):
        changes = {str(name): _changes(str(name), new) for name, new in key.items()}
    elif isinstance(case, WholeCase):
        changes = _own_list(case_of(case))
    else:
        return _several(case), {}
    base = case_of(case)
    if not changes:
        way_out = "give a key and its values, as in compare(case, key, [a, b]), or several cases"
        raise CaseError(base.path or base.name, [Problem("values", "", "there is nothing to compare", way_out)])
    return {name: _changed(base, name, new) for name, new in changes.items()}, changes


def _changed(base: AnyCase, name: str, changes: Changes) -> AnyCase:
    """The case of one choice; what does not fit says of which."""
    try:
        return base.with_(changes) if changes else base
    except CaseError as error:
        raise CaseError(f"{error.path}, choice {name}", error.problems) from None


def _changes(name: str, new: object) -> Changes:
    """What one choice changes."""
    if isinstance(new, Mapping):
        return dict(new)
    way_out = 'write {"thin": {"plates.thickness": "0.3 mm"}}, or a key and its values: compare(case, key, [a, b])'
    raise TypeError(f"{name}: changes are a mapping of keys to values, not {type(new).__name__}; {way_out}")


def _listed(values: object) -> list[object]:
    """Values to compare; one alone may come without a list, and an array of numbers is one."""
    if values is None:
        return []
    if isinstance(values, Iterable) and not isinstance(values, (str, Mapping)):
        return list(values)
    return [values]


def _own_list(case: AnyCase) -> dict[str, Changes]:
    """What the section [compare] of a bay lists."""
    from sim.results.spacing_names import spacing_name

    if (bay := case.joist_bay) is None:
        return {}
    if bay.compare.choices:
        return {each.name: each.changes for each in named_choices(bay)}
    return {spacing_name(spacing): {"plates.spacing": spacing} for spacing in bay.compare.spacing or ()}


def _several(cases: object) -> dict[str, AnyCase]:
    """Cases with their names; those of one name are numbered."""
    if isinstance(cases, Mapping):
        found = {str(name): case_of(case) for name, case in cases.items()}
    else:
        listed = [case_of(case) for case in (cases if isinstance(cases, Iterable) else [cases])]
        names = [case.name for case in listed]
        own = [name if names.count(name) == 1 else f"{name} {n}" for n, name in enumerate(names, 1)]
        found = dict(zip(own, listed, strict=True))
    if not found:
        raise ValueError("there is no case to compare; give some, or one case with a key and its values")
    return found


def _once(
    first: AnyCase, titled: Mapping[str, AnyCase], changes: Mapping[str, Changes], flux: object, workers: int
) -> SideBySide:
    """Blocks or air alone, each solved once."""
    if flux is not None:
        raise CaseError(first.path or first.name, [Problem("flux", str(flux), "is for joist bays", "leave it out")])
    keys = dict.fromkeys(key for each in changes.values() for key in each)
    runs = solve_many(list(titled.values()), workers=workers)
    return SideBySide(first, tuple(keys), dict(zip(titled, runs, strict=True)))


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
