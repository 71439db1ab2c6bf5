"""The public names of the package: there, quick to import, and what the README shows."""

import subprocess
import sys

import pytest

import sim
from sim.cli.main import main as _main  # noqa: F401  (the door imports the package too)


def test_every_public_name_is_there():
    for name in sim.__all__:
        assert callable(getattr(sim, name)), name
    assert set(dir(sim)) == set(sim.__all__)
    assert sim.__version__


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'solv'"):
        sim.solv  # noqa: B018


def test_importing_the_package_imports_nothing_heavy():
    code = "import sim, sys; sys.exit(bool({'numpy', 'pydantic', 'numba', 'scipy'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
