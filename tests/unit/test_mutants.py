"""The tool that plants single errors: what it plants, that each stands alone, and that nothing computed is left out."""

import ast
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))

from mutants import same_code
from plant import mutants_of
from reach import Reach

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


def test_what_follows_an_error_stays_on_its_line(tmp_path):
    """Stored kernels go by their first line."""
    text = "def f(a, b):\n    return [\n        a +\n        b, a]\n\nlast = 1\n"
    (tmp_path / "law.py").write_text(text, "utf-8")
    for mutant in mutants_of(tmp_path, "law.py"):
        planted = mutant.plant(text)
        assert planted.splitlines().index("last = 1" if mutant.line < 6 else "last = 2") == 5


KERNELS = '''
from sim.machine.compiling import njit

WIDTH = 2.0
HALF = 0.5 * WIDTH

@njit(cache=True)
def inner(a):
    return a + HALF

@njit(cache=True)
def outer(a):
    return inner(a) - 1.0

@njit(cache=True)
def alone(a):
    return a + 1.0

def asked(a):
    return -outer(a)

def plain(a):
    return 1 + a
'''


@pytest.fixture
def reach(tmp_path):
    (tmp_path / "law.py").write_text(KERNELS, "utf-8")
    return Reach(tmp_path, ["law.py"], {}), {m.function or m.line: m for m in mutants_of(tmp_path, "law.py")}


def test_an_error_is_compiled_into_all_kernels_that_call_it(reach):
    """Constants are copied into kernels, one by way of another; who calls a kernel is where tests meet it."""
    reach, planted = reach
    inner, outer, alone, asked = "law.py:7", "law.py:11", "law.py:15", "law.py:19"
    for error in (4, 5, "inner:7"):
        assert reach.kernels(planted[error]) == {inner, outer}
    assert reach.met_at(planted[4]) == reach.met_at(planted[5]) == {inner, outer, asked}
    assert reach.met_at(planted["inner:7"]) == {inner}
    assert reach.kernels(planted["alone:15"]) == reach.met_at(planted["alone:15"]) == {alone}
    assert not reach.kernels(planted["plain:22"]) and reach.met_at(planted["plain:22"]) == {"law.py:22"}
    assert reach.met_at(planted["asked:19"]) == {asked}


def test_what_compiles_to_the_same_is_told_from_what_does_not():
    def same(one, other):
        return same_code(compile(one, "", "exec"), compile(other, "", "exec"))

    assert same("def f(a):\n    return a * 6", "def f(a):\n\n    return a * (2 * 3)")
    for other in ("def f(a):\n    return a * 7", "def f(a):\n    return a + 6", "def f(b):\n    return b * 6"):
        assert not same("def f(a):\n    return a * 6", other)
