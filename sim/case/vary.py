"""A case with some of its values changed."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from difflib import get_close_matches
from typing import Any, TypeVar

from sim.case.case_keys import CaseKeys
from sim.case.errors import CaseError, Problem
from sim.case.messages import check, key_path, keys_of, section_at, unwritten
from sim.case.unused import kept_unused, unread_keys

CaseT = TypeVar("CaseT", bound=CaseKeys)

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
    "film": ("resistance",),
    "resistance": ("film",),
    "runs": ("positions",),
    "material": ("conductivity", "thermal_resistance"),
}
"""Keys that give way when another is set: both would say the same thing."""


def vary_case(case: CaseT, key: str, value: object) -> CaseT:
    """The case with one value, in SI or as typed; CaseError when it does not fit."""
    return vary(case, {key: value})


def vary(case: CaseT, values: Mapping[str, object]) -> CaseT:
    """Change values by dotted key and check the case again.

    Parameters
    ----------
    case : Case or BlocksCase
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
    if _turns_without_plates(values):
        _forget_depth(data)
    changed = check(type(case), data, case.path or case.name)
    idle = [problem for problem in kept_unused(changed) if problem.key in values]
    if values and len(idle) == len(values):  # one among others may be left over from what they replace
        raise CaseError(case.path or case.name, idle)
    return changed


def written(case: CaseKeys) -> dict[str, object]:
    """What the user wrote, in SI, with the keys of a case file."""
    data = _lists(case.model_dump(exclude_unset=True, by_alias=True))
    for section, key in unread_keys(case):
        data.get(section, {}).pop(key, None)  # it has its usual value, which may become another one
    data.get("compare", {}).pop("choice", None)  # a choice is no longer the case that its other choices change
    return data  # type: ignore[no-any-return]


def _lists(value: Any) -> Any:
    """Turn tuples of sections into lists, so that they can be changed."""
    if isinstance(value, dict):
        return {name: _lists(entry) for name, entry in value.items()}
    if isinstance(value, tuple) and any(isinstance(entry, dict) for entry in value):
        return [_lists(entry) for entry in value]
    return value


def _change(case: CaseKeys, data: dict[str, Any], dotted: str, value: Any) -> list[Problem]:
    if _takes_plates_away(dotted, value):
        _take_plates_away(case, data)
        return []
    *sections, last = _parts(dotted)
    here: Any = data
    above: Any = data
    for index, part in enumerate(sections):
        sections[index] = _numbered(here, part)
        if isinstance(here, list) and not isinstance(sections[index], int) and not _are_named(here):
            known = keys_of(section_at(type(case), [*sections[:index], 0]) or type(case))
            rest = [*sections[index + (part not in known) :], last]
            return [_which(dotted, sections[:index], ".".join(map(str, rest)), len(here))]
        found = _step(here, sections[index], sections[: index + 1], type(case))
        if found is None:
            return [_absent(dotted, sections[: index + 1], here, type(case))]
        above, here = here, found
    if isinstance(here, list):
        place = _numbered(here, last)
        if not isinstance(place, int) and not _are_named(here):
            return [_which(dotted, sections, last, len(here))]
        return _replace_entry(here, place, dotted, value)
    if isinstance(here, tuple) and isinstance(last, int) and last < len(here):
        above[sections[-1]] = (*here[:last], value, *here[last + 1 :])
        return []
    if not isinstance(here, dict):
        return [Problem(dotted, "", "unknown key", "name one key inside a section")]
    _set(here, case, sections, str(last), value)
    return []


def _parts(dotted: str) -> list[str | int]:
    """Split "floor.covering[0].thickness" or "floor.covering.0.thickness"; attributes become file keys."""
    names = {"coverings": "covering", "rugs": "rug"}
    parts = dotted.replace("[", ".").replace("]", "").split(".")
    return [int(part) if part.isdigit() else names.get(part, part) for part in parts]


def _replace_entry(here: list[Any], place: str | int, dotted: str, value: Any) -> list[Problem]:
    """Put another part, with all its keys, in the place of one of a list; just behind its end a further one."""
    if not isinstance(place, int) or place > len(here):
        return [Problem(dotted, "", "there is no such part", f"there are {len(here)}, counted from 0")]
    here[place : place + 1] = [deepcopy(value)]
    return []


def _numbered(here: Any, part: str | int) -> str | int:
    """The number of a part of a list that goes by its name, such as warm in "face[warm]"; all else as it is."""
    if not isinstance(here, list) or isinstance(part, int):
        return part
    named = (number for number, entry in enumerate(here) if isinstance(entry, dict) and entry.get("name") == part)
    return next(named, part)


def _step(here: Any, part: str | int, location: list[str | int], model: Any) -> Any:
    """Go one section down; a section that the user left out starts empty."""
    if isinstance(part, int):
        return here[part] if isinstance(here, list) and part < len(here) else None
    if not isinstance(here, dict):
        return None
    if part not in here and part not in ("plates", "ceiling", "insulation") and section_at(model, location):
        here[part] = {}
    return here.get(part)


_ADDED = {
    "plates": 'add them to the case, e.g. [plates] with position = "fastened", width = "130 mm", length = "400 mm"; '
    "a bay without plates is then the choice none"
}
"""How a section that is not there is added, where its name alone does not say it."""


def _absent(dotted: str, location: list[str | int], here: Any, model: Any) -> Problem:
    """A part that a case does not have: misspelt, beyond the end of a list, or only left out."""
    name, wrong = key_path(location), str(location[-1])
    if isinstance(here, list) and isinstance(location[-1], int):
        return Problem(dotted, "", f"the case has no {name}", f"there are {len(here)}, counted from 0")
    named, section = isinstance(here, list), section_at(model, location[:-1])
    known = [e.get("name", "") for e in here if isinstance(e, dict)] if named else list(keys_of(section or model))
    if wrong in known:
        return Problem(dotted, "", f"the case has no {name} to change", _ADDED.get(name, f"add [{name}] to the case"))
    near = get_close_matches(wrong, known, n=1, cutoff=0.6)
    listed = ", ".join(key for key in known if key and (named or key not in unwritten(section or model)))
    return Problem(dotted, "", f"the case has no {name}", f'did you mean "{near[0]}"?' if near else f"known: {listed}")


def _are_named(entries: list[Any]) -> bool:
    """Whether the parts of a list go by names."""
    return any(isinstance(entry, dict) and "name" in entry for entry in entries)


def _which(dotted: str, sections: list[str | int], rest: str | int, count: int) -> Problem:
    """A list was named without saying which of its entries is meant."""
    name = ".".join(map(str, sections))
    if not count:
        return Problem(dotted, "", f"the case has no {name} to change", f"add [[{name}]] to the case")
    way_out = f"write {name}.0.{rest}" + (f"; its {count} entries count from 0, the first in the file" * (count > 1))
    return Problem(dotted, "", f"{name} is a list", way_out)


def _set(here: dict[str, Any], case: CaseKeys, sections: list[str | int], last: str, value: Any) -> None:
    for other in _ALTERNATIVES.get(last, ()):
        if other in here and (other != "thermal_resistance" or "thickness" in here):
            del here[other]
        elif other in here:
            here["thickness"] = _attribute(case, sections, "thickness")
            del here[other]
    here[last] = deepcopy(value)  # a section that is put in may be changed further by the keys that follow


def _attribute(case: CaseKeys, sections: list[str | int], name: str) -> Any:
    value: Any = case
    for part in [*sections, name]:
        value = (
            value[part]
            if isinstance(part, int)
            else getattr(value, {"covering": "coverings", "rug": "rugs"}.get(part, part))
        )
    return value


def _turns_without_plates(values: Mapping[str, object]) -> bool:
    """Whether plates go and the tube is turned, so that where it lay says nothing of its holes."""
    gone = any(_takes_plates_away(key, value) for key, value in values.items())
    return gone and "tube.direction" in values and "tube.depth" not in values


def _takes_plates_away(dotted: str, value: object) -> bool:
    none = value is None or (isinstance(value, str) and value.strip().lower() == "none")
    return none and dotted in ("plates", "plates.spacing", "plates.coverage")


def _forget_depth(data: dict[str, Any]) -> None:
    data["tube"].pop("depth", None)


def _take_plates_away(case: Any, data: dict[str, Any]) -> None:
    """Without plates the bare tube stays where it was; a comparison of plate spacings keeps its list."""
    data["plates"] = None
    data.setdefault("tube", {})["depth"] = case.tube.depth
    data["compare"] = {"spacing": ()}
