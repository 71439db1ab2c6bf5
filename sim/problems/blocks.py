"""A build-up of blocks in its steady state, with what swings at its mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeGuard

from sim.case.blocks_case import BlocksCase
from sim.problems.steady import Steady

if TYPE_CHECKING:
    from sim.case.load import AnyCase


class Blocks(Steady[BlocksCase]):
    """What `joistbay run` solves of blocks whose solids conduct."""

    name = "blocks, steady state"

    def holds(self, case: AnyCase) -> TypeGuard[BlocksCase]:
        """Blocks, unless only the flow of their air is computed."""
        return isinstance(case, BlocksCase) and not case.air_alone
