"""Quantities as a caller writes them: text with its unit, a quantity of the unit library, or a number in SI."""

from __future__ import annotations

from typing import Protocol, SupportsFloat, runtime_checkable

from sim.case.errors import CaseError, Problem
from sim.case.quantities import DIMENSIONS, UnitError, parse


@runtime_checkable
class Measured(Protocol):
    """A quantity of a unit library, such as pint's."""

    @property
    def magnitude(self) -> SupportsFloat:
        """Its number, in its own unit."""

    def to(self, unit: str, /) -> Measured:
        """The same in another unit."""


Amount = float | str | Measured
"""A number in SI (kelvin for temperatures), a text such as "60 W/m^2", or a quantity of the unit library pint."""


def read_amount(value: Amount, dimension: str, name: str, where: str) -> float:
    """An amount in SI.

    Raises
    ------
    CaseError : it is not of that dimension; `name` is the argument, `where` the case that it was meant for.
    """
    unit = DIMENSIONS[dimension].unit
    try:
        if isinstance(value, str):
            return parse(value, dimension)
        return float(value.to(unit).magnitude if isinstance(value, Measured) else value)
    except UnitError as error:
        problem = Problem(name, f'"{value}"', error.rule, error.way_out)
    except Exception:  # each unit library raises errors of its own
        wanted = DIMENSIONS[dimension]
        problem = Problem(name, f"{value}", f"is not {wanted.words}", f"write e.g. {wanted.example}")
    raise CaseError(where, [problem])
