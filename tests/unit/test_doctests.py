"""The examples in docstrings say what is true: those of every module that has some."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = [path for folder in ("joistbay", "sim", "viz") for path in sorted((ROOT / folder).rglob("*.py"))]
EXAMPLES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts): path.read_text("utf-8").count(">>> ") for path in FILES
}
"""How many each module has."""
MODULES = [name for name, count in EXAMPLES.items() if count]


def test_there_are_examples():
    assert len(MODULES) > 20


@pytest.mark.parametrize("name", MODULES)
def test_examples(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(import_module(name))
    assert found.attempted == EXAMPLES[name], "examples that nothing collects"
    assert found.failed == 0
