"""Starts between and beyond solved states."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.case.constants import STEFAN_BOLTZMANN
from sim.solver.state import State, blended


def _state(warm: float) -> State:
    """Everything as warm as that [K]."""
    same = np.full(3, warm)
    return State(same, same.copy(), STEFAN_BOLTZMANN * same**4, same.copy(), 10.0 * warm)


@pytest.mark.parametrize("shares", [(0.5, 0.5), (-1.0, 2.0), (0.25, 0.75)])
def test_states_of_one_temperature_make_a_state_of_one_temperature(shares: tuple[float, float]) -> None:
    """Isothermal enclosures radiate as black bodies, σT⁴, so a blend of two must too."""
    mixed, warm = blended([_state(290.0), _state(320.0)], shares), shares[0] * 290.0 + shares[1] * 320.0
    for values in (mixed.temperature, mixed.air, mixed.wall):
        np.testing.assert_allclose(values, warm)
    np.testing.assert_allclose(mixed.irradiation, STEFAN_BOLTZMANN * warm**4)


def test_a_blend_gives_off_what_its_states_give_off_between_them():
    """2900 W and 3200 W: half-way 3050 W; a blend far below gives nothing; one that does not know leaves it open."""
    states = [_state(290.0), _state(320.0)]
    assert blended(states, (0.5, 0.5)).delivered == 3050.0
    assert blended(states, (12.0, -11.0)).delivered == 0.0
    assert blended([states[0], replace(states[1], delivered=None)], (0.5, 0.5)).delivered is None


def test_a_state_far_beyond_does_not_radiate_backwards() -> None:
    assert (blended([_state(290.0), _state(320.0)], (12.0, -11.0)).irradiation == 0.0).all()
