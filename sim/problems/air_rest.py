"""Whether air at rest stays at rest: a small random disturbance is followed until it grows or dies away.

A flow that has come to rest may yet convect: what moves first may die while another pattern has hardly begun to grow.
Rest counts as steady only where a disturbance with a share of every pattern dies away. The rate of the slowest pattern
shows once the others are gone, so the disturbance is followed until its rate no longer changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import march
from sim.airflow.flow import Flow, resting_flow
from sim.airflow.growth import diffusion_scales, disturbance
from sim.airflow.stepping import FlowListener, FlowStepper, Look
from sim.problems.air_box import AirProblem

Array = NDArray[np.float64]
AT_REST = 0.1
"""Speed in α/L up to which air counts as at rest: it carries some thousandths of the heat that conduction does."""

LAYERED = 0.03
"""Difference of temperature on a level, over ΔT, up to which nothing but the disturbance itself moves the air."""

HEIGHT = 1e-3
"""Warmth of the disturbance over ΔT: too small to change what it grows in."""

RAISED = 0.03
"""Warmth over ΔT to which a disturbance that grows is raised: near onset the wait for it would be long."""

GROWN = 0.1
"""Warmth over ΔT that only a disturbance which has grown can have: a flow of its own, whose last rates say nothing."""

YOUNG, OLD = 1e-4, 1e-2
"""Kinetic energies, over that of the grown flow, between which a disturbance grew undisturbed by itself."""

LEAST, MOST, WINDOW = 0.3, 2.0, 0.1
"""How long a disturbance is followed at least and at most, and the time over which its rate is taken [L²/α]."""

SETTLED = 0.02
"""Change of the rate from window to window, of itself or of 1 per L²/α, at which it counts as settled."""


@dataclass(frozen=True, slots=True)
class Unrest:
    """What became of a small random disturbance of air at rest.

    Attributes
    ----------
    rate : float
        At which its velocities grow, per L²/α; below zero they decay.
    height : float
        Of the disturbance over ΔT when it was set.
    number : int
        Of the random noise.
    time : float [s]
        When it was set.
    raised_by : float
        How many times it was made higher once its rate was known, so that its end is seen sooner; 1 where it was not.
    raised_at : float [s]
        When that was.
    """

    rate: float
    height: float
    number: int
    time: float
    raised_by: float = 1.0
    raised_at: float = 0.0

    @property
    def grows(self) -> bool:
        """Whether rest is not what remains."""
        return self.rate > 0.0


def is_at_rest(problem: AirProblem, flow: Flow) -> bool:
    """Whether a flow hardly moves and nothing drives it: every level is of one temperature."""
    _, velocity = diffusion_scales(problem.box.domain, problem.box.air.diffusivity)
    return max(float(np.abs(u).max()) for u in flow.velocity) <= AT_REST * velocity and is_level(problem, flow)


def is_level(problem: AirProblem, flow: Flow) -> bool:
    """Whether every level of the air is of one temperature, but for what a weak motion leaves."""
    return _unevenness(problem, flow) <= LAYERED


def _unevenness(problem: AirProblem, flow: Flow) -> float:
    """Largest difference from the mean temperature of a level, over ΔT."""
    uneven = np.abs(flow.temperature - _levels(problem, flow))[problem.box.domain.air]
    return float(uneven.max()) / problem.difference


def _levels(problem: AirProblem, flow: Flow) -> Array:
    """Mean temperature (nz,) [K] of the air at every height."""
    air = problem.box.domain.air
    weights = problem.box.domain.volumes * air
    total = weights.sum(axis=(0, 1))
    mean = (weights * flow.temperature).sum(axis=(0, 1)) / np.maximum(total, 1e-300)
    return np.asarray(np.where(total > 0.0, mean, flow.temperature.mean()))


def disturbed(problem: AirProblem, flow: Flow, height: float, number: int) -> Flow:
    """Air at rest with the mean temperatures of a flow's levels, at the flow's time, disturbed at random.

    `height` is that of the disturbance as a share of the walls' difference [-], `number` its seed.
    """
    noise = height * problem.difference * disturbance(problem.box.domain, number)
    start = resting_flow(problem.box.domain, _levels(problem, flow) + noise)
    return replace(start, time=flow.time, steps=flow.steps)


def raised(problem: AirProblem, flow: Flow, unrest: Unrest) -> tuple[Flow, Unrest]:
    """Air at rest with a disturbance that grows, its pattern kept and its height brought to RAISED."""
    times, levels = max(1.0, RAISED / _unevenness(problem, flow)), _levels(problem, flow)
    x, y, z = (times * u for u in flow.velocity)
    higher = replace(flow, velocity=(x, y, z), temperature=levels + times * (flow.temperature - levels))
    return higher, replace(unrest, raised_by=times, raised_at=flow.time)


class _Rate:
    """Rates of growth over WINDOW as a disturbance is followed; a listener that can ask for the end."""

    def __init__(self, pace: float, began: float) -> None:
        self._pace, self._began = pace, began
        self._readings: list[tuple[float, float]] = []
        self.rates: list[float] = []

    def __call__(self, look: Look, stepper: FlowStepper) -> None:
        self._readings.append(((look.time - self._began) / self._pace, look.energy))
        time, energy = self._readings[-1]
        if time >= WINDOW * (len(self.rates) + 2):
            earlier = max((r for r in self._readings if r[0] <= time - WINDOW), default=self._readings[0])
            self.rates.append(0.5 * float(np.log(max(energy, 1e-300) / max(earlier[1], 1e-300))) / (time - earlier[0]))

    @property
    def settled(self) -> bool:
        """Whether the last two rates agree."""
        if len(self.rates) < 2:
            return False
        before, last = self.rates[-2:]
        return abs(last - before) <= SETTLED * max(1.0, abs(last))

    @property
    def limit(self) -> float:
        """What the rates tend to as the quicker patterns die (Aitken's extrapolation); the last, where they do not."""
        if len(self.rates) < 3:
            return self.rates[-1]
        first, second, last = self.rates[-3:]
        earlier, later = second - first, last - second
        closing = abs(later) < abs(earlier) and earlier * later > 0.0
        return last - later**2 / (later - earlier) if closing else last


    @property
    def of_growth(self) -> float:
        """Rate at which a disturbance that has grown did so, while it was small; at least the mean until it had."""
        times, energies = np.array(self._readings).T
        young, old = (int(np.argmax(energies >= share * energies.max())) for share in (YOUNG, OLD))
        grown = 0.5 * float(np.log(energies[old] / energies[young]))
        return grown / (times[old] - times[young]) if old > young else float(np.log(GROWN / HEIGHT) / times[-1])


def follow_disturbance(problem: AirProblem, flow: Flow, number: int, listener: FlowListener) -> tuple[Flow, Unrest]:
    """Disturb air at rest and follow it until the rate of growth or decay has settled, or it has become a flow."""
    pace, _ = diffusion_scales(problem.box.domain, problem.box.air.diffusivity)
    now, rate = disturbed(problem, flow, HEIGHT, number), _Rate(pace, flow.time)

    def hear(look: Look, stepper: FlowStepper) -> None:
        rate(look, stepper)
        listener(look, stepper)

    span = LEAST
    while span <= MOST + 1e-9 and not rate.settled:
        now = march(problem.box, now, until=flow.time + span * pace, listener=hear, look_every=10)
        span += WINDOW
        if _unevenness(problem, now) > GROWN:
            return now, Unrest(rate.of_growth, HEIGHT, number, flow.time)
    return now, Unrest(rate.limit, HEIGHT, number, flow.time)


def unrest_values(unrest: Unrest | None, dimensionless: bool) -> dict[str, float]:
    """Its numbers for a report."""
    if unrest is None:
        return {}
    unit = "" if dimensionless else "_s"
    raised = {"disturbance_raised": unrest.raised_by, f"disturbance_raised_at{unit}": unrest.raised_at}
    return {
        f"disturbance_set_at{unit}": unrest.time,
        "disturbance_growth": unrest.rate,
        "disturbance_height": unrest.height,
        "disturbance_number": float(unrest.number),
    } | (raised if unrest.raised_by > 1.0 else {})
