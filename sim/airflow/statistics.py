"""Means over time, and the budgets of heat and kinetic energy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import Flow
from sim.airflow.step import Stepper
from sim.airflow.stepping import FlowStepper, Look

Array = NDArray[np.float64]


class Averager:
    """A listener that averages a march: `march(box, ..., listener=averager)`.

    Samples are taken at every look and weighted by the time since the last one.

    Parameters
    ----------
    after : float [s]
        Samples up to this time are left out.
    """

    def __init__(self, after: float = 0.0) -> None:
        self.after = after
        self.duration = 0.0
        self.times: list[float] = []
        self._last: float | None = None
        self._sums: list[Array] = []

    def __call__(self, look: Look, stepper: FlowStepper) -> None:
        """Take a sample."""
        last, self._last = self._last, look.time
        if last is None or last < self.after:
            return
        flows = stepper.heat_flow()
        fields = [*stepper.state, flows]
        self._sums = self._sums or [np.zeros_like(f) for f in fields]
        for total, field in zip(self._sums, fields, strict=True):
            total += (look.time - last) * field
        self.duration += look.time - last
        self.times.append(look.time)

    def flow(self) -> Flow:
        """Mean velocity and temperature, at the time of the last sample."""
        duration = self._checked()
        u, v, w, t = (total / duration for total in self._sums[:4])
        return Flow((u, v, w), t, self.times[-1], stop_reason="mean")

    def heat_flow(self) -> Array:
        """Mean heat flow from every wall face into the air (n,) [W]."""
        duration = self._checked()
        return self._sums[4] / duration

    def _checked(self) -> float:
        """The duration, once there is one."""
        if not self.times:
            raise ValueError(f"nothing averaged: no two looks after {self.after:g} s")
        return self.duration


@dataclass(frozen=True, slots=True)
class KineticBudget:
    """Where kinetic energy comes from and goes, per density.

    Attributes
    ----------
    energy : float [m⁵/s²]
        Σ V u²/2.
    buoyancy, friction, sheets : float [m⁵/s³]
        Work done by buoyancy (against the hydrostatic part), and taken by viscosity and by porous sheets.
    advection : float [m⁵/s³]
        Zero but for rounding: the scheme keeps kinetic energy.
    """

    energy: float
    buoyancy: float
    friction: float
    sheets: float
    advection: float

    @property
    def change(self) -> float:
        """d energy / dt [m⁵/s³], the signed sum."""
        return self.buoyancy + self.friction + self.sheets + self.advection

    def __str__(self) -> str:
        return "\n".join([
            f"kinetic energy {self.energy:.6g}",
            f"├─ buoyancy   {self.buoyancy:+.6g}",
            f"├─ friction   {self.friction:+.6g}",
            f"├─ sheets     {self.sheets:+.6g}",
            f"└─ advection  {self.advection:+.2g}",
        ])


def face_volumes(domain: Domain, axis: int) -> Array:
    """Volumes [m³] around the faces normal to an axis: half a cell on either side."""
    half = np.pad(0.5 * domain.volumes, [(1, 1) if a == axis else (0, 0) for a in range(3)])
    return np.take(half, range(half.shape[axis] - 1), axis) + np.take(half, range(1, half.shape[axis]), axis)


def kinetic_budget(stepper: Stepper) -> KineticBudget:
    """Budget of the present state, from the very operators that move it."""
    state, volumes = stepper.state, [face_volumes(stepper.domain, a) for a in range(3)]

    def work(rates: Sequence[Array]) -> float:
        return float(sum(np.sum(v * u * r) for v, u, r in zip(volumes, state, rates, strict=False)))

    still = replace(stepper.air, viscosity=0.0, buoyancy=0.0)
    sheets = -work([f * np.abs(u) * u for f, u in zip(_loss_factors(stepper.domain), state, strict=False)])
    idle = work(stepper.rates_of(still))
    return KineticBudget(
        energy=0.5 * work(state[:3]),
        buoyancy=work(stepper.rates_of(replace(still, buoyancy=stepper.air.buoyancy))) - idle,
        friction=work(stepper.rates_of(replace(still, viscosity=stepper.air.viscosity))) - idle,
        sheets=sheets,
        advection=idle - sheets,
    )


def _loss_factors(domain: Domain) -> list[Array]:
    """K / (2 gap) [1/m] on the faces of each component."""
    gaps = [np.pad(np.diff(c), 1, constant_values=1.0) for c in domain.centres]
    return [
        0.5 * loss / gap.reshape([-1 if a == axis else 1 for a in range(3)])
        for axis, (loss, gap) in enumerate(zip(domain.loss, gaps, strict=True))
    ]
