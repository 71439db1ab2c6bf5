"""Which circuits are cut from which coil: every circuit unbroken, as little tube bought as can be.

For up to a dozen circuits the least is found exactly, by the best coil for every set of circuits and the best way to
divide what is left; more are shared out in dozens of like length, which is near the least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WASTE = 0.05
"""Tube cut off at manifolds and at the ends of coils, as a share: common practice, no source."""

EXACT = 11
"""So many circuits at most are shared out exactly at once."""

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil to buy [m], and the pieces cut from it: (circuit, metres)."""

    length: float
    pieces: tuple[tuple[str, float], ...]

    @property
    def left(self) -> float:
        """What is left of it [m]."""
        return self.length - sum(metres for _, metres in self.pieces)


def cut_list(pieces: Sequence[tuple[str, float]], coils: Sequence[float]) -> tuple[Coil, ...]:
    """Coils to buy for pieces of tube, the least length in all; of equals the fewest coils.

    Parameters
    ----------
    pieces : name and length [m] of each, unbroken.
    coils : lengths that can be bought [m], as many of each as wanted.

    Raises
    ------
    ValueError : a piece longer than every coil.

    Examples
    --------
    >>> [coil.length for coil in cut_list([("a", 60.0), ("b", 30.0), ("c", 88.0)], [90.0, 150.0])]
    [90.0, 90.0]
    """
    longest = max(coils)
    for name, metres in pieces:
        if metres > longest + _ROUNDING:
            raise ValueError(f"{name}: {metres:.1f} m are longer than every coil, {longest:.1f} m")
    ordered = sorted(pieces, key=lambda piece: -piece[1])
    found: list[Coil] = []
    for start in range(0, len(ordered), EXACT):
        found += _exact(ordered[start : start + EXACT], sorted(coils))
    return tuple(sorted(found, key=lambda coil: coil.pieces[0][0]))


def _exact(pieces: Sequence[tuple[str, float]], coils: Sequence[float]) -> list[Coil]:
    """The least for a few pieces: best[s] = min over parts p of s with its first piece of coil(p) + best[s − p]."""
    count = len(pieces)
    fits: list[float | None] = [_coil_for(_members(pieces, part), coils) for part in range(1 << count)]
    best: list[tuple[float, int]] = [(0.0, 0)] + [(float("inf"), 0)] * ((1 << count) - 1)
    chosen = [0] * (1 << count)
    for whole in range(1, 1 << count):
        first, part = whole & -whole, whole
        while part:
            coil = fits[part]
            if part & first and coil is not None:
                rest = best[whole ^ part]
                cost = (round(rest[0] + coil, 6), rest[1] + 1)
                if cost < best[whole]:
                    best[whole], chosen[whole] = cost, part
            part = (part - 1) & whole
    found, left = [], (1 << count) - 1
    while left:
        part = chosen[left]
        found.append(Coil(fits[part] or 0.0, tuple(_members(pieces, part))))
        left ^= part
    return found


def _members(pieces: Sequence[tuple[str, float]], part: int) -> list[tuple[str, float]]:
    return [piece for number, piece in enumerate(pieces) if part >> number & 1]


def _coil_for(pieces: Sequence[tuple[str, float]], coils: Sequence[float]) -> float | None:
    """The shortest coil that holds some pieces, none where none does."""
    wanted = sum(metres for _, metres in pieces)
    return next((coil for coil in coils if coil >= wanted - _ROUNDING), None)
