"""The choices that a case names: `[[compare.choice]]`, each a title and the keys that it changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sim.case.errors import CaseError, Problem
from sim.case.value import value_of
from sim.case.vary import vary

if TYPE_CHECKING:
    from sim.case.bay_case import Case

AS_WRITTEN = "as written"
"""What the case itself is called beside its named choices."""


@dataclass(frozen=True, slots=True)
class ChoiceCase:
    """One choice: its name, what it changes by dotted key, and its case."""

    name: str
    changes: Mapping[str, Any]
    case: Case


def named_choices(case: Case) -> list[ChoiceCase]:
    """The named choices of a case; the case as written comes first, unless one of them changes nothing.

    Raises
    ------
    CaseError
        Two have one name, or some change what cannot be; all problems together.
    """
    found, problems = [], []
    for number, choice in enumerate(case.compare.choices):
        where = f"compare.choice[{number}]"
        if choice.title in [other.title for other in case.compare.choices[:number]]:
            problems.append(Problem(f"{where}.title", f'"{choice.title}"', "names two choices", "name each once"))
        changes = dict(flattened(case, choice.changes))
        try:
            found.append(ChoiceCase(choice.title, changes, vary(case, changes)))
        except CaseError as error:
            problems += [replace(each, key=f"{where}.changes.{each.key}".rstrip(".")) for each in error.problems]
    if problems:
        raise CaseError(case.path or case.name, problems)
    own = [] if any(not choice.changes for choice in found) else [ChoiceCase(AS_WRITTEN, {}, vary(case, {}))]
    return [*own, *found]


def flattened(case: Case, changes: Mapping[str, object], inside: str = "") -> Iterator[tuple[str, object]]:
    """Changes by dotted key: tables inside tables are opened, unless they put in a part that the case lacks."""
    for name, value in changes.items():
        dotted = f"{inside}.{name}".lstrip(".")
        if isinstance(value, Mapping) and value_of(case, dotted) is not None:
            yield from flattened(case, value, dotted)
        else:
            yield dotted, _as_typed(value)


def _as_typed(value: Any) -> Any:
    """Numbers as text, wherever they lie, so that one without its unit is refused as anywhere in a file."""
    if isinstance(value, Mapping):
        return {name: _as_typed(entry) for name, entry in value.items()}
    if isinstance(value, list):
        return [_as_typed(entry) for entry in value]
    return str(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value
