"""Gray-diffuse radiation between the patches of a cavity wall.

The chain: traced exchange areas → `enforce` → `total_exchange` → heat flows

    q_i = Σ_j F̂_ij σ (T_i⁴ − T_j⁴)

with Hottel's total-exchange areas F̂ [m2], which hold every reflection (H. C. Hottel and A. F. Sarofim,
Radiative Transfer, 1967, ch. 3; method from memory, checked in the tests against solved enclosures).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cholesky, solve_triangular
from scipy.sparse.linalg import LinearOperator, cg

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/m2K4], CODATA 2018, exact in the SI of 2019

CLOSURE = 1e-13  # largest relative error of a row sum that `enforce` leaves
MOST_STEPS = 40  # Newton steps; a solvable matrix takes about five
SLACK = 1e-3  # self-exchange per area from which the surplus of a patch may grow, where it must


def enforce(
    exchange: ArrayLike, areas: ArrayLike, zero_diagonal: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Make traced exchange areas reciprocal and closed.

    The two estimates of each pair are averaged with the weights of their ray densities, 1/A, as all
    patches send the same number of rays. Then S ← D S D with the one positive diagonal D for which
    the row sums are the areas: the symmetric matrix nearest to the traced one in relative entropy.

    Where no such D exists, as for two plates of different area that see only each other, the surplus of
    the larger patch stays with it as self-exchange, which carries no heat. This happens in pockets
    beside a tube whose round area differs from that of its cells.

    Parameters
    ----------
    exchange : (P, P)
        Traced exchange areas, not negative [m2].
    areas : (P,)
        Areas that the rows must sum to [m2]; they may differ from the traced ones, as the round
        area of a tube differs from that of the cells that stand for it.
    zero_diagonal : (P,) bool, optional
        Patches that cannot see themselves; what was traced there is dropped.

    Returns
    -------
    (P, P)
        Exchange areas [m2]: exactly symmetric, not negative, rows summing to `areas` within 1e-13.
        Pairs traced as zero stay zero.

    Raises
    ------
    ValueError
        If shapes or signs are wrong, or a patch sees nothing.

    Examples
    --------
    >>> enforce([[0.0, 0.9], [1.1, 0.0]], [1.0, 1.0])
    array([[0., 1.],
           [1., 0.]])
    """
    target = np.asarray(areas, dtype=np.float64)
    traced = np.array(exchange, dtype=np.float64)
    _check_exchange(traced, target)
    if zero_diagonal is not None:
        np.fill_diagonal(traced, np.where(zero_diagonal, 0.0, traced.diagonal()))
    paired = _average_pairs(traced)
    closed = _balance(paired, target)
    if closed is None:
        closed = _balance(paired + np.diag(SLACK * paired.sum(axis=1)), target)
    if closed is None:
        raise ValueError("exchange areas cannot be scaled to the patch areas")
    return closed


def total_exchange(exchange: ArrayLike, areas: ArrayLike, emissivity: ArrayLike) -> NDArray[np.float64]:
    """Hottel's total-exchange areas of a gray-diffuse enclosure.

    With reflectivity ρ = 1 − ε and A = diag(areas), the irradiation H answers (A − S ρ) H = S ε E, so
    F̂ = ε A (A − S ρ)⁻¹ S ε = ε [S + S √ρ (A − √ρ S √ρ)⁻¹ √ρ S] ε; the last form is symmetric as written.

    Parameters
    ----------
    exchange : (P, P)
        Exchange areas S_ij = A_i F_ij as `enforce` returns them [m2].
    areas : (P,)
        Patch areas, the row sums of `exchange` [m2].
    emissivity : (P,)
        Emissivities, 0..1 [-]; the patches must not all be perfect mirrors.

    Returns
    -------
    (P, P)
        F̂ [m2]: symmetric, row sums ε_i A_i; equal to `exchange` where all is black. The net heat
        flow from patch i is q_i = Σ_j F̂_ij σ (T_i⁴ − T_j⁴) [W].

    Raises
    ------
    ValueError
        If shapes differ, an emissivity is outside 0..1, or some part of the enclosure absorbs nothing.
    """
    area, emitted = (np.asarray(values, dtype=np.float64) for values in (areas, emissivity))
    matrix = np.asarray(exchange, dtype=np.float64)
    _check_exchange(matrix, area)
    if (np.abs(matrix.sum(axis=1) - area) > 1e-6 * area).any():
        raise ValueError("the rows of the exchange areas must sum to the patch areas: use enforce first")
    if emitted.shape != area.shape or not ((emitted >= 0) & (emitted <= 1)).all():
        raise ValueError(f"emissivity must be {area.shape} values within 0..1")
    total = matrix + _reflected(matrix, area, np.sqrt(1.0 - emitted))
    total *= emitted[:, None] * emitted[None, :]
    # Round-off of the row sums goes to the diagonal, which carries no heat.
    missing = emitted * area - total.sum(axis=1)
    np.fill_diagonal(total, np.maximum(total.diagonal() + missing, 0.0))
    return total


def _check_exchange(matrix: NDArray[np.float64], areas: NDArray[np.float64]) -> None:
    """Raise unless the matrix is square, not negative and fits the positive areas."""
    if areas.ndim != 1 or matrix.shape != (areas.size, areas.size):
        raise ValueError(f"exchange areas of shape {matrix.shape} do not fit patch areas of {areas.shape}")
    if not (np.isfinite(matrix).all() and (matrix >= 0).all()):
        raise ValueError("exchange areas must be finite and not negative")
    if not (np.isfinite(areas).all() and (areas > 0).all()):
        raise ValueError("patch areas must be finite and greater than 0")


def _average_pairs(traced: NDArray[np.float64]) -> NDArray[np.float64]:
    """Symmetric mean of both estimates of each pair, weighted by rays per area."""
    area = traced.sum(axis=1)
    blind = np.flatnonzero(area + traced.sum(axis=0) == 0)
    if blind.size:
        raise ValueError(f"patch {blind[0]} sees no other patch ({blind.size} such patches)")
    density = 1.0 / np.where(area > 0, area, np.inf)
    both = np.add.outer(density, density)
    weighted = density[:, None] * traced
    return np.divide(weighted + weighted.T, both, out=np.zeros_like(traced), where=both > 0)


def _balance(symmetric: NDArray[np.float64], areas: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """D S D with row sums equal to the areas, by Newton's method on log D; None if there is none."""
    log_scale = 0.5 * np.log(areas / symmetric.sum(axis=1))
    for _ in range(MOST_STEPS):
        scale = np.exp(log_scale)
        scaled = symmetric * np.multiply.outer(scale, scale)
        reached = scaled.sum(axis=1)
        if (np.abs(areas - reached) <= CLOSURE * areas).all():
            return scaled
        # Long steps are cut: the quadratic model only holds for modest changes of scale.
        log_scale += np.clip(_newton_step(scaled, reached, areas - reached), -1.0, 1.0)
    return None


def _newton_step(
    scaled: NDArray[np.float64], reached: NDArray[np.float64], error: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Solve (diag(row sums) + S) step = error, scaled to a unit diagonal."""
    root = np.sqrt(reached)
    # Two groups that see only each other make the system singular; a little more diagonal bounds the step.
    system = LinearOperator(
        scaled.shape, matvec=lambda v: (1.0 + 1e-9) * v + scaled @ (v / root) / root, dtype=np.float64
    )
    return cg(system, error / root, rtol=1e-4, maxiter=500)[0] / root


def _reflected(
    exchange: NDArray[np.float64], areas: NDArray[np.float64], root: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Exchange by way of reflections, S √ρ (A − √ρ S √ρ)⁻¹ √ρ S."""
    once = root[:, None] * exchange
    try:
        factor = cholesky(np.diag(areas) - once * root[None, :], lower=True)
    except np.linalg.LinAlgError:
        raise ValueError(
            "total-exchange areas need an absorbing patch in every part of the enclosure"
        ) from None
    spread = solve_triangular(factor, once, lower=True)
    return spread.T @ spread
