"""The kinds of problem, and which of them a case states."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sim.problems.air_alone import AirAlone
from sim.problems.bay import BayAtRest
from sim.problems.bay_in_time import BayInTime
from sim.problems.blocks import Blocks
from sim.problems.blocks_in_time import BlocksInTime
from sim.problems.kind import Kind, KindInTime

if TYPE_CHECKING:
    from sim.case.load import AnyCase

BAY, BAY_IN_TIME, BLOCKS, BLOCKS_IN_TIME, AIR_ALONE = BayAtRest(), BayInTime(), Blocks(), BlocksInTime(), AirAlone()

AT_REST: tuple[Kind[Any, Any, Any], ...] = (BAY, BLOCKS, AIR_ALONE)
"""What `joistbay run` solves; every case is of exactly one of them."""

IN_TIME: tuple[KindInTime[Any, Any, Any], ...] = (BAY_IN_TIME, BLOCKS_IN_TIME)
"""What `joistbay warmup` follows."""


def kind_of(case: AnyCase) -> Kind[Any, Any, Any]:
    """How a case is solved where nobody asks for its time."""
    return next(kind for kind in AT_REST if kind.holds(case))


def kind_in_time(case: AnyCase) -> KindInTime[Any, Any, Any] | None:
    """How a case is followed in time; None where it states nothing that could be."""
    return next((kind for kind in IN_TIME if kind.holds(case)), None)


def kind_stated(case: AnyCase) -> Kind[Any, Any, Any]:
    """How a case is solved to the end of what it states: blocks with a section [time] in time, all others at rest."""
    return BLOCKS_IN_TIME if BLOCKS_IN_TIME.holds(case) else kind_of(case)
