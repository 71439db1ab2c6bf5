"""Whether a bay or blocks can be built and meshed: asked before anything is loaded that solves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.bay.grid import build_grid
from sim.build_up import build_geometry, mesh_fineness
from sim.problems.kind import TooLargeError

if TYPE_CHECKING:
    from sim.case.load import AnyCase

MOST_CELLS = 16_000_000
"""Cells above which a mesh is taken for a mistake: twice the size for which the solver is built."""


def check_buildable(case: AnyCase, finer: int = 1) -> None:
    """Its geometry can be built, its mesh, `finer` times as fine, is no mistake, and films taught elsewhere are there.

    Raises
    ------
    ValueError : it cannot be built.
    TooLargeError : its mesh would be absurdly large.
    """
    size = build_grid(build_geometry(case), mesh_fineness(case).refined(finer)).size
    if size > MOST_CELLS:
        raise TooLargeError(
            f"{case.name}: the mesh would have {size / 1e6:,.0f} million cells, more than {MOST_CELLS / 1e6:.0f}; "
            "choose larger cells in [mesh]"
        )
    if case.air.calibration is not None:
        from sim.resolved.calibration_file import read_calibration

        read_calibration(case.path, case.air.calibration)
