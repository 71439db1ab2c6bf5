"""The energy audit: heat in and out by path, taken from final temperatures at the boundaries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.machine.brief import small_tree, whole_tree
from sim.machine.notebook import card, frame, table

if TYPE_CHECKING:
    import pandas

TOLERANCE = 1e-6
"""Largest |in − out| allowed, as a share of the heat supplied."""


class BalanceError(Exception):
    """The audit does not close; the message is the table of paths."""


@dataclass(frozen=True, slots=True, repr=False)
class Balance:
    """Heat by path [W]: positive `supplied` in, positive `delivered` out.

    Every path is summed over the faces or segments that it crosses, with the laws evaluated at the final
    temperatures; nothing is taken from the solver's residual.
    """

    supplied: dict[str, float]
    delivered: dict[str, float]

    @property
    def heat_in(self) -> float:
        """Sum of all flows into the build-up [W]."""
        flows = [*self.supplied.values(), *(-flow for flow in self.delivered.values())]
        return sum(flow for flow in flows if flow > 0.0)

    @property
    def difference(self) -> float:
        """Heat in minus heat out [W]."""
        return sum(self.supplied.values()) - sum(self.delivered.values())

    @property
    def residual(self) -> float:
        """|in − out| as a share of the heat in; 0 when nothing flows."""
        return abs(self.difference) / self.heat_in if self.heat_in > 1e-9 else abs(self.difference)

    def to_pandas(self) -> pandas.DataFrame:
        """A line a path: its way, in or out, and its heat flow [W]."""
        return frame([{"path": path, "way": way, "heat_flow_W": flow} for path, way, flow in self._flows()], "path")

    def _flows(self) -> list[tuple[str, str, float]]:
        """Path, way and flow [W] of everything."""
        pairs = (("in", self.supplied), ("out", self.delivered))
        return [(str(path), way, flow) for way, flows in pairs for path, flow in flows.items()]

    def __repr__(self) -> str:
        rows = [(f"{way} {path}", f"{flow:.4g} W") for path, way, flow in self._flows()]
        return small_tree("Balance", [*rows[:6], ("difference", f"{self.difference:.1e} W")])

    def _repr_html_(self) -> str:
        rows = [(path, f"{way}, {flow:.4f} W") for path, way, flow in self._flows()]
        rows.append(("difference", f"{self.difference:.1e} W, {self.residual:.1e} of the heat supplied"))
        return card("Balance", table(rows))

    def __str__(self) -> str:
        lines = [f"in   {name:<22}{flow:>14.6f} W" for name, flow in self.supplied.items()]
        lines += [f"out  {name:<22}{flow:>14.6f} W" for name, flow in self.delivered.items()]
        left = f"difference {self.difference:.3e} W, {self.residual:.2e} of the heat supplied"
        return whole_tree("Balance", [*lines, left])


def audit(balance: Balance, tolerance: float = TOLERANCE) -> Balance:
    """The balance itself when it closes to a tolerance, a share of the heat that comes in [-].

    Raises
    ------
    BalanceError : it does not; the message holds the table of paths.
    """
    if not balance.residual <= tolerance:
        raise BalanceError(f"the energy audit does not close to {tolerance:g}\n{balance}")
    return balance
