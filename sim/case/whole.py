"""What every whole case can do: be varied, be written back, show itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Self

from sim.case.case_keys import CaseKeys
from sim.case.tree import draw_tree, headline
from sim.case.vary import vary
from sim.case.writing import resolved
from sim.machine.brief import small_tree


class WholeCase(CaseKeys):
    """A case with all its sections; SI and kelvin throughout. One that exists has passed every check."""

    def with_(self, changes: Mapping[str, object] | None = None, /, **more: object) -> Self:
        """The case with other values, checked again; the case itself stays as it is.

        Parameters
        ----------
        changes : mapping of str to object
            By dotted key: ``case.with_({"plates.spacing": "9 in", "water.supply": "50 degC"})``. A text is read as in
            a case file, with its unit; a quantity of the unit library `pint` by its own; a bare number is in SI (m,
            K, W …). Parts of a list go by number or name: ``floor.covering[0].thickness``, ``face[warm].temperature``;
            a mapping puts a whole part there: ``{"floor.covering[0]": {"material": "oak", "thickness": "5/8 in"}}``.
            ``None`` or "none" for ``plates.spacing`` or ``plates`` takes the plates away.
        **more
            The same, as keywords.

        Raises
        ------
        CaseError
            Unknown key, or the new case breaks a rule; it names key, value, rule and way out.
        """
        return vary(self, {**(changes or {}), **more})

    def with_text(self, dotted: str, text: str) -> Self:
        """The case with one value as a user types it, such as ``("plates.spacing", "300 mm")``; see `with_`."""
        return self.with_({dotted: text})

    def resolved(self) -> dict[str, object]:
        """Every key with its value and unit, ready for TOML; read back it gives an equal case."""
        return resolved(self)

    def headline(self) -> str:
        """That it is a case, its name and its title."""
        return headline("Case", self.name, self.title)

    def rows(self) -> list[tuple[str, str]]:
        """Its parts, a line each; each kind of case tells them."""
        raise NotImplementedError

    def branches(self) -> list[tuple[str, list[str]]]:
        """Its parts with their details."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return small_tree(self.headline(), self.rows())

    def _repr_html_(self) -> str:
        from sim.machine.notebook import card, table

        return card(self.headline(), table((head, "\n".join(leaves)) for head, leaves in self.branches()))

    def __str__(self) -> str:
        return draw_tree(self.headline(), self.branches())
