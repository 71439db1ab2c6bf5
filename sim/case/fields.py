"""The kinds of value a key of a case file can hold: quantities, ranges, conductivities, named classes.

Each kind is a small frozen value that pydantic calls to read the key. The key reference and the writer of
resolved cases read the same values, so that what is documented, accepted and written cannot differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from numbers import Real
from typing import Annotated, Any, NoReturn, get_args

from pydantic import BaseModel, BeforeValidator, Field, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from sim.case.errors import Problem
from sim.case.quantities import (
    DIMENSIONS,
    ZERO_CELSIUS,
    UnitError,
    format_si,
    format_value,
    parse,
    parse_flow,
)

FROM_TEXT = {"from_text": True}
"""Validation context of a case file, where a bare number lacks its unit; without it numbers are SI values."""


def refuse(rule: str, way_out: str = "") -> NoReturn:
    """Report one value to pydantic as unusable."""
    raise PydanticCustomError("refused", "{rule}", {"rule": rule, "way_out": way_out})


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with a unit, its range in SI, and words that stand for a value.

    Parameters
    ----------
    dimension : str
        A key of `sim.case.quantities.DIMENSIONS`.
    above, at_least, at_most : float or None
        Range in the SI unit of the dimension.
    named : mapping of str to float
        Words accepted instead of a number, with their values in SI.
    example : str
        What may be written, where the dimension's usual example would not suit the key.
    """

    dimension: str
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    named: Mapping[str, float] = field(default_factory=dict, hash=False)
    example: str = ""

    @property
    def wanted(self) -> str:
        """What may be written, in words."""
        known = DIMENSIONS[self.dimension]
        return f"{known.words} is wanted, e.g. {self.example or known.example}"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def read(self, value: object, info: ValidationInfo) -> float:
        """The value in SI, or a report to pydantic of why not."""
        number = self._number(value, info)
        for rule, broken in self._bounds(number):
            if broken:
                refuse(f"must be {rule} {self._bound_text(rule)}")
        return number

    def _number(self, value: Any, info: ValidationInfo) -> float:
        if isinstance(value, str):
            return self._from_text(value, info)
        if hasattr(value, "to") and hasattr(value, "magnitude"):
            return self._from_quantity(value)
        if isinstance(value, bool) or not isinstance(value, Real):
            known = DIMENSIONS[self.dimension]
            refuse(f"not {known.words}", f"write e.g. {self.example or known.example}")
        value = value if isinstance(value, int | float) else float(value)
        bare_is_clear = self.dimension == "fraction" or (value == 0 and self.dimension != "temperature")
        if info.context == FROM_TEXT and not bare_is_clear:
            refuse("the unit is missing", self.wanted)
        if not abs(value) < 1e300:
            refuse("must be a finite number")
        return float(value)

    def _from_quantity(self, value: Any) -> float:
        """A quantity of the unit library, of whichever registry, in SI."""
        known = DIMENSIONS[self.dimension]
        try:
            return float(f"{float(value.to(known.unit or 'dimensionless').magnitude):.15g}")
        except Exception:  # each registry raises errors of its own
            refuse(f'"{value}" is not {known.words}', self.wanted)

    def _from_text(self, text: str, info: ValidationInfo) -> float:
        if text.strip().lower() in self.named:
            return self.named[text.strip().lower()]
        try:
            return self._parse(text, info)
        except UnitError as error:
            words = f", or one of: {', '.join(self.named)}" if self.named else ""
            usual = DIMENSIONS[self.dimension].example
            refuse(error.rule, error.way_out.replace(usual, self.example or usual) + words)

    def _parse(self, text: str, info: ValidationInfo) -> float:
        return 0.0 if text.strip() == "0" and self.dimension != "temperature" else parse(text, self.dimension)

    def _bounds(self, number: float) -> Iterator[tuple[str, bool]]:
        yield "greater than", self.above is not None and number <= self.above
        yield "at least", self.at_least is not None and number < self.at_least
        yield "at most", self.at_most is not None and number > self.at_most

    def _bound_text(self, rule: str) -> str:
        bound = {"greater than": self.above, "at least": self.at_least, "at most": self.at_most}[rule]
        if bound == 0:
            return "0 K" if self.dimension == "temperature" else "0"
        return format_value(bound or 0.0, self.dimension)

    def allowed(self) -> str:
        """The range and the words, for the key reference."""
        present = {"greater than": self.above, "at least": self.at_least, "at most": self.at_most}
        parts = [f"{rule} {self._bound_text(rule)}" for rule, bound in present.items() if bound is not None]
        if self.named:
            parts.append("or " + ", ".join(f"{word} ({value:g})" for word, value in self.named.items()))
        return ", ".join(parts)

    def write(self, value: float) -> str | float:
        """Text that reads back to the same float."""
        return value if self.dimension == "fraction" else format_si(value, self.dimension)


@dataclass(frozen=True, slots=True)
class FlowQuantity(Quantity):
    """A mass flow; a volume flow becomes one with the density of the water or air at its supply temperature."""

    def _parse(self, text: str, info: ValidationInfo) -> float:
        value, kind = parse_flow(text)
        if kind == "mass" or info.data.get("supply") is None:
            return value
        from sim.case.fluids import tube_fluid

        beside = {name: info.data[name] for name in ("glycol", "pressure") if name in info.data}
        return value * float(tube_fluid(info.data.get("fluid", "water"), info.data["supply"], **beside).density)


Read = float | tuple[float, ...] | str
"""What a key of one or several quantities holds: SI values, or a word in their place."""

Written = str | float | list[str | float]
"""The same as a file has it."""


@dataclass(frozen=True, slots=True)
class QuantityGroup:
    """A fixed number of quantities of one kind; a range is two of them in rising order.

    Parameters
    ----------
    each : Quantity
        Kind of every entry.
    count : int
        How many.
    rising : bool
        Whether the entries must rise.
    scalar : bool
        Whether one value alone is accepted as well (a conductivity equal in all directions).
    """

    each: Quantity
    count: int
    rising: bool = False
    scalar: bool = False

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def read(self, value: object, info: ValidationInfo) -> Read:
        """The values in SI, or a report to pydantic of why not."""
        if self.scalar and not isinstance(value, (list, tuple)):
            return self.each.read(value, info)
        if not isinstance(value, (list, tuple)) or len(value) != self.count:
            ends = "; [0] or [1] behind the key changes one end" if self.count == 2 and isinstance(value, str) else ""
            refuse(f"must be a list of {self.count} values", f"each {DIMENSIONS[self.each.dimension].words}{ends}")
        numbers = tuple(self.each.read(entry, info) for entry in value)
        if self.rising and any(b <= a for a, b in zip(numbers, numbers[1:], strict=False)):
            refuse("must rise from the first value to the second")
        return numbers

    def allowed(self) -> str:
        """How many values, and the range of each."""
        count = f"one value or {self.count}" if self.scalar else f"{self.count} values"
        return ", ".join(filter(None, [count, "rising" if self.rising else "", self.each.allowed()]))

    def write(self, value: Read) -> Written:
        """Text that reads back to the same floats."""
        if isinstance(value, str):
            return value
        return [self.each.write(entry) for entry in value] if isinstance(value, tuple) else self.each.write(value)


Length = Annotated[float, Quantity("length", above=0.0, at_most=2.0)]
Depth = Annotated[float, Quantity("length", at_least=0.0, at_most=2.0)]
Distance = Annotated[float, Quantity("distance", above=0.0, at_most=1000.0)]
_LIVED = {"at_least": ZERO_CELSIUS - 60.0, "at_most": ZERO_CELSIUS + 60.0}
Temperature = Annotated[float, Quantity("temperature", **_LIVED, example='"20 degC" or "68 degF"')]
Outdoors = Annotated[float, Quantity("temperature", **_LIVED, example='"-10 degC" or "14 degF"')]
TemperatureDifference = Annotated[float, Quantity("temperature difference", above=0.0, at_most=80.0)]
Film = Annotated[float, Quantity("film coefficient", above=0.0, at_most=1e5)]
ThermalResistance = Annotated[float, Quantity("thermal resistance", above=0.0, at_most=50.0)]
Emissivity = Annotated[float, Quantity("fraction", at_least=0.0, at_most=1.0)]
Conductivity = Annotated[
    float | tuple[float, float, float],
    QuantityGroup(Quantity("conductivity", above=0.0, at_most=5000.0), 3, scalar=True),
]
MassFlow = Annotated[float, FlowQuantity("flow", above=0.0, at_most=10.0)]


def quantity_kind(annotation: object, metadata: Sequence[object] = ()) -> Quantity | QuantityGroup | None:
    """The kind of quantity that a key holds, wherever it stands in the annotation."""
    for entry in (*metadata, *getattr(annotation, "__metadata__", ())):
        if isinstance(entry, (Quantity, QuantityGroup)):
            return entry
    for part in get_args(annotation):
        if found := quantity_kind(part):
            return found
    return None


def given(section: BaseModel, name: str) -> bool:
    """Whether the user wrote this key, rather than it being filled in."""
    return name in section.model_fields_set


def fill(section: BaseModel, **values: object) -> None:
    """Put worked-out values into a section being checked, without marking them as written by the user."""
    section.__dict__.update(values)


def _left_out() -> Any:
    return None


def worked_out(when_absent: str, meaning: str, alias: str | None = None) -> Any:
    """A key that is filled in while checking when the user leaves it out; `when_absent` says with what."""
    return Field(
        default_factory=_left_out,
        description=meaning,
        alias=alias,
        json_schema_extra={"when_absent": when_absent},
    )


def key(default: Any, meaning: str, alias: str | None = None) -> Any:
    """A key with a fixed default (`...` when it must be given)."""
    return Field(default, description=meaning, alias=alias)


def refuse_section(problems: list[Problem]) -> None:
    """Report every problem inside one section to pydantic; keys are relative to the section."""
    if problems:
        raise PydanticCustomError("section", "section cannot be used", {"problems": problems})


def agree(a: float, b: float) -> bool:
    """Whether two values that a user wrote independently mean the same."""
    return abs(a - b) <= 1e-6 * max(abs(a), abs(b))


def word_none(value: object) -> object:
    """Read the word "none" as an absent part."""
    return None if isinstance(value, str) and value.strip().lower() == "none" else value


NONE = BeforeValidator(word_none)
"""Marks a part that the word "none" takes away."""
