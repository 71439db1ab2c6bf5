"""A case with some of its values changed."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from sim.case.errors import CaseError, Problem
from sim.case.messages import check, section_at
from sim.case.unused import kept_unused, unread_keys

if TYPE_CHECKING:
    from sim.case.bay_case import Case

_ALTERNATIVES = {
    "spacing": ("coverage",),
    "coverage": ("spacing",),
    "flow": ("drop",),
    "drop": ("flow",),
    "size": ("outer_diameter", "inner_diameter"),
    "outer_diameter": ("size",),
    "inner_diameter": ("size",),
    "thermal_resistance": ("conductivity",),
    "conductivity": ("thermal_resistance",),
    "runs": ("positions",),
    "material": ("conductivity", "thermal_resistance"),
}
"""Keys that give way when another is set: both would say the same thing."""


def vary_case(case: Case, key: str, value: object) -> Case:
    """The case with one value, in SI or as typed; CaseError when it does not fit."""
    return case.with_text(key, value) if isinstance(value, str) else case.with_(**{key: value})


def vary(case: Case, values: Mapping[str, object]) -> Case:
    """Change values by dotted key and check the case again.

    Parameters
    ----------
    case : Case
        To start from; it stays as it is.
    values : mapping of str to object
        SI values, or text as a user types it; they stay as they are.

    Raises
    ------
    CaseError
        Unknown key, a part that the case does not have, nothing that anything would read, or a broken rule.
    """
    data = written(case)
    problems = [problem for dotted, value in values.items() for problem in _change(case, data, dotted, value)]
    if problems:
        raise CaseError(case.path or case.name, problems)
    changed = check(type(case), data, case.path or case.name)
    idle = [problem for problem in kept_unused(changed) if problem.key in values]
    if values and len(idle) == len(values):  # one among others may be left over from what they replace
        raise CaseError(case.path or case.name, idle)
    return changed


def written(case: Case) -> dict[str, object]:
    """What the user wrote, in SI, with the keys of a case file."""
    data = _lists(case.model_dump(exclude_unset=True, by_alias=True))
    for section, key in unread_keys(case):
        data.get(section, {}).pop(key, None)  # it has its usual value, which may become another one
    return data  # type: ignore[no-any-return]


def _lists(value: Any) -> Any:
    """Turn tuples of sections into lists, so that they can be changed."""
    if isinstance(value, dict):
        return {name: _lists(entry) for name, entry in value.items()}
    if isinstance(value, tuple) and any(isinstance(entry, dict) for entry in value):
        return [_lists(entry) for entry in value]
    return value


def _change(case: Case, data: dict[str, Any], dotted: str, value: Any) -> list[Problem]:
    none = value is None or (isinstance(value, str) and value.strip().lower() == "none")
    if none and dotted in ("plates", "plates.spacing", "plates.coverage"):
        _take_plates_away(case, data)
        return []
    *sections, last = _parts(dotted)
    here = data
    for index, part in enumerate(sections):
        found = _step(here, part, sections[: index + 1], type(case))
        if found is None:
            return [_absent(dotted, sections[: index + 1])]
        here = found
    if not isinstance(here, dict):
        return [Problem(dotted, "", "unknown key", "name one key inside a section")]
    _set(here, case, sections, str(last), value)
    return []


def _parts(dotted: str) -> list[str | int]:
    """Split "floor.covering[0].thickness" or "floor.covering.0.thickness"; attributes become file keys."""
    names = {"coverings": "covering", "rugs": "rug"}
    parts = dotted.replace("[", ".").replace("]", "").split(".")
    return [int(part) if part.isdigit() else names.get(part, part) for part in parts]


def _step(here: Any, part: str | int, location: list[str | int], model: Any) -> Any:
    """Go one section down; a section that the user left out starts empty."""
    if isinstance(part, int):
        return here[part] if isinstance(here, list) and part < len(here) else None
    if not isinstance(here, dict):
        return None
    if part not in here and part not in ("plates", "ceiling", "insulation") and section_at(model, location):
        here[part] = {}
    return here.get(part)


def _absent(dotted: str, location: list[str | int]) -> Problem:
    name = ".".join(str(part) for part in location)
    return Problem(dotted, "", f"the case has no {name} to change", f"add [{name}] to the case")


def _set(here: dict[str, Any], case: Case, sections: list[str | int], last: str, value: Any) -> None:
    for other in _ALTERNATIVES.get(last, ()):
        if other in here and (other != "thermal_resistance" or "thickness" in here):
            del here[other]
        elif other in here:
            here["thickness"] = _attribute(case, sections, "thickness")
            del here[other]
    here[last] = deepcopy(value)  # a section that is put in may be changed further by the keys that follow


def _attribute(case: Case, sections: list[str | int], name: str) -> Any:
    value: Any = case
    for part in [*sections, name]:
        value = (
            value[part]
            if isinstance(part, int)
            else getattr(value, {"covering": "coverings", "rug": "rugs"}.get(part, part))
        )
    return value


def _take_plates_away(case: Case, data: dict[str, Any]) -> None:
    """Without plates the bare tube stays where it was; a comparison of plate spacings keeps its list."""
    data["plates"] = None
    data.setdefault("tube", {})["depth"] = case.tube.depth
    data["compare"] = {"spacing": ()}
