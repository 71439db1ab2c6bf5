"""What a term of the balance is.

In every cell the heat of all terms sums to what is left over, each with its sign: what drains a cell counts as it is,
what feeds it is taken off. `sim.solver.flows.evaluate` is that sum. A new term is a new file with one class, and the
place that puts it into the system; nothing else of the solver knows which terms there are.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, ClassVar, Generic, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.solver.state import State

if TYPE_CHECKING:
    from sim.bay.cells import Cells

Array = NDArray[np.float64]
Heat = TypeVar("Heat")
"""What a term tells of itself at a state: a frozen value of its own."""

DRAINS: Literal[1] = 1
"""Sign of a term whose flow leaves the cells; its paths are those of delivered heat."""

FEEDS: Literal[-1] = -1
"""Sign of a term whose flow enters the cells; its paths are those of supplied heat."""


class Term(ABC, Generic[Heat]):
    """One summand of the balance of every cell."""

    __slots__ = ()
    sign: ClassVar[Literal[1, -1]] = DRAINS

    @abstractmethod
    def settle(self, state: State) -> Heat:
        """All that the term does at a state, its laws evaluated exactly."""

    @abstractmethod
    def flow(self, heat: Heat, state: State) -> Array:
        """Heat through it out of each cell, or into it with the sign FEEDS [W], flat (cells,)."""

    @abstractmethod
    def add_slope(self, heat: Heat, diagonal: Array) -> None:
        """Add in place how much more heat each cell loses per kelvin [W/K], flat (cells,), 0 or greater.

        Conduction and cavity have their tangents elsewhere: the stencil, and what `sim.solver.coupling` eliminates.
        """

    @abstractmethod
    def paths(self, heat: Heat) -> Mapping[str, float]:
        """Heat that crosses the outline of the build-up through it, by path [W], in the direction of its sign."""

    def reservoirs(self) -> Iterable[float]:
        """Fixed temperatures that it holds the build-up to [K]."""
        return ()

    def begin(self, temperature: Array) -> None:
        """Put what it knows beforehand into the first guess of the temperatures [K], flat (cells,), in place."""

    def storage(self, cells: Cells) -> Array:
        """Heat that it takes up per kelvin in each cell [J/K], flat (cells,)."""
        return np.zeros(cells.grid.size)

    def lines(self) -> list[str]:
        """What it is in a few words, for a person."""
        return []
