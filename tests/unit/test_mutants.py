"""The tool that plants single errors: what it plants, that each stands alone, and that nothing computed is left out."""

import ast
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))

from plant import mutants_of

TEXT = '''
"""Über alles."""
from __future__ import annotations

def flux(a, b: int = 3, *, on=True):
    """Doc 1 + 1."""
    if a < b and not on:
        raise ValueError(f"too {a + b}")
    total = -a + 2.5 * max(a, b)  # a + b
    total += shares[0] / hold(a, b)
    return total
'''


@pytest.fixture
def planted(tmp_path):
    (tmp_path / "law.py").write_text(TEXT, "utf-8")
    return mutants_of(tmp_path, "law.py")


def test_every_kind_is_planted(planted):
    changes = {(m.kind, m.old, m.new) for m in planted}
    assert {
        ("comparison", "a < b", "(a <= b)"), ("comparison", "a < b", "(a > b)"), ("sign", "-a", "a"),
        ("and/or", "a < b and not on", "(a < b or not on)"), ("operator", "2.5 * max(a, b)", "(2.5 / max(a, b))"),
        ("dropped term", "-a + 2.5 * max(a, b)", "(-a)"), ("constant", "2.5", "2.75"), ("constant", "0", "1"),
        ("name", "max", "min"), ("swapped", "hold(a, b)", "(hold(b, a))"), ("constant", "True", "False"),
        ("operator", "total += shares[0] / hold(a, b)", "total -= shares[0] / hold(a, b)"),
    } <= changes  # fmt: skip


def test_messages_and_annotations_are_left_alone(planted):
    assert not [m for m in planted if "too" in m.old or "Doc" in m.old or m.line == 8]


def test_an_error_changes_one_place_and_is_still_python(planted):
    """Bytes, not letters, count the places: the text holds an umlaut."""
    assert len({m.key for m in planted}) == len(planted) > 15
    whole = ast.dump(ast.parse(TEXT))
    for mutant in planted:
        changed = mutant.plant(TEXT)
        assert ast.dump(ast.parse(changed)) != whole
        assert mutant.new in changed and mutant.function in ("flux:5", "")


def test_a_changed_source_is_refused(planted):
    with pytest.raises(AssertionError, match="the source has changed"):
        planted[0].plant(TEXT.replace("def flux", "def  flux"))
