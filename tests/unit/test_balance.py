"""The energy audit as sums of signed paths."""

import pytest
from numpy.testing import assert_allclose

from sim.solver.balance import TOLERANCE, Balance, BalanceError, audit


def test_sums_by_hand():
    # 12 W from water, 1 W drawn in from below; 9 W up and 4 W through the edge leave.
    balance = Balance({"run 1": 7.0, "run 2": 5.0}, {"up": 9.0, "down": -1.0, "edge": 4.0})
    assert_allclose(balance.heat_in, 13.0, rtol=1e-15, atol=0)
    assert_allclose(balance.difference, 0.0, rtol=0, atol=1e-15)
    assert audit(balance) is balance


def test_a_chilled_run_counts_as_going_out():
    balance = Balance({"warm": 7.0, "cold": -2.0}, {"up": 5.0})
    assert_allclose(balance.heat_in, 7.0, rtol=1e-15, atol=0)
    assert balance.residual == 0.0


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_limit_from_both_sides(sign):
    audit(Balance({"tube": 10.0}, {"up": 10.0 + sign * 0.99 * TOLERANCE * 10.0}))
    with pytest.raises(BalanceError):
        audit(Balance({"tube": 10.0}, {"up": 10.0 + sign * 1.01 * TOLERANCE * 10.0}))


def test_paths_do_not_hide_one_another():
    # Two errors of opposite sign in one sum would close; what is compared is the total, and every path is printed.
    text = str(Balance({"tube run 1": 10.0}, {"up": 9.0, "down": 0.5}))
    assert [line.split()[1:3] for line in text.splitlines()[1:4]] == [["in", "tube"], ["out", "up"], ["out", "down"]]
    assert "5.000e-01 W, 5.00e-02 of the heat supplied" in text


def test_nothing_flows():
    assert audit(Balance({}, {"up": 0.0})).residual == 0.0


def test_no_number_does_not_pass():
    with pytest.raises(BalanceError):
        audit(Balance({"tube": float("nan")}, {"up": 1.0}))
