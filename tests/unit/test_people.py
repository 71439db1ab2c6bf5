"""Units of the report for people: conversions against published factors, wording, odd values."""

import doctest
import math

import numpy as np
import pytest

from sim.results import people
from sim.results.lines import LINES

# NIST SP 811 (2008) appendix B.9, factors rounded there to seven figures (SI value of one IP unit).
NIST = [
    ("heat_flux_up_W_m2", 3.154591, 1.0),
    ("output_per_kelvin_W_m2K", 5.678263, 1.0),
    ("resistance_gap_m2K_W", 0.1761102, 1.0),
    ("heat_flow_up_W", 0.2930711, 1.0),
    ("peak_x_mm", 25.4, 1.0),
    ("water_velocity_m_s", 0.3048, 1.0),
    ("floor_area_m2", 0.09290304, 1.0),
    ("water_flow_l_min", 3.785412, 1.0),
]


@pytest.mark.parametrize(("key", "si", "ip"), NIST)
def test_conversion_factors_match_the_published_ones(key, si, ip):
    np.testing.assert_allclose(people.convert(key, si, "ip"), ip, rtol=5e-7, atol=0.0)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (29.0, 84.2)]
)
def test_temperatures_have_the_offset(celsius, fahrenheit):
    # Definition of the scales: water freezes at 32 °F and boils at 212 °F; they meet at -40.
    np.testing.assert_allclose(
        people.convert("surface_peak_C", celsius, "ip"), fahrenheit, rtol=0.0, atol=1e-10
    )


def test_temperature_differences_have_no_offset():
    np.testing.assert_allclose(people.convert("ripple_K", 10.0, "ip"), 18.0, rtol=1e-12, atol=0.0)
    assert people.format_value("ripple_K", 0.0, "ip") == "0.00 °F"


def test_density_of_tube_and_plates():
    # One metre a square metre is 3.28084 ft over 10.76391 ft2.
    np.testing.assert_allclose(
        people.convert("tube_m_per_m2", 1.0, "ip"), 3.28084 / 10.76391, rtol=1e-6, atol=0.0
    )
    np.testing.assert_allclose(people.convert("plates_per_m2", 10.76391, "ip"), 1.0, rtol=1e-6, atol=0.0)


def test_both_units_and_plain_numbers():
    assert people.format_value("surface_mean_C", 25.0, "both") == "25.0 °C (77.0 °F)"
    assert people.format_value("share_down_percent", 12.34, "both") == "12.3 %"
    assert people.format_value("audit_residual", 3.2e-9) == "3.2e-09"
    assert people.format_value("cells", 312000, "ip") == "312,000"


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_missing_values_say_so(value):
    assert people.format_value("plate_mean_C", value, "both") == "n/a"


def test_small_negative_prints_as_zero():
    assert people.format_value("heat_flow_edge_W", -1e-9) == "0.0 W"


def test_every_key_of_the_table_has_label_group_and_unit():
    for key, row in people.QUANTITIES.items():
        assert row.key == key
        assert row.label and row.group
    assert people.QUANTITIES["resistance_room_m2K_W"].unit.ip == "h·ft²·°F/Btu"
    assert people.QUANTITIES["plates_per_m2"].unit.si == "per m²"


def test_a_key_outside_the_table_is_read_from_its_suffix():
    row = people.quantity("needed_supply_C")
    assert (row.label, row.group, row.unit.ip) == ("needed supply", "Other", "°F")
    assert people.quantity("count").unit.si == ""


def test_rows_keep_the_order_of_the_table_and_skip_what_is_not_a_number():
    rows = people.report_rows({"odd_W": 1.0, "ripple_K": 2.0, "heat_flow_up_W": 3.0, "paths": ["a"]}, "si")
    assert [row.text for row in rows] == ["3.0 W", "2.00 K", "1.000 W"]
    assert people.report_rows({"plate_mean_C": None})[0].text == "n/a"


def test_limits_in_labels_follow_the_units():
    assert people.quantity("area_above_29C_percent").heading("ip") == "area above 84.2 °F"


def test_docstring_examples():
    assert doctest.testmod(people).failed == 0


def test_flows_of_a_case_of_blocks_show_four_digits_whatever_their_size():
    texts = [people.format_value("heat_flow_lid_W", value) for value in (0.05432, 5.4321, 5432.1)]
    assert texts == ["0.05432 W", "5.432 W", "5432 W"]
    assert people.format_value("heat_flow_up_W", 5.4321) == "5.4 W"
    assert people.format_value("air_heat_above_W", 0.05432) == "0.0543 W"


def test_a_band_far_below_the_digits_of_its_number_is_left_out():
    assert people.format_uncertain("wall_hot_mean_C", 0.1, 5.2e-8) == "0.10 °C"
    assert people.format_uncertain("heat_flow_lid_W", 5.4321, 1e-9) == "5.432 W"
    assert people.format_uncertain("heat_flow_lid_W", 5.4321, 6e-5) == "5.432100 ± 0.000060 W"


def test_numbers_are_written_out_and_not_as_powers_of_ten():
    assert people.format_value("rayleigh", 10213.4) == "10,210"
    assert people.format_value("rayleigh", 1872.6) == "1873"
    assert people.format_value("rayleigh", 3.2e8) == "3.2e+08"
    assert people.format_value("air_rayleigh", 207123.0) == "207,000"


def test_labels_are_words_and_no_formulas():
    """Somebody on a site reads them: no fraction in brackets, no code for a place, no word of the solver's inside."""
    labels = [label for group in LINES.values() for _, label in group]
    assert not [label for label in labels if "/ (" in label or "iteration" in label or "middle 0" in label]
