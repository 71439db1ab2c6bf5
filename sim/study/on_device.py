"""Which cases are solved in a batch on an accelerator; apart from how, whose imports take a second."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.load import AnyCase


def goes_together(case: AnyCase) -> bool:
    """Whether the choices of a case are solved in a batch: its air is resolved, and on an accelerator."""
    if not case.air.is_resolved or case.air.device == "cpu":
        return False
    from sim.airflow.device.seam import choose_backend

    return choose_backend(case.air.device) is not None


def may_be_there() -> bool:
    """Whether libraries for an accelerator are installed; asked before it is woken, which takes seconds."""
    return find_spec("cupy") is not None
