"""Preconditioned conjugate gradients that return evidence and never print."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from sim.machine.compiling import njit
from sim.solver.threads import share_loop

Array = NDArray[np.float64]
_FAST = {"contract", "reassoc", "nsz", "arcp"}
_RESTARTS = 3


@dataclass(frozen=True, slots=True)
class LinearSolution:
    """What a linear solve returns.

    Attributes
    ----------
    x : (…) the solution, in the shape of the right-hand side.
    residual_history : (iterations + 1,) 2-norm of the residual divided by that of the right-hand side;
        the last entry of a converged solve is recomputed from ``x``, not carried along.
    iterations : number of operator products spent on search directions.
    stop_reason : ``"converged"``, ``"iteration limit"``, ``"breakdown"`` (the operator or the
        preconditioner is not positive along a direction, or rounding stops progress) or ``"not finite"``.
    """

    x: Array
    residual_history: Array
    iterations: int
    stop_reason: str

    @property
    def converged(self) -> bool:
        """Whether the tolerance was met."""
        return self.stop_reason == "converged"

    def __str__(self) -> str:
        return (
            f"LinearSolution: {self.stop_reason}\n"
            f"├─ iterations: {self.iterations}\n"
            f"└─ relative residual: {self.residual_history[0]:.2e} → {self.residual_history[-1]:.2e}"
        )


# Loops run over slices: an index that starts at an argument is checked for being negative every time,
# which keeps the compiler from using vector instructions.
@njit(cache=True, nogil=True, fastmath=_FAST)
def _dot(start, stop, a, b):
    """Σ a b over one piece."""
    a, b = a[start:stop], b[start:stop]
    total = 0.0
    for n in range(a.size):
        total += a[n] * b[n]
    return total


@njit(cache=True, nogil=True, fastmath=_FAST)
def _advance(start, stop, length, x, residual, direction, image):
    """x += α p and r -= α A p over one piece; returns Σ r²."""
    x, residual = x[start:stop], residual[start:stop]
    direction, image = direction[start:stop], image[start:stop]
    total = 0.0
    for n in range(x.size):
        x[n] += length * direction[n]
        value = residual[n] - length * image[n]
        residual[n] = value
        total += value * value
    return total


@njit(cache=True, nogil=True, fastmath=_FAST)
def _turn(start, stop, factor, direction, correction):
    """p = z + β p over one piece."""
    direction, correction = direction[start:stop], correction[start:stop]
    for n in range(direction.size):
        direction[n] = correction[n] + factor * direction[n]


def _inner(a: Array, b: Array) -> float:
    """Inner product of two flat arrays, in parallel when they are long."""
    return math.fsum(share_loop(_dot, a.size, a.size, a, b))


def _flat(array: Any) -> Array:
    """A contiguous flat float64 view (or copy, if the array is neither)."""
    return np.ascontiguousarray(array, dtype=np.float64).reshape(-1)


class _Iteration:
    """Working vectors of one solve; flat views, shaped only where the caller's functions are called."""

    def __init__(self, apply, rhs, start, precondition):
        self.shape = np.shape(rhs)
        self.apply = lambda v: _flat(apply(v.reshape(self.shape)))
        self.precondition = lambda v: _flat(precondition(v.reshape(self.shape)))
        self.rhs = _flat(rhs)
        self.x = np.zeros(self.rhs.size) if start is None else _flat(start).copy()
        self.scale = math.sqrt(_inner(self.rhs, self.rhs))

    def true_residual(self) -> float:
        """Recompute r = b - A x; returns its size relative to b."""
        self.residual = self.rhs - self.apply(self.x)
        return math.sqrt(_inner(self.residual, self.residual)) / self.scale

    def run(self, history: list[float], tolerance: float, limit: int) -> str:
        """Conjugate gradients from the present x; appends to the history and says why it stopped."""
        direction = np.zeros_like(self.x)
        last = math.inf
        while history[-1] > tolerance:
            if len(history) > limit:
                return "iteration limit"
            correction = self.precondition(self.residual)
            now = _inner(self.residual, correction)
            share_loop(_turn, direction.size, direction.size, now / last, direction, correction)
            del correction  # one vector less while the operator makes its own
            image = self.apply(direction)
            curvature = _inner(direction, image)
            if not math.isfinite(now) or not math.isfinite(curvature):
                return "not finite"
            if now <= 0.0 or curvature <= 0.0:
                return "breakdown"
            vectors = (self.x, self.residual, direction, image)
            squares = share_loop(_advance, self.x.size, self.x.size, now / curvature, *vectors)
            history.append(math.sqrt(math.fsum(squares)) / self.scale)
            last = now
            del image, vectors
        return "converged"


class Cycle(Protocol):
    """A symmetric positive preconditioner."""

    def cycle(self, residual: Array) -> Array:
        """About the change [K] that removes a residual [W]."""


def solve_linear(
    apply: Callable[[Array], Array],
    rhs: Array,
    start: Array | None = None,
    preconditioner: Cycle | None = None,
    tolerance: float = 1.0e-8,
    max_iterations: int = 200,
) -> LinearSolution:
    """Solve A x = b for a symmetric positive operator by preconditioned conjugate gradients.

    Parameters
    ----------
    apply : callable
        ``apply(x)`` returns A x in the shape of ``x``. A stencil's ``apply`` or any function that adds
        symmetric couplings to it.
    rhs : (…) right-hand side b, of any shape.
    start : (…) first guess; zero when left out. It is not changed.
    preconditioner : a value with ``cycle(r)``, a callable, or None for none. Must be symmetric positive.
    tolerance : size of the residual relative to the right-hand side, in the 2-norm [-].
    max_iterations : limit on the iterations.

    Returns
    -------
    LinearSolution
        Never raises or prints for want of convergence: read ``stop_reason``.

    Notes
    -----
    The residual that stops the iteration is carried along by recurrence; before "converged" is said it is
    recomputed from x, and the iteration is taken up again from there if rounding had fooled it.
    Hestenes and Stiefel 1952, J. Res. NBS 49, 409.
    """
    precondition = getattr(preconditioner, "cycle", preconditioner) or (lambda r: r)
    work = _Iteration(apply, rhs, start, precondition)
    if work.scale == 0.0:
        return LinearSolution(np.zeros(work.shape), np.zeros(1), 0, "converged")
    history = [work.true_residual()] if math.isfinite(work.scale) else [math.nan]
    reason = "converged" if math.isfinite(history[0]) else "not finite"
    for _ in range(_RESTARTS if reason == "converged" else 0):
        reason = work.run(history, tolerance, max_iterations)
        if reason != "converged" or len(history) == 1:
            break
        history[-1] = work.true_residual()
        reason = "converged" if history[-1] <= tolerance else "breakdown"
        if reason == "converged":
            break
    evidence = np.array(history)
    evidence.flags.writeable = False
    return LinearSolution(work.x.reshape(work.shape), evidence, len(history) - 1, reason)
