"""A verification folder: which numbers are expected of it, and from where.

It holds `case.toml` (any case), `expected.toml` and a README with the problem. In `expected.toml` each `[[check]]`
names its `source`, `unit`, tolerance (`absolute` in that unit, or `relative`) and the `published` numbers by key of
the report, with `at` those of a time in seconds; `[mesh]` says by how much the case's mesh sizes are divided in the
quick (`coarse`, 0: not run at all) and in the `full` run. `quick_relative` or `quick_absolute` state another tolerance
for the quick run, where its mesh is too coarse for the one that counts; `known_relative` or `known_absolute` how well
the source knows its number.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sim.machine.shipped import SHIPPED

CASES = SHIPPED / "verification"
"""The folders that come with the program."""


@dataclass(frozen=True, slots=True)
class Check:
    """One number to reproduce: report key, value, allowed difference (both in `unit`) and its source.

    With a `drop` [K] the number is a thermal resistance: the drop over the flux that the key names. `at` is the time
    of the number [s], None for the steady state or the end. `quick` is allowed in the quick run, None: the same.
    `known` is how far the published number itself may be off, besides its last digit.
    """

    key: str
    published: float
    unit: str
    allowed: float
    source: str
    drop: float | None = None
    at: float | None = None
    quick: float | None = None
    known: float = 0.0

    def limit(self, full: bool) -> float:
        """Allowed difference in the full or in the quick run."""
        return self.allowed if full or self.quick is None else self.quick


@dataclass(frozen=True, slots=True)
class Folder:
    """A verification problem: its case file, its checks and its mesh refinements."""

    name: str
    path: Path
    checks: tuple[Check, ...]
    coarse: int
    full: int
    halving: tuple[str, ...]

    def __str__(self) -> str:
        quick = f"{self.coarse} (quick) and " if self.coarse else ""
        return f"{self.name}: {len(self.checks)} numbers, mesh {quick}{self.full} (full)"


def load_checks(folder: Path) -> Folder:
    """Read the expected numbers of a verification folder.

    Raises
    ------
    ValueError : the file is not TOML or lacks a key, a check has no tolerance or two, one source gives a key twice,
        or the mesh cannot be halved.
    """
    file = folder / "expected.toml"
    try:
        data = tomllib.loads(file.read_text("utf-8-sig"))
    except (ValueError, OSError, RecursionError) as error:
        raise ValueError(f"{file}: is not valid TOML: {str(error)[:200]}; mend that line") from None
    if fault := next(_faults(data), None):
        raise ValueError(f"{file}: {fault}")
    mesh = data.get("mesh", {})
    try:
        checks = tuple(check for group in data["check"] for check in _checks(folder.name, group))
    except KeyError as missing:
        raise ValueError(f"{file}: {missing.args[0]} is missing; each [[check]] has source, unit, published") from None
    keys = [(check.key, check.at, check.source) for check in checks]
    if twice := {key for key, at, source in keys if keys.count((key, at, source)) > 1}:
        raise ValueError(f"{folder.name}: {', '.join(sorted(twice))} given twice")
    coarse, halving = mesh.get("coarse", 1), tuple(data.get("halving", ()))
    full = mesh.get("full", coarse)
    if halving and full % 2:
        raise ValueError(f"{folder.name}: mesh.full must be even, so that half of it can be run as well")
    return Folder(folder.name, folder, checks, coarse, full, halving)


MOST = 64
"""By how much the sizes of a mesh are divided at most [-]."""

_WORDS = ("source", "unit")
_NUMBERS = (*(f"{of}{kind}" for of in ("", "quick_", "known_") for kind in ("absolute", "relative")), "drop", "at")
_MESHES = ("coarse", "full")


def _faults(data: Mapping[str, Any]) -> Iterator[str]:
    """Values of the wrong kind; what is missing or contradictory is found later."""
    mesh, halving, groups = data.get("mesh", {}), data.get("halving", []), data.get("check", [])
    sizes = [mesh.get(key, 1) for key in _MESHES] if isinstance(mesh, dict) else [None]
    if not all(isinstance(size, int) and 0 <= size <= MOST for size in sizes):
        yield f"[mesh] holds coarse and full, whole numbers from 0 to {MOST}"
    if not isinstance(halving, list) or not all(isinstance(key, str) for key in halving):
        yield "halving is a list of report keys"
    if not isinstance(groups, list) or not all(isinstance(group, dict) for group in groups):
        yield "checks are written as [[check]]"
        return
    for place, group in enumerate(groups):
        yield from (f"check[{place}]: {fault}" for fault in _group_faults(group))


def _group_faults(group: Mapping[str, Any]) -> Iterator[str]:
    published = group.get("published", {})
    if wrong := [key for key in _WORDS if not isinstance(group.get(key, ""), str)]:
        yield f"{wrong[0]} is not text"
    if wrong := [key for key in _NUMBERS if not _is_number(group.get(key, 0.0))]:
        yield f"{wrong[0]} is not a number"
    if not isinstance(published, dict) or not all(map(_is_number, published.values())):
        yield "published holds report keys with their numbers"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300


def _checks(name: str, group: Mapping[str, Any]) -> Iterable[Check]:
    if ("absolute" in group) == ("relative" in group):
        raise ValueError(f"{name}: a check needs an absolute or a relative tolerance ({group['source']})")
    for key, number in group["published"].items():
        allowed = group.get("absolute", group.get("relative", 0.0) * abs(number))
        yield Check(
            key,
            float(number),
            group["unit"],
            float(allowed),
            group["source"],
            group.get("drop"),
            group.get("at"),
            _tolerance(group, "quick_", abs(number)),
            _tolerance(group, "known_", abs(number)) or 0.0,
        )


def _tolerance(group: Mapping[str, Any], prefix: str, size: float) -> float | None:
    """The absolute tolerance, or the relative one times the size of the number; None when neither is given."""
    if f"{prefix}absolute" in group:
        return float(group[f"{prefix}absolute"])
    return float(group[f"{prefix}relative"]) * size if f"{prefix}relative" in group else None


def folders(names: Iterable[str] | None = None, where: Path = CASES) -> list[Folder]:
    """The verification folders by name, all of them without names.

    Raises
    ------
    ValueError : a name is not one of the folders; the message names the closest one, or how to list them.
    """
    known = {path.parent.name: path.parent for path in sorted(where.glob("*/expected.toml"))}
    chosen = list(known) if names is None else list(names)
    if unknown := [name for name in chosen if name not in known]:
        near = get_close_matches(unknown[0], known, n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"joistbay verify --list names all {len(known)}"
        raise ValueError(f"no verification case {', '.join(unknown)}; {hint}")
    return [load_checks(known[name]) for name in chosen]
