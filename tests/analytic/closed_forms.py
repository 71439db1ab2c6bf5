"""Fins, walls and solids with an answer in closed form or as a series, as textbooks give them.

Forms from memory: Incropera and others, Fundamentals of Heat and Mass Transfer, chapters 3 and 5; Carslaw and Jaeger,
Conduction of Heat in Solids, chapters 2 and 3. Temperatures in °C, lengths in m; k [W/(m K)], a [m²/s], h [W/(m² K)].
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.special import erfc, erfcx, i0, i1, k0, k1


def straight_fin(k: float, thickness: float, length: float, h: float, sides: int, tip: bool = False) -> float:
    """Heat [W/m] that a fin with its base 10 K above the air gives, its tip adiabatic or with the same film."""
    m = np.sqrt(sides * h / (k * thickness))
    base = np.sqrt(sides * h * k * thickness) * 10.0
    sinh, cosh, end = np.sinh(m * length), np.cosh(m * length), h / (m * k) if tip else 0.0
    return float(base * (sinh + end * cosh) / (cosh + end * sinh))


def annular_fin(k: float, thickness: float, inner: float, outer: float, h: float, at: float) -> tuple[float, float]:
    """Efficiency of a disc, films on both sides, its rim adiabatic; and its excess at a radius over the base's."""
    m = np.sqrt(2.0 * h / (k * thickness))

    def excess(r: float) -> float:
        return float(i0(m * r) * k1(m * outer) + k0(m * r) * i1(m * outer))

    slope = k1(m * inner) * i1(m * outer) - i1(m * inner) * k1(m * outer)
    return float(2.0 * inner / (m * (outer**2 - inner**2)) * slope / excess(inner)), excess(at) / excess(inner)


def surface_step(x: float, t: float, a: float) -> float:
    """A deep solid at 0 whose surface is held at 1 from t = 0 on."""
    return float(erfc(x / (2.0 * np.sqrt(a * t))))


def surface_film(x: float, t: float, a: float, k: float, h: float) -> float:
    """The same with a film to surroundings at 1."""
    eta, film = x / (2.0 * np.sqrt(a * t)), h * np.sqrt(a * t) / k
    return float(erfc(eta) - np.exp(-(eta**2)) * erfcx(eta + film))


def surface_flux(x: float, t: float, a: float, k: float, q: float) -> float:
    """The same with a flux q [W/m²] into its surface."""
    eta = x / (2.0 * np.sqrt(a * t))
    return float(q / k * (2.0 * np.sqrt(a * t / np.pi) * np.exp(-(eta**2)) - x * erfc(eta)))


def surface_wave(x: float, t: float, a: float, period: float) -> float:
    """The same with sin(2π t / period) at its surface: Duhamel's integral of the step's answer.

    T = ∫ sin(ω (t − s)) · x / (2 √(π a s³)) · exp(−x²/(4 a s)) ds; with s = x² / (4 a v²) it is one over v.
    """
    omega, least = 2.0 * np.pi / period, x / (2.0 * np.sqrt(a * t))

    def part(v: float) -> float:
        return float(2.0 / np.sqrt(np.pi) * np.sin(omega * (t - x**2 / (4.0 * a * v * v))) * np.exp(-v * v))

    return float(quad(part, least, 12.0, limit=2000, epsabs=1e-12)[0])


def eigenvalues(biot: float, count: int = 200) -> list[float]:
    """The first roots of ζ tan ζ = Bi, one between nπ and (n + ½)π each."""

    def met(z: float) -> float:
        return z * np.sin(z) - biot * np.cos(z)

    return [brentq(met, n * np.pi, (n + 0.5) * np.pi, xtol=1e-14) for n in range(count)]


def cooling_wall(place: float, fourier: float, biot: float) -> float:
    """A wall at 1 in air of 0: at x/L from its middle, after Fo = a t / L²."""
    terms = (
        4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z)) * np.cos(z * place) * np.exp(-z * z * fourier)
        for z in eigenvalues(biot)
    )
    return float(sum(terms))


def lid_over_air(fourier: float, share: float) -> float:
    """A lid that stores heat on top of still air, both at 1, the bottom held at 0: the lid after Fo = a t / L².

    Parameters
    ----------
    share : heat capacity of the air over that of the lid.
    """
    total = 0.0
    for z in eigenvalues(share, 40):
        norm = share * (0.5 - np.sin(2.0 * z) / (4.0 * z)) + np.sin(z) ** 2
        start = share * (1.0 - np.cos(z)) / z + np.sin(z)
        total += start / norm * np.sin(z) * np.exp(-z * z * fourier)
    return float(total)


def wall_cooled_by_air(seconds: float) -> float:
    """Excess [K] of the wall of `lump-cooled-by-air` over the cold side: quasi-steady, by the square's Nusselt numbers.

    ln Nu is the parabola in ln Ra through the numbers of de Vahl Davis 1983 and Le Quéré 1991 at 1e4, 1e5 and 1e6.
    """
    law = np.polyfit(np.log([1e4, 1e5, 1e6]), np.log([2.2448, 4.5216, 8.8252]), 2)
    side, conductivity, diffusivity, viscosity = 0.05, 0.026, 2.2e-5, 1.562e-5
    stored = 1000.0 * 900.0 * 0.002 + 0.5 * side * conductivity / diffusivity

    def cooling(_: float, excess: NDArray[np.float64]) -> NDArray[np.float64]:
        rayleigh = 9.80665 * 0.0033 * excess * side**3 / (viscosity * diffusivity)
        return -conductivity / side * np.exp(np.polyval(law, np.log(rayleigh))) * excess / stored

    return float(solve_ivp(cooling, (0.0, seconds), [20.0], rtol=1e-10, atol=1e-10).y[0, -1])


def square_with_a_warm_top(x: float, z: float) -> float:
    """A unit square at 0 on three sides and at 1 on top (z = 1)."""
    odd = np.arange(1, 400, 2) * np.pi
    ratio = np.exp(odd * (z - 1.0)) * (1.0 - np.exp(-2.0 * odd * z)) / (1.0 - np.exp(-2.0 * odd))
    return float((4.0 / odd * np.sin(odd * x) * ratio).sum())


def plate_with_films(x: float, z: float, wide: float, high: float, k: float, h: float) -> float:
    """A plate at 1 on its bottom, no heat through x = 0, films to 0 at x = wide and on top."""
    total = 0.0
    for zeta in eigenvalues(h * wide / k, 400):
        m = zeta / wide
        end = h / (k * m)

        def rising(left: float, m: float = m, end: float = end) -> float:
            """(cosh + end sinh) of m · left, over e^(m · high)."""
            up, down = np.exp(m * (left - high)), np.exp(-m * (left + high))
            return float(0.5 * ((1.0 + end) * up + (1.0 - end) * down))

        share = 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))
        total += share * np.cos(m * x) * rising(high - z) / rising(high)
    return total


def places_of_case_1() -> Iterator[tuple[str, float, float]]:
    """The points of ISO 10211 case 1: name, and their place in a unit square."""
    for row, column in product(range(1, 8), range(1, 5)):
        yield f"{row}.{column}", column / 8.0, 1.0 - row / 8.0
