"""Correlations beyond their measured range are counted: by hand for layers between parallel planes."""

import pytest

from sim.case.load import parse_case
from sim.physics.films import beyond_measured
from sim.run import solve

LAYER = """
kind = "blocks"
[[box]]
name = "near"
x = ["0 mm", "WIDE"]
y = ["0 mm", "WIDE"]
z = ["0 mm", "10 mm"]
conductivity = "200 W/(m*K)"
[[box]]
name = "air"
x = ["0 mm", "WIDE"]
y = ["0 mm", "WIDE"]
z = ["10 mm", "TOP"]
air = true
[[box]]
name = "far"
x = ["0 mm", "WIDE"]
y = ["0 mm", "WIDE"]
z = ["TOP", "END"]
conductivity = "200 W/(m*K)"
[[face]]
name = "in"
on = "z-"
temperature = "BELOW"
[[face]]
name = "out"
on = "z+"
temperature = "ABOVE"
[air]
model = "MODEL"
[mesh]
across = "100 mm"
along = "100 mm"
"""


def beyond(thickness, below, above, model="films", wide=400):
    """What the report says of a layer this thick [mm]."""
    changes = {"WIDE": f"{wide} mm", "TOP": f"{10 + thickness} mm", "END": f"{20 + thickness} mm"}
    changes |= {"BELOW": below, "ABOVE": above, "MODEL": model}
    text = LAYER
    for word, value in changes.items():
        text = text.replace(word, value)
    return solve(parse_case(text)).report.values.get("air_beyond_range_percent")


@pytest.mark.parametrize(
    ("thickness", "below", "above", "told"),
    [
        (250, "30 degC", "20 degC", None),  # closed and wide: the standard's, which speaks of 300 mm
        (350, "30 degC", "20 degC", 100.0),
        (250, "20 degC", "30 degC", None),
        (350, "20 degC", "30 degC", 100.0),
    ],
)
def test_closed_layers_by_the_standard_reach_300_mm(thickness, below, above, told):
    # 4 m wide: more than ten times as wide as thick, both ways, which makes it a closed layer.
    found = beyond(thickness, below, above, wide=4000)
    assert found == (None if told is None else pytest.approx(told, abs=0.1))


def test_air_that_overturns_is_measured_to_a_rayleigh_number_of_1e5():
    # Air at 25 °C: g/(T ν α) = 9.81 / (298 · 1.56e-5 · 2.2e-5) = 9.6e7 per K m³, twice 5 K reaches 1e5 at 47 mm.
    assert beyond_measured([5.0, 5.0], [0.045, 0.049], 1, 298.15).tolist() == [False, True]
    assert beyond_measured([-5.0, -5.0], [0.045, 0.049], 1, 298.15).tolist() == [False, False], "stable air"
    assert beyond_measured([5.0, 5.0], [0.29, 0.31], 0, 298.15).tolist() == [False, True], "upright, by the standard"


def test_air_that_only_conducts_is_beyond_nothing():
    assert beyond(350, "30 degC", "20 degC", "still") is None
