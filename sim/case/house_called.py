"""What a house's rooms, manifolds, sources and variants are called where something is wrong with them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from sim.case.errors import CaseError, shortened

BY_NAME = ("room", "manifold", "source", "variant")
"""Lists of a house file whose sections have names of their own."""

INSIDE = {"bays": "name", "blocked": "why"}
"""Lists in a room, and the key by which a person knows one of their sections."""

LONGEST = 30
"""Letters of a name that are told."""


def called(data: Mapping[str, object]) -> dict[str, str]:
    """What the sections of a house file are called, by their place: `room "Bath"` for `room[3]`.

    One without a name is told by its number as people count, from one.

    >>> called({"room": [{"name": "Bath", "blocked": [{"why": "tub"}]}, {}]})
    {'room[0]': 'room "Bath"', 'room[0].blocked[0]': 'room "Bath".blocked "tub"', 'room[1]': 'room number 2'}
    """
    found: dict[str, str] = {}
    for kind in BY_NAME:
        for place, words, section in _sections(data, kind, "name"):
            found[place] = words
            for inner, key in INSIDE.items():
                found |= {f"{place}.{own}": f"{words}.{said}" for own, said, _ in _sections(section, inner, key)}
    return found


def _sections(data: object, kind: str, key: str) -> Iterator[tuple[str, str, object]]:
    """The place of every section of a list, what it is called, and the section."""
    listed = data.get(kind) if isinstance(data, Mapping) else None
    sections = listed if isinstance(listed, list) else []
    for number, section in enumerate(sections):
        name = section.get(key) if isinstance(section, Mapping) else None
        known = isinstance(name, str) and name.strip()
        alone = len(sections) == 1 and kind in INSIDE
        nameless = kind if alone else f"{kind} number {number + 1}"
        words = f'{kind} "{shortened(str(name), LONGEST)}"' if known else nameless
        yield f"{kind}[{number}]", words, section


@contextmanager
def by_name(names: Mapping[str, str]) -> Iterator[None]:
    """What is found wrong within it names sections by what they are called."""
    try:
        yield
    except CaseError as error:
        raise CaseError(error.path, error.problems, {**names, **error.called}) from None
