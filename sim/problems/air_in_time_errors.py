"""What the mesh costs in numbers of computed air in time: held against the same march on cells twice as large.

Both begin alike. What the finer cells change in a number bounds what they still leave open, as long as the error halves
with the cells at least: walls that jump begin with layers thinner than any cell. One march is one course of the flow;
what chance does to plumes and what the steps in time leave open are not in these bands.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sim.results.people import BAND, MESH, quantity
from sim.results.report import Report

LEFT_OPEN = 1.0
"""What cells leave open over what halving them changed: 1 / (2^p − 1) for an order p of 1 or more."""

Reports = Mapping[float, Report]

HELD = (
    "± is what cells twice as large change; what chance does to plumes, another pattern of flow that could last as "
    "well, and what steps in time cost is left out."
)
"""What such a band holds."""

NONE_TOLD = (
    "No error is told of these numbers: no march on larger cells was made ({why}). Compare air.cell with half of it."
)
"""Of numbers without a band."""


def banded(reports: Reports, larger: Reports) -> Reports:
    """Reports by time [s], every number of which that is one of physics has its band."""
    return {time: _banded(report, larger[time]) for time, report in reports.items()}


def _banded(report: Report, larger: Report) -> Report:
    values, there = dict(report.values), larger.values
    for key in [key for key in values if quantity(key).group != "Run" and key in there]:
        apart = LEFT_OPEN * abs(values[key] - there[key])
        values |= {key + MESH: apart, key + BAND: apart}
    return Report(report.name, MappingProxyType(values))
