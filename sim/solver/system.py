"""The discrete problem: conduction between cells plus the terms that feed and drain them.

Everything is a plain array or a frozen value made of arrays, so the solvers know nothing of bays. The usual terms:

    conduction   heat between neighbouring cells
    surfaces     heat from outer faces to what they face          (room, below, edges)
    cavity       heat between cavity walls, zone air and patches  (left out without a cavity)
    water        heat from the water in tubes to the tube cells

What a term is says `sim.solver.terms.term`. Any further one joins the tuple; balance, audit, tangent, storage and first
guess take it in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, TypeVar

from sim.machine.brief import Brief
from sim.solver.terms.cavity import Cavity
from sim.solver.terms.conduction import Conduction
from sim.solver.terms.surfaces import Surface, Surfaces
from sim.solver.terms.term import Term
from sim.solver.terms.water import TubeRun, Water

Kind = TypeVar("Kind", bound=Term[Any])
Heat = TypeVar("Heat")


@dataclass(frozen=True, slots=True, repr=False)
class System(Brief):
    """The terms of the balance on a grid of cells; one term of a kind."""

    shape: tuple[int, int, int]
    terms: tuple[Term[Any], ...]

    def find(self, kind: type[Kind]) -> Kind | None:
        """The term of a kind, if there is one."""
        return next((term for term in self.terms if isinstance(term, kind)), None)

    def with_term(self, changed: Term[Heat]) -> System:
        """The system with a term in place of the one of its kind.

        Raises
        ------
        ValueError : there is none of its kind.
        """
        if self.find(type(changed)) is None:
            raise ValueError(f"the system has no term {type(changed).__name__} that could be replaced")
        return replace(self, terms=tuple(changed if type(t) is type(changed) else t for t in self.terms))

    @property
    def conduction(self) -> Conduction:
        """Between cells: every system has it, or a ValueError says that it is missing."""
        found = self.find(Conduction)
        if found is None:
            raise ValueError("a system needs a term of conduction")
        return found

    @property
    def surfaces(self) -> tuple[Surface, ...]:
        """Outer faces by law and path."""
        found = self.find(Surfaces)
        return () if found is None else found.parts

    @property
    def cavity(self) -> Cavity | None:
        """The cavity, None without one."""
        return self.find(Cavity)

    @property
    def water(self) -> Water:
        """Water of all tubes."""
        return self.find(Water) or Water(())

    @property
    def runs(self) -> tuple[TubeRun, ...]:
        """The tubes."""
        return self.water.runs

    def reservoirs(self) -> list[float]:
        """Every fixed temperature in the problem [K]."""
        return [kelvin for term in self.terms for kelvin in term.reservoirs()]

    def __str__(self) -> str:
        cells = int(self.conduction.active.sum())
        lines = [line for term in self.terms for line in term.lines()]
        marks = ["├──"] * (len(lines) - 1) + ["└──"]
        head = f"System: {cells:,} unknown temperatures on {' × '.join(map(str, self.shape))} cells"
        return "\n".join([head, *(f"{mark} {line}" for mark, line in zip(marks, lines, strict=False))])
