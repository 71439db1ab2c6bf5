"""Which choices a comparison shows: from the options, or from the case's own list."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError

if TYPE_CHECKING:
    from sim.case.bay_case import Case

SPACING = "plates.spacing"


@dataclass(frozen=True, slots=True)
class Wanted:
    """The key to vary, its values as text or in SI, and what to call each choice."""

    key: str
    values: tuple[Any, ...]
    names: tuple[str, ...]

    def variants(self, case: Case) -> list[Case]:
        """The case with each of the values.

        Raises
        ------
        CaseError
            Values that do not fit the case, all of them together.
        """
        from sim.case.errors import CaseError

        made, problems = [], []
        for value in self.values:
            try:
                typed = isinstance(value, str)
                made.append(case.with_text(self.key, value) if typed else case.with_(**{self.key: value}))
            except CaseError as error:
                problems += [problem for problem in error.problems if problem not in problems]
        if problems:
            raise CaseError(case.path or case.name, problems)
        return made


def wanted_choices(case: Case, spacing: str | None, vary: str | None) -> Wanted:
    """The choices asked for.

    Parameters
    ----------
    case : Case
        Its own list of spacings counts when no option is given.
    spacing : str or None
        Plate spacings, such as "200mm,300mm,none".
    vary : str or None
        KEY=a,b,c.

    Raises
    ------
    UsageError
        Both or neither are given, or one cannot be read.
    """
    if spacing and vary:
        raise UsageError("--spacing and --vary exclude each other; give one of them")
    if vary:
        return _varied(vary)
    if spacing:
        return _wanted(SPACING, _listed(spacing, "--spacing 200mm,300mm,none"))
    return _own_list(case)


def wanted_flux(text: str | None) -> float | None:
    """The upward heat flux of the second comparison [W/m²].

    Raises
    ------
    UsageError
        The text is not a heat flux above 0.
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
    return flux


def spacing_name(spacing: float | None) -> str:
    """What to call a plate spacing [m]; None means no plates."""
    return "no plates" if spacing is None else f"plates every {spacing_text(spacing)}"


def spacing_text(spacing: float) -> str:
    """A length [m] in the unit in which it is a round number: millimetres, else inches.

    >>> spacing_text(0.2286), spacing_text(0.225)
    ('9 in', '225 mm')
    """
    millimetres, in_inches = spacing * 1e3, spacing / 0.0254
    if abs(millimetres - round(millimetres)) > 1e-6 and abs(in_inches * 8 - round(in_inches * 8)) < 1e-6:
        return f"{in_inches:g} in"
    return f"{millimetres:.4g} mm"


def tidy(text: str) -> str:
    """A value as typed, with a space before its unit and degrees written as such.

    >>> tidy("200mm"), tidy("45degC"), tidy("R-19"), tidy("2")
    ('200 mm', '45 °C', 'R-19', '2')
    >>> tidy('9"'), tidy("2'"), tidy("1'-6\\"")
    ('9 in', '2 ft', '1\\'-6"')
    """
    text = re.sub(r"""^([^"']+)'$""", r"\1ft", re.sub(r"""^([^"']+)"$""", r"\1in", text.strip()))
    match = re.fullmatch(r"([+-]?[\d.]+(?:[ -]\d+)?(?:/\d+)?)\s*([^\d.'].*)", text)
    spaced = f"{match[1]} {match[2]}" if match else text
    return spaced.replace("degC", "°C").replace("degF", "°F")


def _own_list(case: Case) -> Wanted:
    """The spacings that the case itself lists."""
    spacings = case.compare.spacing
    if not spacings:
        raise UsageError(
            f"{case.path}: lists no spacings to compare; add --spacing 200mm,300mm,none, "
            'or [compare] spacing = ["200 mm", "300 mm", "none"] to the case'
        )
    return Wanted(SPACING, tuple(spacings), tuple(map(spacing_name, spacings)))


def _varied(text: str) -> Wanted:
    key, sign, values = text.partition("=")
    if not sign or not key.strip():
        raise UsageError(f'--vary got "{text}"; write KEY=a,b,c, such as --vary water.supply=45degC,55degC')
    return _wanted(key.strip(), _listed(values, "--vary water.supply=45degC,55degC"))


def _listed(text: str, example: str) -> list[str]:
    values = [value.strip() for value in text.split(",")]
    if not all(values):
        raise UsageError(f'{example.split()[0]} got "{text}"; values are parted by commas, such as {example}')
    return values


def _wanted(key: str, values: Sequence[str]) -> Wanted:
    return Wanted(key, tuple(values), tuple(_name(key, value) for value in values))


def _name(key: str, value: str) -> str:
    """What to call a choice that was typed."""
    if value.lower() == "none" and key.startswith("plates"):
        return "no plates"
    return f"{heading(key)} {tidy(value)}"


def heading(key: str) -> str:
    """The words that names of choices begin with: "plates every", or the key's own."""
    return "plates every" if key == SPACING else key.rsplit(".", 1)[-1].replace("_", " ")
