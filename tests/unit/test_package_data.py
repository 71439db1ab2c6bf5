"""What an installed package holds: every file that the code reads lies in it, not in the checkout alone."""

import subprocess
import tomllib
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).parents[2]


def is_installed(path, stated):
    """Whether a pattern of the package that a file lies in, or of one above it, names the file."""
    for depth in range(1, len(path.parts)):
        inside = Path(*path.parts[depth:])
        for pattern in stated.get(".".join(path.parts[:depth]), []):
            if len(Path(pattern).parts) == len(inside.parts) and fnmatch(inside.as_posix(), pattern):
                return True
    return False


def test_every_data_file_of_the_packages_is_installed():
    stated = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    listed = subprocess.run(["git", "ls-files", "sim", "viz"], cwd=ROOT, capture_output=True, text=True, check=True)
    data = [Path(name) for name in listed.stdout.split() if not name.endswith(".py")]
    assert len(data) > 5
    left = [path for path in data if not is_installed(path, stated)]
    assert not left, f"not in package-data of pyproject.toml: {left}"
