"""Correlations beyond their measured range are counted: by hand for layers between parallel planes."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.case.load import parse_case
from sim.physics.films import beyond_measured
from sim.results.film_range import beyond_range
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


def test_the_share_beyond_is_of_the_heat_and_by_air_halfway_between_wall_and_zone():
    """Walls of 60 °C under air of 20 °C: at 40 °C g/(T ν α) = 9.81 / (313 · 1.70e-5 · 2.40e-5) = 7.7e7 per K m³, so
    that twice 40 K reach 1e5 at 25.4 mm; at 60 °C, 5.8e7, it would be 27.9 mm."""
    walls = SimpleNamespace(
        held=None, learned=None, zone=np.zeros(3, int), closed=np.array(False), diameter=np.zeros(3),
        distance=np.array([0.024, 0.0265, 0.024]), orientation=np.ones(3),
    )  # fmt: skip
    heat = SimpleNamespace(temperature=np.full(3, 333.15), convective=np.array([6.0, 3.0, -1.0]))
    solution = SimpleNamespace(
        system=SimpleNamespace(cavity=SimpleNamespace(walls=walls)), flows=SimpleNamespace(walls=heat),
        state=SimpleNamespace(air=np.array([293.15])),
    )  # fmt: skip
    assert beyond_range(solution) == {"air_beyond_range_percent": pytest.approx(30.0)}


def test_air_that_only_conducts_is_beyond_nothing():
    assert beyond(350, "30 degC", "20 degC", "still") is None
