"""Which choices a comparison shows: from the options, or from the case's own list."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError

if TYPE_CHECKING:
    from sim.case.errors import Problem
    from sim.case.load import AnyCase
    from sim.problems.kind import CaseT

SPACING, RUNS = "plates.spacing", "tube.runs"

MOST_FLUX = 10_000.0
"""No floor gives more [W/m²]; beyond it the number is a slip."""

MOST_CHOICES = 200
"""More choices than this are taken for a mistake."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to call each choice, what it changes by dotted key, as text or in SI, and its name without its water."""

    names: tuple[str, ...]
    changes: tuple[Mapping[str, Any], ...]
    bays: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """All keys that are changed, each once."""
        return tuple(dict.fromkeys(key for changes in self.changes for key in changes))

    def variants(self, case: CaseT) -> list[CaseT]:
        """The case with the changes of each choice.

        Raises
        ------
        CaseError
            Values that do not fit the case, all of them together.
        """
        from sim.case.errors import CaseError
        from sim.case.vary import vary

        made: list[CaseT] = []
        problems: list[Problem] = []
        for changes in self.changes:
            try:
                made.append(vary(case, changes))
            except CaseError as error:
                problems += [problem for problem in error.problems if problem not in problems]
        if problems:
            raise CaseError(case.path or case.name, problems)
        return made


def wanted_choices(case: AnyCase, spacing: str | None, varied: Sequence[str] = (), paired: bool = False) -> Wanted:
    """The choices asked for: every value of one option with every value of the others, or the first with the first.

    Parameters
    ----------
    case : Case
        Its own list of spacings counts when no option is given.
    spacing : str or None
        Plate spacings, such as "200mm,300mm,none".
    varied : sequence of str
        KEY=a,b,c for each key.
    paired : bool
        First values together, second values together, and so on.

    Raises
    ------
    UsageError
        Nothing is given, a key comes twice, lists to pair differ in length, or one cannot be read.
    """
    axes = [_axis(SPACING, _listed(spacing, "--spacing 200mm,300mm,none"))] if spacing else []
    axes += [_varied(text) for text in varied]
    keys = [key for axis in axes for key in axis[0].changes]
    if twice := next((key for place, key in enumerate(keys) if key in keys[:place]), None):
        raise UsageError(f"{twice} is varied twice; put all its values into one list")
    if paired and len({len(axis) for axis in axes}) > 1:
        counts = " and ".join(str(len(axis)) for axis in axes)
        raise UsageError(f"--paired got lists of {counts} values; give each key as many, or leave --paired out")
    if not axes:
        return _own_list(case)
    rows = list(zip(*axes, strict=True)) if paired else list(product(*axes))
    if len(rows) > MOST_CHOICES:
        raise UsageError(f"{len(rows):,} choices are asked for; at most {MOST_CHOICES}, or --paired lists")
    bays = [[step.name for step in row if "water.supply" not in step.changes] for row in rows]
    names = [[step.name for step in row] for row in rows]
    return Wanted(tuple(map(", ".join, names)), tuple(map(_merged, rows)), tuple(map(", ".join, bays)))


@dataclass(frozen=True, slots=True)
class _Step:
    """One value of one key: what it is called, and what it changes."""

    name: str
    changes: Mapping[str, Any]


def _merged(row: Sequence[_Step]) -> dict[str, Any]:
    return {key: value for step in row for key, value in step.changes.items()}


def wanted_flux(text: str | None) -> float | None:
    """The upward heat flux of the second comparison [W/m²].

    Raises
    ------
    UsageError
        The text is no heat flux above 0 that a floor might give.
    """
    if text is None:
        return None
    from sim.case.quantities import UnitError, parse

    try:
        flux = parse(text, "heat flux")
    except UnitError as error:
        raise UsageError(f'--flux got "{text}"; {error}') from error
    if flux <= 0.0:
        raise UsageError(f'--flux got "{text}"; must be greater than 0')
    if flux > MOST_FLUX:
        raise UsageError(f'--flux got "{text}"; no floor gives more than {MOST_FLUX:,.0f} W/m²')
    return flux


def tidy(text: str) -> str:
    """A value as typed, with a space before its unit and degrees written as such.

    >>> tidy("200mm"), tidy("45degC"), tidy("R-19"), tidy("2")
    ('200 mm', '45 °C', 'R-19', '2')
    >>> tidy('9"'), tidy("2'"), tidy("1'-6\\""), tidy('12" o.c.')
    ('9 in', '2 ft', '1\\'-6"', '12 in')
    """
    text = re.sub(r"""\s*(o\.?c\.?|on[- ]cent(?:er|re))$""", "", text.strip(), flags=re.IGNORECASE)
    text = re.sub(r"""^([^"']+)'$""", r"\1ft", re.sub(r"""^([^"']+)"$""", r"\1in", text.strip()))
    match = re.fullmatch(r"([+-]?[\d.]+(?:[ -]\d+)?(?:/\d+)?)\s*([^\d.'].*)", text)
    spaced = f"{match[1]} {match[2]}" if match else text
    return spaced.replace("degC", "°C").replace("degF", "°F")


def _own_list(case: AnyCase) -> Wanted:
    """The spacings that the case itself lists."""
    spacings = case.listed_spacings
    if not spacings:
        raise UsageError(
            f"{case.path}: lists nothing to compare; add --spacing 200mm,300mm,none, --vary KEY=a,b, a second case "
            'file, or [compare] spacing = ["200 mm", "300 mm", "none"] to the case'
        )
    from sim.results.spacing_names import spacing_name

    return Wanted(tuple(map(spacing_name, spacings)), tuple({SPACING: spacing} for spacing in spacings))


def _varied(text: str) -> list[_Step]:
    key, sign, values = text.partition("=")
    if not sign or not key.strip():
        raise UsageError(f'--vary got "{text}"; write KEY=a,b,c, such as --vary water.supply=45degC,55degC')
    return _axis(key.strip(), _listed(values, "--vary water.supply=45degC,55degC"))


def _listed(text: str, example: str) -> list[str]:
    values = [value.strip() for value in text.split(",")]
    if not all(values):
        raise UsageError(f'{example.split()[0]} got "{text}"; values are parted by commas, such as {example}')
    if twice := next((value for place, value in enumerate(values) if value in values[:place]), None):
        raise UsageError(f'{example.split()[0]} got "{twice}" twice; name each value once')
    return values


def _axis(key: str, values: Sequence[str]) -> list[_Step]:
    return [_Step(_name(key, value), {key: value}) for value in values]


def _name(key: str, value: str) -> str:
    """What to call a choice that was typed."""
    if value.lower() == "none" and key.startswith("plates"):
        return "no plates"
    if key == RUNS:
        return f"{value} run{'s' * (value != '1')}"
    return f"{heading(key)} {tidy(value)}"


def heading(key: str) -> str:
    """The words that names of choices begin with: "plates every", or the key's own.

    >>> heading("plates.spacing"), heading("water.supply"), heading("box.gap.z[1]")
    ('plates every', 'supply', 'gap z to')
    """
    if key in ("", RUNS):  # whose choices are called "1 run", "2 runs"
        return ""
    if end := re.fullmatch(r"(?:.*[.\[])?([^.\[\]]+)\]?\.(\w+)[.\[]([01])\]?", key):
        name = "" if end[1].isdigit() else f"{end[1]} "
        return f"{name}{end[2]} {('from', 'to')[int(end[3])]}"
    return "plates every" if key == SPACING else key.rsplit(".", 1)[-1].replace("_", " ")
