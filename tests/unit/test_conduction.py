"""Face conductances: half cells in series, contact resistance, each axis alike."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.physics.conduction import face_conductance


def across(axis, values):
    """A row of values along an axis, as a (…, 1, …) array."""
    shape = [1, 1, 1]
    shape[axis] = -1
    return np.array(values, dtype=float).reshape(shape)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_two_layers_by_hand(axis):
    # 0.02 m of 0.1 W/mK and 0.06 m of 0.3 W/mK over 2 m²: half cells 0.1 and 0.1 m²K/W in series.
    found = face_conductance(across(axis, [0.1, 0.3]), np.array([0.02, 0.06]), np.array(2.0), axis)
    assert found.shape == (1, 1, 1)
    assert_allclose(found, 10.0, rtol=1e-14, atol=0)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_contact_resistance_adds_in_series(axis):
    resistance = across(axis, [0.05])
    found = face_conductance(across(axis, [0.1, 0.3]), np.array([0.02, 0.06]), np.array(2.0), axis, resistance)
    assert_allclose(found, 2.0 / 0.25, rtol=1e-14, atol=0)


def test_layers_in_a_row_are_exact(rng):
    # Between the first and the last centre the sum of resistances is that of the layers, whatever the cells.
    widths, k = rng.uniform(0.001, 0.1, 9), 10.0 ** rng.uniform(-2, 2, 9)
    found = face_conductance(across(0, k), widths, np.array(1.0), 0)
    layers = np.sum(widths / k) - 0.5 * (widths[0] / k[0] + widths[-1] / k[-1])
    assert_allclose(np.sum(1.0 / found), layers, rtol=1e-13, atol=0)


def test_no_conduction_into_or_out_of_nothing():
    found = face_conductance(across(1, [0.1, 0.0, 0.0, 0.2, 0.2]), np.ones(5), np.array(1.0), 1, np.zeros((1, 4, 1)))
    assert_allclose(found.ravel(), [0.0, 0.0, 0.0, 0.2], rtol=1e-14, atol=0)


def test_areas_of_a_graded_mesh(rng):
    # Faces normal to y carry the product of the x and z widths.
    x, z = rng.uniform(0.1, 1.0, 3), rng.uniform(0.1, 1.0, 4)
    areas = x[:, None, None] * z[None, None, :]
    found = face_conductance(np.full((3, 2, 4), 0.5), np.array([0.2, 0.2]), areas, 1)
    assert_allclose(found, areas * 0.5 / 0.2, rtol=1e-14, atol=0)


def test_order_of_the_cells_does_not_matter(rng):
    k, widths = rng.uniform(0.1, 10.0, (4, 5, 6)), rng.uniform(0.1, 1.0, 6)
    forward = face_conductance(k, widths, np.array(1.0), 2)
    back = face_conductance(k[..., ::-1], widths[::-1], np.array(1.0), 2)
    assert_allclose(back[..., ::-1], forward, rtol=1e-14, atol=0)
