"""The energy audit: heat in and out by path, taken from final temperatures at the boundaries."""

from __future__ import annotations

from dataclasses import dataclass

TOLERANCE = 1e-6
"""Largest |in − out| allowed, as a share of the heat supplied."""


class BalanceError(Exception):
    """The audit does not close; the message is the table of paths."""


@dataclass(frozen=True, slots=True)
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

    def __str__(self) -> str:
        lines = ["Balance"]
        lines += [f"├── in   {name:<22}{flow:>14.6f} W" for name, flow in self.supplied.items()]
        lines += [f"├── out  {name:<22}{flow:>14.6f} W" for name, flow in self.delivered.items()]
        lines.append(f"└── difference {self.difference:.3e} W, {self.residual:.2e} of the heat supplied")
        return "\n".join(lines)


def audit(balance: Balance, tolerance: float = TOLERANCE) -> Balance:
    """The balance itself when it closes; BalanceError with the table of paths when it does not."""
    if not balance.residual <= tolerance:
        raise BalanceError(f"the energy audit does not close to {tolerance:g}\n{balance}")
    return balance
