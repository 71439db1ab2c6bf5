"""Numerical uncertainty from three grids: worked examples, sequences of known order, and small real solves."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.case.load import load_case, parse_case
from sim.results.people import format_uncertain, report_rows, unit_of
from sim.study import air_grids
from sim.study.fitted import fitted_band
from sim.study.grid_convergence import _log_part, estimate, observed_order, refinement_ratios, with_uncertainty
from tests.tiny_bays import HUNG

CASES = Path(__file__).parents[2] / "cases"

# I. Celik and others 2008, J. Fluids Eng. 130, 078001, table 1 (from memory; the columns agree with its formulas):
# values on 18 000, 8 000 and 4 500 cells (first) or 18 000, 4 500 and 980 cells of plane grids.
REATTACHMENT = ((6.063, 5.972, 5.863), (1.5, 4 / 3))
VELOCITY = ((10.7880, 10.7250, 10.6050), (2.0, 2.143))
OSCILLATING = ((6.0042, 5.9624, 6.0909), (2.0, 2.143))


def sequence(order, ratios, limit=5.0, size=0.3):
    """Values on three grids whose error is size · h^order, finest first, h = 1 on the finest."""
    h = np.array([1.0, ratios[0], ratios[0] * ratios[1]])
    return tuple(limit + size * h**order)


def test_first_worked_example():
    found = estimate(*REATTACHMENT)
    assert found.behaviour == "monotone"
    assert_allclose(found.order, 1.53, rtol=0.0, atol=0.006)
    assert_allclose(found.extrapolated, 6.1685, rtol=0.0, atol=5e-5)
    assert_allclose(found.index, 0.022, rtol=0.0, atol=0.0005)
    assert_allclose(found.band, 1.25 * (6.1685 - 6.063), rtol=1e-3, atol=0.0)


def test_second_worked_example():
    found = estimate(*VELOCITY)
    assert_allclose(found.order, 0.75, rtol=0.0, atol=0.006)
    assert_allclose(found.extrapolated, 10.8801, rtol=0.0, atol=5e-5)
    assert_allclose(found.index, 0.011, rtol=0.0, atol=0.0005)


def test_third_worked_example_oscillates_and_its_order_gives_no_value():
    # The paper's order 1.51 follows from the same equation; our band for such values is wider than its 0.5 %.
    assert_allclose(observed_order(*OSCILLATING), 1.51, rtol=0.0, atol=0.006)
    found = estimate(*OSCILLATING)
    assert found.behaviour == "oscillating"
    assert np.isnan(found.order) and np.isnan(found.extrapolated)
    assert_allclose(found.band, 3.0 * 0.0418 / (2.0**1.51 - 1.0), rtol=0.01, atol=0.0)
    assert 0.01 < found.index < 0.02


def test_a_coarsest_grid_far_off_on_the_other_side_widens_no_band_tenfold():
    # 1, 1 + 0.02 and 1 − 0.4 with r = 2: order 4.4, so 2; grids 1 and 2 leave 0.02 / 3, grids 1 and 3 0.4 / 15.
    assert_allclose(estimate((1.0, 1.02, 0.6), (2.0, 2.0)).band, 3.0 * 0.4 / 15.0, rtol=1e-12, atol=0.0)
    # the other way: 1, 1.2 and 0.99 come back: order 0.07, so 0.5 would leave more than half the spread does
    assert_allclose(estimate((1.0, 1.2, 0.99), (2.0, 2.0)).band, 3.0 * 0.21 / 2.0, rtol=1e-12, atol=0.0)


def test_ratios_of_the_first_example_come_from_its_cells():
    # Celik: h = (area / cells)^(1/2) on a plane grid, r21 = 1.5, r32 = 1.333.
    shapes = [(150, 1, 120), (100, 1, 80), (75, 1, 60)]
    assert [x * y * z for x, y, z in shapes] == [18000, 8000, 4500]
    assert_allclose(refinement_ratios(shapes), [1.5, 4 / 3], rtol=1e-12, atol=0.0)


def test_ratios_of_grids_refined_along_three_axes():
    assert_allclose(refinement_ratios([(40, 40, 80), (20, 20, 40), (10, 10, 20)]), [2.0, 2.0], rtol=1e-12, atol=0.0)
    with pytest.raises(ValueError, match="no sequence of refinements"):
        refinement_ratios([(10, 10, 10), (10, 10, 10), (5, 5, 5)])


@pytest.mark.parametrize("ratios", [(2.0, 2.0), (1.5, 4 / 3), (1.4, 1.7), (1.3, 2.5), (2.5, 1.3)])
@pytest.mark.parametrize("order", [-1.0, 0.3, 0.7, 1.0, 1.5, 2.0, 3.4])
def test_order_of_a_sequence_of_known_order(order, ratios):
    assert_allclose(observed_order(sequence(order, ratios), ratios), order, rtol=1e-7, atol=0.0)


@pytest.mark.parametrize("ratios", [(2.0, 2.0), (1.5, 4 / 3), (1.3, 2.5), (2.5, 1.3)])
def test_changes_as_the_logarithm_of_the_width_have_order_zero(ratios):
    """(r^p − 1) / p is ln r for p = 0."""
    first, second = np.log(ratios)
    assert_allclose(observed_order((0.0, first, first + second), ratios), 0.0, rtol=0.0, atol=1e-7)
    # and near p = 0 the logarithm of it is ln ln r + p ln r / 2, also where the difference of two exponentials is lost
    for order in (-1e-8, -1e-12, 0.0, 1e-12, 1e-8):
        assert_allclose(_log_part(order, second, 1), np.log(second) + 0.5 * order * second, rtol=0.0, atol=1e-12)


@pytest.mark.parametrize("ratios", [(2.0, 2.0), (1.5, 4 / 3), (1.3, 2.5)])
@pytest.mark.parametrize("order", [0.5001, 1.0, 1.7, 2.0])
@pytest.mark.parametrize("size", [0.3, -40.0])
def test_band_is_five_quarters_of_the_true_error(order, ratios, size):
    found = estimate(sequence(order, ratios, size=size), ratios)
    assert found.behaviour == "monotone"
    assert_allclose(found.extrapolated, 5.0, rtol=0.0, atol=1e-6)
    assert_allclose(found.band, 1.25 * abs(size), rtol=1e-6, atol=0.0)


def test_an_order_above_that_of_the_scheme_narrows_no_band():
    # Errors 0.3 h^4 with r = 2: order 2 from grids 1 and 2 gives 15 · 0.3 / 3, from grids 1 and 3 255 · 0.3 / 15; an
    # order that is not confirmed has factor 3.
    found = estimate(sequence(4.0, (2.0, 2.0)), (2.0, 2.0))
    assert_allclose(found.order, 4.0, rtol=1e-6, atol=0.0)
    assert_allclose(found.band, 3.0 * max(15 * 0.3 / 3, 255 * 0.3 / 15), rtol=1e-9, atol=0.0)
    # 2.1 is still taken for 2, whose estimate from these grids is the larger one.
    near = estimate(sequence(2.1, (2.0, 2.0)), (2.0, 2.0))
    assert_allclose(near.band, 1.25 * 0.3 * max((2**2.1 - 1) / 3, (4**2.1 - 1) / 15), rtol=1e-9, atol=0.0)


def test_two_equal_finer_values_do_not_pass_for_certainty():
    found = estimate((1.0, 1.0, 1.3), (2.0, 2.0))
    assert found.behaviour == "monotone" and found.order == np.inf
    assert_allclose(found.band, 3.0 * 0.3 / 15, rtol=1e-12, atol=0.0)


def test_slow_convergence_is_said_and_gets_the_cautious_factor():
    ratios = (2.0, 2.0)
    found = estimate(sequence(0.2, ratios), ratios)
    assert found.behaviour == "slow"
    step = 0.3 * (2**0.2 - 1)
    assert_allclose(found.band, 3.0 * step / (2**0.5 - 1), rtol=1e-9, atol=0.0)


@pytest.mark.parametrize("values", [(1.0, 0.5, 0.4), (1.0, 2.0, 2.5), (1.0, 0.2, 0.7), (1.0, 0.9, 0.9)])
def test_steps_that_do_not_shrink_are_no_convergence(values):
    found = estimate(values, (2.0, 2.0))
    assert found.behaviour == "not converging"
    assert_allclose(found.band, 3.0 * (max(values) - min(values)), rtol=1e-12, atol=0.0)
    assert np.isnan(found.order)


@pytest.mark.parametrize("values", [(4.0, 4.0, 4.0), (0.0, 1e-14, 0.0)])
def test_values_that_agree_have_no_band(values):
    assert estimate(values, (2.0, 2.0)).behaviour == "unchanged"
    assert estimate(values, (2.0, 2.0)).uncertainty == 0.0


def test_a_band_is_written_with_two_digits_and_converted_as_a_difference():
    # 0.9 °F is 0.5 K; 1 °C is 33.8 °F; 1 W/m² is 0.3170 Btu/(h ft²) (NIST SP 811, appendix B).
    assert format_uncertain("surface_mean_C", 1.0, 0.5, "both") == "1.00 ± 0.50 °C (33.80 ± 0.90 °F)"
    assert format_uncertain("heat_flux_up_W_m2", 1000.0, 99.6, "both") == "1000 ± 100 W/m² (317 ± 32 Btu/h·ft²)"
    assert format_uncertain("ripple_K", 0.8, 0.0) == "0.80 K"
    assert unit_of("surface_mean_C_uncertainty").offset == 0.0
    rows = report_rows({"ripple_K": 0.8, "ripple_K_uncertainty": 0.123, "cells": 8.0})
    assert [row.text for row in rows] == ["0.80 ± 0.12 K", "8"]


# ---- real solves


def corner_column(x, z, top=20.0, side=0.4):
    """Square column, top at 20 °C and the other faces at 0 °C: Fourier series (the one behind ISO 10211 case 1)."""
    n = np.arange(1, 400, 2)
    grown = np.exp(n * np.pi * (z / side - 1)) * (1 - np.exp(-2 * n * np.pi * z / side)) / (1 - np.exp(-2 * n * np.pi))
    return float(np.sum(4 * top / (n * np.pi) * np.sin(n * np.pi * x / side) * grown))


def test_quick_bands_hold_the_exact_temperatures_of_a_column():
    case = load_case(CASES / "verification" / "iso-10211-case-1" / "case.toml")
    study = with_uncertainty(case)
    assert study.cells[0] > 3 * study.cells[1] > 9 * study.cells[2]
    missed = []
    for probe in case.probes:
        found = study.estimates[f"probe_{probe.name}_C"]
        exact = corner_column(probe.point[0], probe.point[2])
        assert found.uncertainty < 0.1
        missed += [probe.name] if abs(found.value - exact) > found.uncertainty else []
    assert len(missed) <= 1  # about 95 % of 28
    assert study.estimates["surface_side_mean_C"].behaviour == "unchanged"
    # Where the faces at 20 and 0 °C meet the heat flow is infinite; the band must not pretend otherwise.
    flow = study.estimates["heat_flow_top_W"]
    assert flow.behaviour in ("slow", "not converging") and flow.uncertainty > 0.3 * abs(flow.value)




def test_quick_bay_gets_bands_on_its_headline_numbers():
    steps = []
    study = with_uncertainty(parse_case(HUNG), steps.append)
    assert [step.number for step in steps] == [1, 2, 3] and f"{study.cells[0]:,} cells" in steps[-1].text
    report = study.with_bands.report
    for key, found in study.estimates.items():
        assert report[key] == found.value == study.result.report[key]
        assert report[f"{key}_uncertainty"] == found.uncertainty > found.scatter > 0.0
    # View factors are good to a few per mille, radiation carries part of the heat: their scatter is small beside it.
    flux = study.estimates["heat_flux_up_W_m2"]
    assert flux.scatter < 0.003 * flux.value and flux.uncertainty < 0.1 * flux.value
    assert "heat_flux_up_W_m2" in str(study) and "±" in str(study)
    assert set(study.as_dict()) == {"cells", "ratios", "remarks", "numbers"}


@pytest.mark.parametrize(
    ("errors", "films", "ratio", "band"),
    [
        ((0.01, 0.01, 0.01), 3.0, 1.5, "index"),
        ((0.2, 0.4, 0.4), 3.0, 1.5, 3.0),
        ((0.01, 0.5, 0.01), 3.0, 1.5, 3.0),
        ((0.01, 0.01, 0.01), 1.0, 1.25, 2.0813),
        ((0.01, 0.01, 0.01), 3.0, 1.25, 3.0),
    ],
)
def test_steps_between_meshes_of_computed_air_count_as_such_only_beyond_chance(errors, films, ratio, band):
    """46, 45.5 and 44: steps of 0.5 and 1.5 beside twice the errors of two means, on cells far enough apart or not.

    A straight line through 46, 45.5 and 44 over 1, √2^1.3 = 1.5692 and 2^1.3 = 2.4623, by hand: slope
    −1.5163 / 1.0866 = −1.3954, the line 0.1116 above the first and 0.1827 below, 0.0711 above the others, a misfit of
    0.2255 with one value left: 1.25 · 1.3954 + 0.1116 + 0.2255.
    """
    key, values, ratios = "heat_flux_up_W_m2", (46.0, 45.5, 44.0), (ratio, ratio)
    reports = [{f"{key}_standard_error": error, f"{key}_mesh_error": films} for error in errors]
    found, plain = air_grids._estimate(key, values, ratios, reports), estimate(values, ratios)
    assert plain.behaviour == "monotone"
    assert found.behaviour == ("monotone" if band == "index" else "fitted")
    assert_allclose(found.band, plain.band if band == "index" else band, rtol=1e-3)
    assert_allclose(found.scatter, 2.0 * errors[0])


def test_a_mesh_whose_mean_is_badly_known_counts_less_in_a_fit_and_one_unknown_error_makes_all_alike():
    """Sizes whose powers of 1.3 are 1, 2 and 3; with errors 1, 1 and √7 weights go as 1/4, 1/4 and 1/10.

    That is 1.25, 1.25 and 0.5 of three; the mean of the squared errors joins each, so that none is all that counts.
    """
    sizes = [number ** (1 / 1.3) for number in (1.0, 2.0, 3.0)]
    values, weights = np.array([0.0, -1.5, -4.5]), np.array([1.25, 1.25, 0.5])
    slope, offset = np.polyfit([1.0, 2.0, 3.0], values, 1, w=np.sqrt(weights))
    off = values - slope * np.array([1.0, 2.0, 3.0]) - offset
    by_hand = 1.25 * abs(slope) + abs(off[0]) + np.sqrt(np.sum(weights * off**2))
    assert_allclose(fitted_band(values, sizes, (1.0, 1.0, 7.0**0.5)), by_hand, rtol=1e-12)
    alike = fitted_band(values, sizes, (0.3, 0.3, 0.3))
    assert alike == fitted_band(values, sizes, (0.0, 0.0, 0.0)) == fitted_band(values, sizes, (0.1, np.inf, 0.3))
    assert abs(alike / by_hand - 1.0) > 0.02
