"""What hangs together in a grid, against an image library's labels; and that no check of a bay imports that library."""

import subprocess
import sys

import numpy as np
import pytest
from scipy import ndimage

from sim.bay.regions import beside, reached


@pytest.mark.parametrize("seed", range(12))
def test_regions_from_seeds_are_those_of_labels(seed):
    random = np.random.default_rng(seed)
    shape = tuple(random.integers(1, 14, 3))
    inside, seeds = random.random(shape) < 0.6, random.random(shape) < 0.02
    labels, _ = ndimage.label(inside)
    expected = np.isin(labels, np.setdiff1d(labels[seeds], [0]))
    np.testing.assert_array_equal(reached(inside, seeds), expected)


def test_a_winding_way_is_followed_to_its_end():
    inside = np.ones((9, 9, 1), dtype=bool)
    inside[1::4, 1:] = inside[3::4, :-1] = False
    seeds = np.zeros_like(inside)
    seeds[0, 8] = True
    np.testing.assert_array_equal(reached(inside, seeds), inside)


@pytest.mark.parametrize("seed", range(4))
def test_neighbours_are_those_that_share_a_face(seed):
    cells = np.random.default_rng(seed).random((5, 1, 7)) < 0.2
    np.testing.assert_array_equal(beside(cells), ndimage.binary_dilation(cells))


def test_a_check_imports_no_image_library():
    code = (
        "import sys; from sim.cli.main import main; code = main(['check', 'cases/demo/family-oak.toml']); "
        "sys.exit(code or 'scipy.ndimage' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
