"""Feet of wall faces: a weighted mean of cells, and its transpose; a check needs no sparse matrices for them."""

import subprocess
import sys

import numpy as np
from numpy.testing import assert_allclose

from sim.solver.feet import Feet

FEET = Feet(np.array([[1, 3], [0, 3], [1, 2]]), np.array([[0.25, 0.75], [0.5, 0.5], [0.9, 0.1]]), 5)
MATRIX = np.array([[0, 0.25, 0, 0.75, 0], [0.5, 0, 0, 0.5, 0], [0, 0.9, 0.1, 0, 0]])
"""The same written out."""


def test_they_do_what_the_matrix_does():
    cells, faces = np.array([3.0, 1.0, 4.0, 1.5, 9.0]), np.array([2.0, 7.0, 1.0])
    assert_allclose(FEET.of(cells), MATRIX @ cells, rtol=1e-15, atol=0)
    assert_allclose(FEET.into_cells(faces), MATRIX.T @ faces, rtol=1e-15, atol=0)
    assert_allclose(FEET.slopes(faces), np.diag(MATRIX.T @ np.diag(faces) @ MATRIX), rtol=1e-15, atol=0)


def test_a_check_loads_no_library_that_only_a_solve_needs():
    """Sparse matrices alone bring an eighth of a second."""
    code = (
        "import sys; from sim.cli.main import main; main(['check', 'cases/demo/family-oak.toml']); "
        "print(*sorted({'scipy.sparse', 'scipy.optimize', 'xarray', 'matplotlib', 'pandas'} & set(sys.modules)), "
        "file=sys.stderr, end='.')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.endswith(".") and done.stderr.splitlines()[-1] == "."
