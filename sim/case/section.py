"""A frozen part of a case: what all sections have in common, and how they show themselves at a prompt."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from sim.case.fields import Quantity, quantity_kind
from sim.case.messages import unwritten
from sim.case.quantities import format_value
from sim.machine.brief import head_of, inline, small_tree


class Section(BaseModel):
    """A frozen part of a case that refuses keys it does not know.

    Two are equal that say the same, whoever wrote which key: a default that stands in one file and is left out in
    another, the name of the file and its place make no difference.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and isinstance(other, Section) and self._said() == other._said()

    def __hash__(self) -> int:
        return hash((type(self), self._said()))

    def _said(self) -> tuple[object, ...]:
        """Every value that a file can hold."""
        names, labels = type(self).model_fields, unwritten(type(self))
        return tuple(getattr(self, name) for name in names if name not in labels)

    def __repr__(self) -> str:
        return _tree(self)

    def __str__(self) -> str:
        return repr(self)

    def __dir__(self) -> list[str]:
        """Keys and methods of our own, for completion: without the machinery of the library that checks them."""
        return sorted(name for name in super().__dir__() if name.startswith("__") or not hasattr(BaseModel, name))


def _tree(section: BaseModel) -> str:
    """What a part of a case shows at a prompt: the keys that its writer gave, then the others."""
    model = type(section)
    names = sorted(model.model_fields, key=lambda name: name not in section.model_fields_set)
    rows = [(model.model_fields[name].alias or name, _shown(section, name)) for name in names]
    return small_tree(head_of(section), [row for row in rows if row[1] != "none"])


def _shown(section: BaseModel, name: str) -> str:
    """The value of a key in a few words."""
    value, info = getattr(section, name), type(section).model_fields[name]
    kind = quantity_kind(info.annotation, info.metadata)
    if isinstance(kind, Quantity) and isinstance(value, float):
        return format_value(value, kind.dimension)
    return inline(value)
