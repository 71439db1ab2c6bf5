"""The reference of all keys of a case file, made from the schema itself, so that it cannot drift from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.fields import Quantity, QuantityGroup, quantity_kind, word_none
from sim.case.house_case import House
from sim.case.materials import known_material
from sim.case.messages import models_in, unwritten
from sim.case.quantities import DIMENSIONS, format_value
from sim.case.sizes import TUBE_SIZES, known_size


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key of a case file.

    Parameters
    ----------
    case_kind : str
        "bay", "blocks" or "house".
    section : str
        Heading as written in the file, such as ``[plates]`` or ``[[floor.covering]]``; empty at the top.
    key : str
        Name of the key.
    unit : str
        What it holds: "length", "temperature", "word", "text", ...
    default : str
        Value when it is left out.
    allowed : str
        Range or words; may be empty.
    meaning : str
        One line.
    """

    case_kind: str
    section: str
    key: str
    unit: str
    default: str
    allowed: str
    meaning: str


def key_reference() -> tuple[KeyRow, ...]:
    """Every key of every kind of case, in the order of the schema."""
    kinds: dict[str, type[BaseModel]] = {"bay": Case, "blocks": BlocksCase, "house": House}
    return tuple(row for kind, model in kinds.items() for row in _rows(kind, "", model, False))


def _rows(case_kind: str, path: str, model: type[BaseModel], many: bool) -> Iterator[KeyRow]:
    """Keys of one section, then those of the sections inside it."""
    heading = f"[[{path}]]" if many else f"[{path}]" if path else ""
    inner: list[tuple[str, type[BaseModel], bool]] = []
    for name, info in model.model_fields.items():
        if name in unwritten(model):
            continue
        written = info.alias or name
        if section := next(models_in(info.annotation), None):
            several = get_origin(info.annotation) is tuple
            if several:
                yield KeyRow(case_kind, heading, written, "list of sections", _default(info), "", _meaning(info))
            elif word_none in _marks(info.annotation, info.metadata):
                absent = f"[{written}] with its defaults" if info.default_factory else "none"
                yield KeyRow(
                    case_kind, heading, written, "section", absent, 'a section, or "none"', _meaning(info)
                )
            inner.append((f"{path}.{written}".lstrip("."), section, several))
        else:
            yield KeyRow(
                case_kind, heading, written, _unit(info), _default(info), _allowed(info), _meaning(info)
            )
    for where, section, several in inner:
        yield from _rows(case_kind, where, section, several)


def _meaning(info: FieldInfo) -> str:
    return info.description or ""


def _unit(info: FieldInfo) -> str:
    kind = quantity_kind(info.annotation, info.metadata)
    if kind is not None:
        quantity = kind.each if isinstance(kind, QuantityGroup) else kind
        words = DIMENSIONS[quantity.dimension].words.removeprefix("a ").removeprefix("an ")
        listed = get_origin(info.annotation) is tuple and not isinstance(kind, QuantityGroup)
        return f"list of {words}s" if listed else words
    if get_origin(info.annotation) is dict:
        return "table of keys"
    if words_of(info.annotation):
        return "word"
    parts = (info.annotation, *get_args(info.annotation))
    return "yes or no" if bool in parts else "whole number" if _has_int(info.annotation) else "text"


def _has_int(annotation: Any) -> bool:
    return annotation is int or any(_has_int(part) for part in get_args(annotation))


def words_of(annotation: object) -> tuple[str, ...]:
    """The words of a Literal, wherever it stands in the annotation."""
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return next((words for part in get_args(annotation) if (words := words_of(part))), ())


def _default(info: FieldInfo) -> str:
    if isinstance(info.json_schema_extra, dict):
        return str(info.json_schema_extra["when_absent"])
    if info.is_required():
        return "must be given"
    kind = quantity_kind(info.annotation, info.metadata)
    value = info.default
    if value is None or value in ((), "", {}):
        return "none"
    if isinstance(kind, Quantity):
        return format_value(value, kind.dimension)
    return str(value).lower() if isinstance(value, bool) else str(value)


def _allowed(info: FieldInfo) -> str:
    kind = quantity_kind(info.annotation, info.metadata)
    parts = [kind.allowed()] if kind is not None else []
    if words := words_of(info.annotation):
        parts.append(", ".join(f'"{word}"' for word in words))
    marks = list(_marks(info.annotation, info.metadata))
    if word_none in marks:
        parts.append('or "none"')
    if known_size in marks:
        parts.append(", ".join(TUBE_SIZES))
    if known_material in marks:
        parts.append("a name in the materials library, or a word of the trade (drywall, subfloor, LVP, hardwood, ...)")
    if bounds := [
        f"{word} {getattr(mark, sign)}" for mark in marks for sign, word in _SIGNS if hasattr(mark, sign)
    ]:
        parts.append(", ".join(bounds))
    return ", ".join(parts)


_SIGNS = (("ge", "at least"), ("le", "at most"))


def _marks(annotation: Any, metadata: Any) -> Iterator[Any]:
    """Validators and bounds attached to a key, wherever they stand in its annotation."""
    for entry in (*metadata, *getattr(annotation, "__metadata__", ())):
        yield getattr(entry, "func", entry)
        yield from getattr(entry, "metadata", ())
    for part in get_args(annotation):
        yield from _marks(part, ())
