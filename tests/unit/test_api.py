"""The public names of the package: there, quick to import, and what the README shows."""

import subprocess
import sys
import tomllib
from pathlib import Path

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


@pytest.mark.parametrize("package", ["joistbay", "sim", "viz"])
def test_types_are_handed_on(package):
    """PEP 561: a package that carries `py.typed`, and ships it, tells its types to whoever uses it."""
    root = Path(__file__).parents[2]
    shipped = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    assert (root / package / "py.typed").is_file()
    assert "py.typed" in shipped[package]
