"""From what pydantic reports to lines that a person can act on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from difflib import get_close_matches
from re import sub
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sim.case.errors import CaseError, Problem, shortened

Model = TypeVar("Model", bound=BaseModel)


def check(
    model: type[Model], data: dict[str, object], path: str, context: dict[str, bool] | None = None
) -> Model:
    """Build a case from plain data.

    Parameters
    ----------
    model : type
        `Case` or `BlocksCase`.
    data : dict
        As read from TOML.
    path : str
        Named in the error.
    context : dict or None
        `sim.case.fields.FROM_TEXT` for the text of a file.

    Raises
    ------
    CaseError
        With every problem of the first stage that fails.
    """
    try:
        return model.model_validate(data, context=context)
    except ValidationError as error:
        if (whole := _of_the_whole(error.errors())) is not None:
            raise whole from None
        problems = [p for detail in _causes(error.errors()) for p in _problems(model, detail)]
        raise CaseError(path, problems) from None


def _of_the_whole(details: list[ErrorDetails]) -> CaseError | None:
    """What a case says of its sections together once each is sound; pydantic wraps it, as every ValueError."""
    said = (detail.get("ctx", {}).get("error") for detail in details)
    return next((error for error in said if isinstance(error, CaseError)), None)


def _causes(details: list[ErrorDetails]) -> Iterator[ErrorDetails]:
    """Without lists that count as too short only because an entry of theirs is refused."""
    for detail in details:
        inside = (other["loc"][: len(detail["loc"])] == detail["loc"] for other in details if other is not detail)
        if detail["type"] != "too_short" or not any(inside):
            yield detail


def key_path(location: Iterable[str | int]) -> str:
    """Write a location as people do: ("floor", "covering", 0) becomes "floor.covering[0]"."""
    text = ""
    for part in location:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _problems(model: type[BaseModel], detail: ErrorDetails) -> Iterator[Problem]:
    location, kind = detail["loc"], detail["type"]
    if kind == "section":
        for problem in detail["ctx"]["problems"]:
            where = (*location, problem.key) if problem.key else location
            yield replace(problem, key=key_path(where))
    elif kind == "extra_forbidden":
        yield Problem(key_path(location), "", "unknown key", _near_key(model, location, detail["input"]))
    elif kind == "missing":
        yield Problem(key_path(location), "", "missing", _what(model, location))
    else:
        yield Problem(key_path(location), _shown(detail["input"]), *_rule(model, kind, detail))


def _rule(model: type[BaseModel], kind: str, detail: ErrorDetails) -> tuple[str, str]:
    context = detail.get("ctx", {})
    if kind == "refused":
        return context["rule"], context["way_out"]
    if kind == "literal_error":
        return _literal(str(context["expected"]), detail["input"], _chosen_by(model, detail["loc"], detail["input"]))
    if kind == "value_error":
        return str(context["error"]), ""
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return _one_section(_heading(detail["loc"]), detail["input"])
    if kind.startswith("int_"):
        return "must be a whole number", ""
    if kind.startswith("float_"):
        return "must be a number", ""
    if kind == "tuple_type":
        return _list_wanted(model, detail["loc"])
    said = sub(r"^(Input|String|List|Tuple|Dictionary|Value) should", "must", detail["msg"])
    for long, short in (("less than or equal to", "at most"), ("greater than or equal to", "at least")):
        said = said.replace(long, short)
    return said.replace("must be a valid string", "must be text"), ""


def _one_section(name: str, given: object) -> tuple[str, str]:
    """A section that is not one: a plain value, or several, of which layers of insulation can be stated as one."""
    if not (isinstance(given, list) and all(isinstance(each, dict) for each in given)):
        return "must be a section with keys", f"write [{name}] with its keys below it"
    layers = "; of several layers state the sum of thickness and of thermal_resistance, and the facing of the top one"
    return "is one section", f"write [{name}] once, in single square brackets{layers if 'insulation' in name else ''}"


def _heading(location: tuple[str | int, ...]) -> str:
    """The name that a section's heading has in a file, where no numbers count the sections of a list."""
    return key_path(tuple(part for part in location if isinstance(part, str)))


def _list_wanted(model: type[BaseModel], location: tuple[str | int, ...]) -> tuple[str, str]:
    """A list of values, or of sections, which has a notation that nobody guesses."""
    if (section := section_at(model, location)) is None:
        return "must be a list", "write it in square brackets"
    name = f"[[{_heading(location)}]]"
    first = ", ".join([*keys_of(section)][:2])
    return "must be a list of sections", f"write {name} in two square brackets, with its keys ({first}, ...) below it"


_UNHEATED = ("crawl space", "crawlspace", "garage", "unheated basement", "basement", "cellar")
_FASTENED, _HUNG = ("stapled", "staple-up", "stapled-up", "screwed"), ("suspended", "hanging", "dropped")
_MEANT = {
    **dict.fromkeys(_UNHEATED, "unheated space"),
    **dict.fromkeys(_FASTENED, "fastened"),
    **dict.fromkeys(_HUNG, "hung"),
}
"""Words of the trade for a choice that is spelled quite otherwise."""


def _chosen_by(model: type[BaseModel], location: tuple[str | int, ...], value: Any) -> str:
    """The key beside the one at a location that has a value among its words; empty where none has."""
    section = section_at(model, location[:-1])
    names = keys_of(section).items() if section else ()
    own = [alias for alias, name in names if section and value in get_args(section.model_fields[name].annotation)]
    return key_path((*location[:-1], own[0])) if own and isinstance(value, str) else ""


def _literal(expected: str, value: Any, beside: str = "") -> tuple[str, str]:
    words = [word.strip(" '") for word in expected.replace(" or ", ", ").split(", ")]
    said = str(value).lower()
    meant = [_MEANT[said]] if _MEANT.get(said) in words else []
    near = meant or get_close_matches(said, words, n=1, cutoff=0.6)
    options = ", ".join(f'"{word}"' for word in words)
    own = f'"{value}" is a word of {beside}' if beside else ""
    return f"must be one of {options}", f'did you mean "{near[0]}"?' if near else own


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return "a section with single square brackets"
    if isinstance(value, str):
        return f'"{shortened(value)}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) > 10**60:
        return "a number of more than 60 digits"
    if isinstance(value, list) and value and all(isinstance(entry, dict) for entry in value):
        return "a list of sections"
    if isinstance(value, list | tuple):
        return shortened(f"[{', '.join(map(_shown, value))}]")
    return shortened(str(value))


def models_in(annotation: object) -> Iterator[type[BaseModel]]:
    """Every section class named in an annotation such as `tuple[Layer, ...]` or `Plates | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from models_in(part)


def keys_of(model: type[BaseModel]) -> dict[str, str]:
    """Names as written in a file, each with its attribute name."""
    return {info.alias or name: name for name, info in model.model_fields.items()}


def section_at(model: type[BaseModel], location: Iterable[str | int]) -> type[BaseModel] | None:
    """The section class that a location lies in."""
    here: type[BaseModel] | None = model
    for part in location:
        if isinstance(part, int) or here is None:
            continue
        info = here.model_fields.get(keys_of(here).get(part, part))
        here = next(models_in(info.annotation), None) if info else None
    return here


_SAME = {
    "temperature": ("supply",), "temp": ("temperature", "supply"), "diameter": ("size", "outer_diameter"),
    "type": ("kind", "material", "position"), "r_value": ("thermal_resistance",), "r": ("thermal_resistance",),
    "height": ("thickness", "drop"), "depth": ("drop", "joist_depth", "thickness"), "pitch": ("spacing",),
    "end": ("duration",), "hours": ("duration",), "setpoint": ("temperature",), "time": ("at",), "from": ("at",),
    **dict.fromkeys(("setback", "setback_from", "setback_to", "night"), ("schedule",)),
    **dict.fromkeys(("subfloor", "deck", "decking"), ("sheathing",)),
    **dict.fromkeys(("flooring", "finish", "topping", "coverings"), ("covering",)),
}  # fmt: skip
"""Words that people write for a key that is spelled quite otherwise; the first that a section knows is meant."""


_SECTIONS = {
    **dict.fromkeys(("joist", "joists", "framing"), "bay"),
    **dict.fromkeys(("heating", "supply", "boiler", "fluid"), "water"),
    **dict.fromkeys(("pipe", "pipes", "piping", "tubing", "tubes", "hose"), "tube"),
    **dict.fromkeys(("subfloor", "sheathing", "deck", "decking"), "floor.sheathing"),
    **dict.fromkeys(("covering", "flooring", "finish", "topping"), "[floor.covering]"),
    **dict.fromkeys(("fins", "fin", "spreaders"), "plates"),
    **dict.fromkeys(("basement", "crawlspace", "underneath"), "below"),
}
"""Words that people write over a section of a bay, and the section that is meant."""


_USES = ("kind", "type", "use", "function")
_NO_USE = "a room is known by its temperature: one set warmer than 23.5 °C counts as a bathroom, with its own limit"
"""What stands for a key that many look for in a room."""

_WATER = 'tubes of bays and houses carry water, with glycol or without; those of kind = "blocks" may carry air'
"""What stands for the fluid that many look for in [water] and [design]."""


def _near_key(model: type[BaseModel], location: tuple[str | int, ...], given: object = None) -> str:
    section = section_at(model, location[:-1])
    known = [name for name in keys_of(section) if name not in unwritten(section)] if section else []
    wrong = str(location[-1])
    if "room" in location[:1] and wrong.lower() in _USES:
        return _NO_USE
    if wrong == "fluid" and "glycol" in known:
        return _WATER
    if len(location) > 1 and wrong in _sections(model):
        return f"[{wrong}] is a section of its own: write it on a line of its own, with its keys below it"
    if len(location) == 1 and isinstance(given, dict) and (meant := _section_for(model, wrong)):
        return meant
    if near := _meant_key(wrong, known, given):
        return f'did you mean "{near}"?'
    if "changes" in known and "." in wrong:
        return f'what a choice changes goes into changes = {{ "{wrong}" = ... }}'
    if home := _home_of(model, wrong, isinstance(given, dict)):
        return f"it belongs in {home}"
    return f"known here: {', '.join(known)}"


def _meant_key(wrong: str, known: list[str], given: object) -> str:
    """The key that a wrong one stands for: spelled alike, cut by a dot (joist.width), or another word for it."""
    cut = [f"{wrong}_{rest}" for rest in given if f"{wrong}_{rest}" in known] if isinstance(given, dict) else []
    upright = ["width"] if wrong.lower() == "height" and "orientation" in known else []
    same = upright or [word for word in _SAME.get(wrong.lower(), ()) if word in known]
    return next(iter(cut or same or get_close_matches(wrong, known, n=1, cutoff=0.6)), "")


def _section_for(model: type[BaseModel], wrong: str) -> str:
    """The section that another word stands for, with the first of its keys; empty where there is none."""
    name = _SECTIONS.get(wrong.lower(), "")
    found = section_at(model, name.strip("[]").split(".")) if name else None
    if found is None:
        return ""
    return f"did you mean [{name}]? its keys: {', '.join([*keys_of(found)][:3])}, ..."


def _sections(model: type[BaseModel]) -> list[str]:
    """Names of the sections at the top of a file."""
    return [info.alias or name for name, info in model.model_fields.items() if any(models_in(info.annotation))]


def unwritten(model: type[BaseModel]) -> tuple[str, ...]:
    """Attributes of a case that the file itself does not hold: its name and path; sections have none."""
    return ("name", "path") if "path" in model.model_fields else ()


def _home_of(model: type[BaseModel], wrong: str, is_section: bool = False) -> str:
    """Sections that do know the key; one that is a section itself is told with its whole name."""
    homes = []
    for name, info in model.model_fields.items():
        for section in models_in(info.annotation):
            if wrong in keys_of(section):
                homes.append(f"[{info.alias or name}{f'.{wrong}' if is_section else ''}]")
    return " or ".join(dict.fromkeys(homes))


def _what(model: type[BaseModel], location: tuple[str | int, ...]) -> str:
    section = section_at(model, location[:-1])
    if section is None:
        return ""
    info = section.model_fields[keys_of(section).get(str(location[-1]), str(location[-1]))]
    kinds = [kind for kind in info.metadata if hasattr(kind, "dimension")]
    from sim.case.quantities import DIMENSIONS

    example = f", e.g. {kinds[0].example or DIMENSIONS[kinds[0].dimension].example}" if kinds else ""
    told = str(info.description).removeprefix("the ")
    return f"give {'' if told.startswith(('what ', 'its ')) else 'the '}{told}{example}"
