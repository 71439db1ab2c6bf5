"""Mixing of passes: where a sequence of one shape leads, by hand; what it must leave alone; what it saves."""

import numpy as np
from tiny_bays import QUICK

from sim.case.load import load_case
from sim.run import prepare
from sim.solver.mixing import Mixer
from sim.solver.state import State
from sim.solver.steady import solve_steady

END = np.array([300.0, 310.0, 320.0])


def state(error):
    """A state that is so far from its end [K]."""
    return State(END + np.asarray(error), END[:1] + error[0], np.array([400.0]) + error[1], np.empty(0))


def nearer(at):
    """A pass that leaves two fifths of what is wrong in the first unknown and a fifth in the others."""
    return state((at.temperature - END) * [0.4, 0.2, 0.2])


def test_two_passes_of_two_shapes_show_where_they_lead():
    mixer, at = Mixer(), state([1.0, -2.0, 0.5])
    for _ in range(3):
        at = mixer.mixed(at, nearer(at))
    # errors of two rates: a mix of three passes with shares a, b that cancel both leaves nothing
    np.testing.assert_allclose(at.temperature, END, atol=1e-9)
    np.testing.assert_allclose([*at.air, *at.irradiation], [300.0, 400.0], atol=1e-9)


def test_one_pass_and_passes_that_are_far_yet_are_left_alone():
    mixer, far = Mixer(), state([60.0, 50.0, 40.0])
    first = nearer(far)
    assert mixer.mixed(far, first) is first
    second = nearer(first)
    assert mixer.mixed(first, second) is second, "12 K in a pass"


def test_passes_that_go_nowhere_are_not_followed():
    mixer, at = Mixer(), state([1.0, 1.0, 1.0])
    after = state([0.0, 1.0, 1.0])
    mixer.mixed(at, after)
    # hardly another change than before: the mix would be a thousand times the last pass
    again = state([-0.999, 1.0, 1.0])
    assert mixer.mixed(after, again) is again


def test_a_bay_with_learned_films_settles_in_fewer_passes(monkeypatch):
    model = prepare(load_case("cases/demo/kitchen-vinyl.toml").with_(**QUICK))
    mixed = solve_steady(model.system)
    monkeypatch.setattr(Mixer, "mixed", lambda self, before, after: after)
    plain = solve_steady(model.system)
    assert mixed.converged and plain.converged
    assert len(mixed.history) < len(plain.history)
    np.testing.assert_allclose(mixed.temperature, plain.temperature, atol=2e-4, equal_nan=True)
