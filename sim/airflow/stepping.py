"""What follows a flow, wherever it does: `step.Stepper` on the processor, `device.stepper.DeviceStepper` on a device.

Rounds with solids ask less of it, so that the flow may also be followed elsewhere (`sim.resolved.remote`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.momentum import Fields
from sim.airflow.walls import WallFaces

Array = NDArray[np.float64]


class FollowedFlow(Protocol):
    """A flow that somebody follows: where it is, how far it has come, and what its walls are."""

    @property
    def domain(self) -> Domain:
        """Its grid."""

    @property
    def air(self) -> AirProperties:
        """Its properties."""

    @property
    def walls(self) -> WallFaces:
        """Faces of solids in it."""

    @property
    def wall_temperature(self) -> Array:
        """Of each of them (n,) [K]; NaN where adiabatic."""

    @property
    def state(self) -> Fields:
        """Velocities [m/s] and temperature [K] now."""

    @property
    def time(self) -> float:
        """The clock [s]."""

    @property
    def steps(self) -> int:
        """Steps taken since the start."""

    def set_wall_temperature(self, wall_temperature: Array, /) -> None:
        """Give every wall face (n,) a new temperature [K]."""

    def flow(self, stop_reason: str = "") -> Flow:
        """The present flow as a value."""


class FlowStepper(FollowedFlow, Protocol):
    """A flow that is followed here, step by step."""

    def take_steps(self, count: int, duration: float, watchful: bool = True) -> None:
        """Advance it by at most so many steps of equal duration [s]."""

    def largest_step(self) -> float:
        """The step [s] that flow, grid and stratification allow, with some safety."""

    def refresh_level(self) -> None:
        """Let the mean temperature at each height count as hydrostatic."""

    def heat_flow(self) -> Array:
        """Heat flow from every wall face into the air (n,) [W] at this moment."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a listener hears.

    Attributes
    ----------
    time, step : float [s]
        Simulated time and size of the present steps.
    steps : int
    speed : float [m/s]
        Largest velocity component.
    change : float [-]
        Fastest change of temperature, per time that heat takes to diffuse through the box and temperature span.
    energy : float [m²/s²]
        Mean kinetic energy per mass.
    growth : float [-]
        Rate at which velocities grow (of the mean kinetic energy: half), per the same time; below zero they decay.
    """

    time: float
    step: float
    steps: int
    speed: float
    change: float
    energy: float = 0.0
    growth: float = 0.0


FlowListener = Callable[[Look, FlowStepper], None]
"""Hears of every look; may change wall temperatures through the stepper."""

Followed = TypeVar("Followed", bound=FollowedFlow, covariant=True)

FlowMaker = Callable[[Domain, AirProperties, Array, Flow, str, float], Followed]
"""Begins to follow a flow; its arguments are those of `step.build_stepper`."""
