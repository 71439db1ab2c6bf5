"""Widths and weights of the grid lines, as the compiled loops read them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sim.airflow.domain import Domain
from sim.airflow.row_lists import half_width_shares


class AxisTable(NamedTuple):
    """One axis of the grid.

    width (n,) [m]; inverse_width (n,) [1/m]; inverse_gap (n+1,) [1/m], one over the distance of the cell centres
    on either side of a face and 0 on the domain's sides; below, above (n+1,), the shares of the two half cells.
    """

    width: Any
    inverse_width: Any
    inverse_gap: Any
    below: Any
    above: Any


def axis_tables(domain: Domain) -> tuple[AxisTable, AxisTable, AxisTable]:
    """Tables of the three axes."""
    x, y, z = (_axis_table(w) for w in domain.widths)
    return x, y, z


def _axis_table(width: Any) -> AxisTable:
    """Table of one axis."""
    below, above = half_width_shares(width)
    inverse_gap = np.zeros(width.size + 1)
    inverse_gap[1:-1] = 2.0 / (width[1:] + width[:-1])
    return AxisTable(np.array(width), 1.0 / width, inverse_gap, below, above)
