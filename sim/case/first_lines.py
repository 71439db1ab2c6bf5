"""A first file in lines: headed sections, keys with their meaning from the schema, keys left out as remarks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import BaseModel

from sim.case.fields import Quantity, quantity_kind
from sim.case.messages import keys_of, section_at
from sim.case.reference import words_of
from sim.case.short_file import in_units
from sim.case.writing import plain_toml

System = Literal["SI", "IP"]
Sections = dict[str, dict[str, object]]
"""Keys with their values by heading, in the order of a file: "" is its top, "[room]" one of a list of sections,
"[room] 2" the next of them."""

_REMARK_AT = 34


def nested(data: Sections) -> dict[str, object]:
    """The same as tables in tables, as TOML reads them.

    >>> nested({"": {"title": "a"}, "[floor.covering]": {"material": "oak"}})
    {'title': 'a', 'floor': {'covering': [{'material': 'oak'}]}}
    """
    whole: dict[str, Any] = {}
    for heading, keys in data.items():
        *outer, last = _path(heading)
        here = whole
        for part in outer:
            inner = here.setdefault(part, {})
            here = inner[-1] if isinstance(inner, list) else inner
        if not last:
            whole.update(keys)
        elif heading.startswith("["):
            here.setdefault(last, []).append(dict(keys))
        else:
            here.setdefault(last, {}).update(keys)
    return whole


def written_lines(
    case: BaseModel, data: Sections, offered: Mapping[str, tuple[str, ...]], words: Mapping[str, str], system: System
) -> str:
    """The text of a file.

    Parameters
    ----------
    case : Case or House
        What the file says, checked: the values of keys that it leaves out are read off it.
    data : dict
        What is stated.
    offered : mapping
        By section, keys that are left out and shown with the value which holds without them.
    words : mapping
        By heading, what stands behind it.
    system : "SI" or "IP"
        Units of values that are left out.
    """
    return "".join(f"{line}\n" for line in _lines(case, data, offered, words, system))


def _lines(
    case: BaseModel, data: Sections, offered: Mapping[str, tuple[str, ...]], words: Mapping[str, str], system: System
) -> Iterator[str]:
    for heading, keys in data.items():
        path, model = _path(heading), type(case)
        if heading:
            shown = f"[{heading.partition(']')[0]}]"
            yield ""
            yield _remarked(f"{shown}]" if heading.startswith("[") else shown, words.get(heading, ""))
        for key, value in keys.items():
            yield _remarked(f"{key} = {_toml(value)}", _meaning(model, path, key))
        for key in offered.get(heading, ()):
            if key not in keys:
                yield _remarked(f"# {key} = {_held(case, path, key, system)}", _meaning(model, path, key))


def _path(heading: str) -> list[str]:
    return heading.partition("]")[0].strip("[").split(".")


def _held(case: BaseModel, path: list[str], key: str, system: System) -> str:
    """The value that a case has for a key, as TOML."""
    section: Any = case
    for part in path:
        section = getattr(section, part)
    name = keys_of(type(section))[key]
    info, value = type(section).model_fields[name], getattr(section, name)
    kind = quantity_kind(info.annotation, info.metadata)
    if not isinstance(kind, Quantity):
        return _toml(value)
    named = [word for word, size in kind.named.items() if size == value]
    return _toml(named[0] if named else in_units(value, kind, system))


def _meaning(model: type[BaseModel], path: list[str], key: str) -> str:
    """What the schema says of a key, with its words where it has some."""
    section = section_at(model, path) if path != [""] else model
    if section is None:
        return ""
    info = section.model_fields[keys_of(section)[key]]
    words = ", ".join(f'"{word}"' for word in words_of(info.annotation))
    return ": ".join(filter(None, (info.description, words)))


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {_toml(entry)}" for name, entry in value.items()) + " }"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return plain_toml({"x": value}).removeprefix("x = ").strip()


def _remarked(text: str, remark: str) -> str:
    return f"{text:<{_REMARK_AT - 1}} # {remark}" if remark else text
