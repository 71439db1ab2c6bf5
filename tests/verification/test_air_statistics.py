"""Standard errors of unsteady air alone against what eight starts that differ in their noise scatter by."""

import numpy as np
import pytest
from scipy.stats import chi2

import sim
from sim.case.load import parse_case

CASE = """
kind = "blocks"
[[box]]
name = "air"
x = ["0 m", "{width} m"]
y = ["0 m", "1 m"]
z = ["0 m", "1 m"]
air = true
[[face]]
name = "floor"
on = "z-"
temperature = "1 K"
[[face]]
name = "ceiling"
on = "z+"
temperature = "0 K"
[air]
model = "resolved"
rayleigh = {rayleigh}
prandtl = 0.71
two_dimensional = true
cell = "{cell} m"
wall_cell = "{wall} m"
start = "noise"
noise = {noise}
steady = 0
companion = false
longest = "{longest} s"
average_from = "{since} s"
"""

STARTS = 8

FLOWS = {
    "square": {"width": 1, "rayleigh": 3e7, "cell": 0.05, "wall": 0.02, "longest": 0.06, "since": 0.02},
    "two heights wide": {"width": 2, "rayleigh": 1e7, "cell": 0.06, "wall": 0.025, "longest": 0.1, "since": 0.04},
}


@pytest.mark.slow
@pytest.mark.parametrize("flow", FLOWS)
def test_means_of_eight_starts_scatter_as_told(flow):
    """Were the told errors right, the scatter of eight would be more than 1.42 times theirs once in twenty times."""
    texts = [CASE.format(noise=number, **FLOWS[flow]) for number in range(1, STARTS + 1)]
    reports = [sim.solve_air(parse_case(text)).report for text in texts]
    most = (chi2.ppf(0.95, STARTS - 1) / (STARTS - 1)) ** 0.5
    for key in ("nusselt_floor", "nusselt_ceiling"):
        means, told = np.array([(report[key], report[f"{key}_standard_error"]) for report in reports]).T
        scatter, error = float(np.std(means, ddof=1)), float(np.mean(told**2) ** 0.5)
        assert error / 2.0 < scatter < most * error
        assert np.sum(np.abs(means - means.mean()) <= 2.0 * told) >= STARTS - 1
