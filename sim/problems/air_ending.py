"""When a flow of air alone has ended: it holds, or it is at rest and small disturbances die away.

A march stops where nothing changes quickly. Near the onset of convection nothing ever does: noise that fades looks much
like a flow that rests, while the one pattern that grows in it has hardly begun to. A weak flow is therefore watched on
until it neither grows nor decays, and where nothing drives it, rest itself is tried with a small disturbance.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from sim.airflow.box import march
from sim.airflow.flow import Flow
from sim.airflow.growth import diffusion_scales
from sim.airflow.stepping import FlowListener, FlowStepper, Look
from sim.problems.air_box import AirProblem
from sim.problems.air_rest import Unrest, follow_disturbance, is_at_rest, is_level, raised

if TYPE_CHECKING:
    from sim.case.blocks_air import BlocksAir

LOOK_EVERY = 10
"""Steps between two readings at most: enough for the peaks of an oscillation."""

WEAK = 3.0
"""Speed in α/L below which a flow carries so little heat that its temperatures do not tell whether it lasts."""

HELD = 0.3
"""Time [L²/α] over which a weak flow must neither grow nor decay to count as steady."""

BRIEFLY = 0.003
"""Time [L²/α] after which a strong flow that still decays is looked at again: waves in it die many times sooner than
heat diffuses."""


class _Held:
    """Hears of looks on the way to somebody else, and keeps how fast the flow grew or decayed at most."""

    def __init__(self, hear: FlowListener) -> None:
        self._hear = hear
        self.fastest = self.last = 0.0

    def __call__(self, look: Look, stepper: FlowStepper) -> None:
        self.last = max(abs(look.growth), look.change)
        self.fastest = max(self.fastest, self.last)
        self._hear(look, stepper)


def follow_to_the_end(
    problem: AirProblem, air: BlocksAir, start: Flow, hear: FlowListener
) -> tuple[Flow, Unrest | None]:
    """Until the flow is steady or its time is over; rest is steady only where a small disturbance dies away."""
    heard = _Held(hear)
    follow = partial(
        march, problem.box, until=air.longest, steady=air.steady, listener=heard, look_every=LOOK_EVERY
    )
    now, unrest = follow(start), None
    while now.stop_reason == "steady":
        rests = is_at_rest(problem, now)
        if not rests:
            now, holds = _watched(problem, air, now, heard)
            if holds or now.stop_reason == "time":
                return now, unrest
        if unrest is None and is_level(problem, now):
            after, unrest = follow_disturbance(problem, now, air.noise, hear)
            if not unrest.grows:
                return replace(after, stop_reason="steady"), unrest
            now, unrest = raised(problem, after, unrest)
        elif rests:
            return replace(now, stop_reason="time"), unrest
        now = follow(now)
    return now, unrest


def _watched(problem: AirProblem, air: BlocksAir, now: Flow, heard: _Held) -> tuple[Flow, bool]:
    """The flow some while later unless it is strong and holds, and whether it held: nothing grew, nothing decayed."""
    pace, velocity = diffusion_scales(problem.box.domain, problem.box.air.diffusivity)
    strong = max(float(np.abs(u).max()) for u in now.velocity) > WEAK * velocity
    if strong and heard.last <= air.steady:
        return now, True
    until = min(now.time + (BRIEFLY if strong else HELD) * pace, air.longest)
    heard.fastest = 0.0
    later = march(problem.box, now, until=until, listener=heard, look_every=LOOK_EVERY)
    if heard.fastest <= air.steady:
        return replace(later, stop_reason="steady"), True
    return replace(later, stop_reason="time" if until >= air.longest else "steady"), False
