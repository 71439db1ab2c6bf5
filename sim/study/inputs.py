"""Inputs of a study: which keys of a case are uncertain, between which values, and how likely those are."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.case.errors import CaseError, shortened
from sim.case.fields import Quantity
from sim.case.quantities import UnitError, convert, format_alike, format_value, split
from sim.case.value import number_of, quantity_of, value_of

if TYPE_CHECKING:
    from sim.case.load import AnyCase

Spread = Literal["uniform", "log", "triangular"]

EXAMPLE = '"plates.contact=0.002..0.04 m^2*K/W"'

_NUMBER_ALONE = re.compile(r"[+-]?(\d+([\s-]+\d+)?/\d+|\d+[\s-]+\d+/\d+|(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?)")


class InputError(Exception):
    """An input of a study cannot be used; the message says which, why and what to write instead."""


@dataclass(frozen=True, slots=True)
class Input:
    """An uncertain key: its ends in SI and how its values are spread between them.

    `spread` is "uniform", "log" (the logarithm is uniform) or "triangular" (most likely at `peak`, falling straight
    to nothing at the ends). `dimension` names the unit, as in `sim.case.quantities.DIMENSIONS`.
    """

    key: str
    low: float
    high: float
    dimension: str
    spread: Spread = "uniform"
    peak: float | None = None

    def values(self, shares: ArrayLike) -> NDArray[np.float64]:
        """Values below which the given shares (0 to 1) of all possible ones lie, in SI (n,)."""
        shares = np.asarray(shares, dtype=float)
        width = self.high - self.low
        if self.spread == "log":
            return np.asarray(self.low * (self.high / self.low) ** shares)
        if self.spread == "triangular" and self.peak is not None:
            from scipy import stats  # it takes a second, which others that import this module need not wait for

            return np.asarray(stats.triang.ppf(shares, (self.peak - self.low) / width, self.low, width))
        return np.asarray(self.low + width * shares)

    def written(self, value: float, system: Literal["SI", "IP"] = "SI") -> str:
        """A value of this input for people, with its unit; places below a metre in millimetres, or inches."""
        return format_value(value, self._told_as, system)

    def ends(self, system: Literal["SI", "IP"] = "SI") -> list[str]:
        """Both ends of its range for people, with as many decimals each."""
        return format_alike((self.low, self.high), self._told_as, system)

    @property
    def _told_as(self) -> str:
        small = self.dimension == "distance" and max(abs(self.low), abs(self.high)) < 1.0
        return "length" if small else self.dimension

    def shown(self, value: float) -> float:
        """A value of this input as a bare number in the unit of `sim.case.value.shown_key`."""
        return convert(value, self.dimension, "SI")[0]

    def __str__(self) -> str:
        peak = "" if self.peak is None else f" with its peak at {self.written(self.peak)}"
        return f"{self.key} from {' to '.join(self.ends())}, {self.spread}{peak}"


def parse_inputs(case: AnyCase, texts: Sequence[str]) -> tuple[Input, ...]:
    """Read several inputs; a key may come once.

    Raises
    ------
    InputError, CaseError : as in `parse_input`, or there is none, or a key comes twice.
    """
    inputs = tuple(parse_input(case, text) for text in texts)
    if not inputs:
        raise InputError(f"a study needs at least one input, such as {EXAMPLE}")
    keys = [each.key for each in inputs]
    if twice := {key for key in keys if keys.count(key) > 1}:
        raise InputError(f"{', '.join(sorted(twice))} is named twice; give each input once")
    return inputs


def parse_input(case: AnyCase, text: str) -> Input:
    """Read an input as typed: KEY=LOW..HIGH UNIT, or KEY=LOW..PEAK..HIGH UNIT for a triangle.

    A last word "log", "uniform" or "triangular" says how the values are spread; a triangle without a peak has it
    at the case's own value. A unit may stand behind each number or behind the last one only, and where a key has
    words for values ("tight") these will do.

    Parameters
    ----------
    case : AnyCase
        Its ranges hold for every value, and its keys and units are those of a case file.

    Raises
    ------
    InputError : the text cannot be read, or the key does not hold one number.
    CaseError : the case does not have the key, or one of the values breaks a rule of the case.
    """
    key, sign, rest = (part.strip() for part in text.partition("="))
    rest, spread = _spread(rest)
    parts = [part.strip() for part in rest.split("..")]
    if not (key and sign and all(parts) and len(parts) in (2, 3)):
        raise InputError(f'input got "{text}"; write KEY=LOW..HIGH UNIT, such as {EXAMPLE}')
    quantity = _quantity(case, key, parts[0])
    values = [_value(case, key, part, text) for part in _with_units(parts, quantity)]
    return _checked(text, Input(key, values[0], values[-1], quantity.dimension, *_shape(case, key, values, spread)))


def drawn(case: AnyCase, values: Mapping[str, float]) -> AnyCase:
    """The case with drawn values in SI, by key; where they break a rule, CaseError names the draw and not the file."""
    try:
        return case.with_(**values)
    except CaseError as error:
        raise CaseError("the drawn values do not fit, narrow their ranges:", error.problems) from None


def _spread(text: str) -> tuple[str, Spread | None]:
    """The text without the word for the spread, and that word."""
    head, _, last = text.rpartition(" ")
    for word in get_args(Spread):
        if last == word:
            return head.strip(), word
    return text, None


def _quantity(case: AnyCase, key: str, part: str) -> Quantity:
    """What the key holds; a key that the case does not know is refused by the case itself."""
    quantity = quantity_of(case, key)
    if quantity is None:
        case.with_text(key, part)
        raise InputError(f"{key} does not hold one number, so it has no range to study")
    if isinstance(value_of(case, key), tuple):
        raise InputError(f"{key} differs by direction; give it one value in the case to study it")
    return quantity


def _with_units(parts: Sequence[str], quantity: Quantity) -> list[str]:
    """Numbers without a unit get that of the last part."""
    try:
        _, unit = split(parts[-1], quantity.dimension)
    except UnitError:
        return list(parts)
    return [f"{part} {unit}".strip() if _NUMBER_ALONE.fullmatch(part) else part for part in parts]


def _value(case: AnyCase, key: str, part: str, text: str) -> float:
    """A value in SI, checked by the case; one that breaks a rule is told as the end of its range, not of the file."""
    try:
        return number_of(case.with_text(key, part), key)
    except CaseError as error:
        raise CaseError(f'input "{shortened(text)}", at {shortened(part)}, with {error.path}', error.problems) from None


def _shape(case: AnyCase, key: str, values: Sequence[float], spread: Spread | None) -> tuple[Spread, float | None]:
    """The spread and the peak that follow from what was typed."""
    if len(values) == 3:
        return spread or "triangular", values[1]
    if spread == "triangular":
        return spread, number_of(case, key)
    return spread or "uniform", None


def _checked(text: str, found: Input) -> Input:
    """The input, unless its ends, spread and peak do not go together."""
    if found.low >= found.high:
        raise InputError(f'input got "{text}"; the first value must be below the last')
    if found.spread == "log" and found.low <= 0.0:
        raise InputError(f'input got "{text}"; a spread by logarithm starts above 0')
    if found.spread != "triangular" and found.peak is not None:
        raise InputError(f'input got "{text}"; only a triangular spread has a peak')
    if found.peak is not None and not found.low <= found.peak <= found.high:
        place = "between the two others; name one: KEY=LOW..PEAK..HIGH UNIT"
        raise InputError(f'input got "{text}"; its peak {found.written(found.peak)} must lie {place}')
    return found
