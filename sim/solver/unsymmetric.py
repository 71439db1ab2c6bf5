"""Linear systems that are not quite symmetric: stabilised bi-conjugate gradients (van der Vorst 1992)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sim.solver.linear import Cycle, LinearSolution

Array = NDArray[np.float64]


def solve_unsymmetric(
    apply: Callable[[Array], Array],
    rhs: Array,
    preconditioner: Cycle,
    tolerance: float,
    max_iterations: int,
) -> LinearSolution:
    """Solve A x = b, preconditioned, from x = 0.

    Parameters
    ----------
    apply : A x in the shape of x.
    rhs : b, any shape.
    preconditioner : a value with `cycle(r)`.
    tolerance : size of the residual relative to b, in the 2-norm [-].
    max_iterations : limit; each iteration applies A and the preconditioner twice.

    Returns
    -------
    LinearSolution; its history holds the first and the last relative residual, each computed from x.
    """
    shape, size = rhs.shape, rhs.size
    scale = float(np.linalg.norm(rhs))
    if scale == 0.0:
        return LinearSolution(np.zeros(shape), np.zeros(1), 0, "converged")
    count = _Counter()
    from scipy.sparse.linalg import LinearOperator, bicgstab

    operator = LinearOperator((size, size), lambda v: apply(v.reshape(shape)).reshape(-1), dtype=np.float64)
    inverse = LinearOperator(
        (size, size), lambda v: preconditioner.cycle(v.reshape(shape)).reshape(-1), dtype=np.float64
    )
    flat = rhs.reshape(-1)
    x, _ = bicgstab(operator, flat, rtol=tolerance, maxiter=max_iterations, M=inverse, callback=count)
    left = float(np.linalg.norm(flat - operator @ x)) / scale
    return LinearSolution(
        x.reshape(shape),
        np.array([1.0, left]),
        count.calls,
        _reason(left, tolerance, count.calls, max_iterations),
    )


def _reason(left: float, tolerance: float, calls: int, most: int) -> str:
    if not np.isfinite(left):
        return "not finite"
    if left <= 1.5 * tolerance:
        return "converged"
    return "iteration limit" if calls >= most else "breakdown"


class _Counter:
    """Counts the iterations that the solver reports."""

    def __init__(self) -> None:
        self.calls = 0

    def __call__(self, _: Array) -> None:
        self.calls += 1
