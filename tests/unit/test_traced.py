"""Exchange areas remembered by a process: the same as traced, once for each shape."""

import numpy as np
import pytest

from sim.solver import traced
from sim.solver.traced import traced_exchange

LINES = [np.array([0.0, 1.0]), np.array([0.0, 1.0]), np.array([0.0, 0.2])]


def scene(height=0.2, opaque=False):
    """A cell between two plates, the other four sides planes of symmetry."""
    lines = [*LINES[:2], np.array([0.0, height])]
    return (*lines, np.array([[[opaque]]]), np.array([[0, 0, 0]] * 2), np.array([4, 5]), np.array([0, 1]))


@pytest.fixture
def rays(monkeypatch):
    """How often rays were traced."""
    told, trace = [], traced.trace_exchange
    monkeypatch.setattr(traced, "_remembered", type(traced._remembered)())
    monkeypatch.setattr(traced, "trace_exchange", lambda *args, **keys: told.append(1) or trace(*args, **keys))
    return told


def test_the_same_shape_is_traced_once(rays):
    """Two plates of 1 m² that face each other between mirrors exchange all of their area."""
    for _ in range(3):
        exchange, lost = traced_exchange(scene(), 64, 0)
        assert exchange == pytest.approx(np.array([[0.0, 1.0], [1.0, 0.0]]))
        assert not lost.any()
    assert len(rays) == 1


@pytest.mark.parametrize("other", [(scene(0.3), 64, 0), (scene(), 128, 0), (scene(), 64, 1)])
def test_another_shape_more_rays_or_other_points_are_traced_anew(rays, other):
    traced_exchange(scene(), 64, 0)
    traced_exchange(*other)
    assert len(rays) == 2


def test_no_more_than_so_many_are_kept(rays, monkeypatch):
    monkeypatch.setattr(traced, "MOST", 4)
    for number in range(traced.MOST + 3):
        traced_exchange(scene(), 8, number)
    assert len(traced._remembered) == traced.MOST


def test_what_is_remembered_cannot_be_written_to(rays):
    exchange, _ = traced_exchange(scene(), 8, 0)
    with pytest.raises(ValueError, match="read-only"):
        exchange[0, 0] = 1.0
