"""Circuits on one manifold: what the pump must do, what each valve must take up, and the water that comes back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sim.case.constants import ZERO_CELSIUS
from sim.house.circuit_flow import HEAD, CircuitFlow
from sim.house.circuits import ALIKE, CircuitError
from sim.results.people import format_value

_BAR = 1e5
RANGEABILITY = 50.0
"""Largest over smallest flow coefficient that a valve controls [-]: usual for small valves, from memory."""

_SAME = 1.0
"""Heads closer than this are one [Pa]."""


@dataclass(frozen=True, slots=True)
class Throttle:
    """What a circuit's valve must take up, so that it gets its own flow and no more.

    Attributes
    ----------
    name : str
    volume_flow : float [m³/s]
    head : float [Pa]
        Lost by the circuit itself.
    excess : float [Pa]
        To be lost in the valve; 0 for the circuit that sets the pump.
    kv : float [m³/h]
        The valve's flow coefficient at that setting, over and above what the circuit has; infinite when fully open.
    """

    name: str
    volume_flow: float
    head: float
    excess: float
    kv: float


@dataclass(frozen=True, slots=True)
class Manifold:
    """Circuits side by side between one supply and one return bar.

    Attributes
    ----------
    circuits : tuple of CircuitFlow
    upstream : float [Pa]
        Lost between pump and manifold: mixing valve, heat exchanger, mains.
    """

    circuits: tuple[CircuitFlow, ...]
    upstream: float = 0.0

    @property
    def setting(self) -> CircuitFlow:
        """The circuit with the largest head, which sets the pump."""
        return max(self.circuits, key=lambda circuit: circuit.head)

    @property
    def head(self) -> float:
        """What the pump must raise [Pa]: the largest circuit and what lies upstream."""
        return self.setting.head + self.upstream

    @property
    def mass_flow(self) -> float:
        """All circuits together [kg/s]."""
        return sum(circuit.mass_flow for circuit in self.circuits)

    @property
    def volume_flow(self) -> float:
        """All circuits together [m³/s]."""
        return sum(circuit.volume_flow for circuit in self.circuits)

    @property
    def hydraulic_power(self) -> float:
        """Head times volume flow [W]; a small pump takes several times as much electricity."""
        return self.head * self.volume_flow

    @property
    def heat(self) -> float:
        """Given by all circuits [W]."""
        return sum(circuit.heat for circuit in self.circuits)

    @property
    def returning(self) -> float:
        """Temperature of the mixed return [K]."""
        capacities = [circuit.mass_flow * float(circuit.fluid.specific_heat) for circuit in self.circuits]
        carried = sum(c * circuit.returning for c, circuit in zip(capacities, self.circuits, strict=True))
        return carried / sum(capacities)

    @property
    def spread(self) -> float:
        """Longest circuit less shortest, as a share of the longest [-]."""
        lengths = [circuit.circuit.length for circuit in self.circuits]
        return 1.0 - min(lengths) / max(lengths)

    @property
    def balanced(self) -> bool:
        """Whether the lengths are alike enough to do without throttling."""
        return self.spread <= ALIKE

    def throttles(self) -> tuple[Throttle, ...]:
        """What each circuit's valve must take up, in the order of the circuits."""
        largest = self.setting.head
        return tuple(_throttle(circuit, largest - circuit.head) for circuit in self.circuits)

    def __str__(self) -> str:
        litres = format_value("flow_l_min", self.volume_flow * 6e4)
        head = (
            f"manifold: {litres} at {HEAD.write(self.head / 1e3)}, {self.heat:.0f} W, "
            f"return {self.returning - ZERO_CELSIUS:.1f} °C, set by {self.setting.circuit.name}"
        )
        *inner, last = (
            f"{circuit}, valve takes {HEAD.write(throttle.excess / 1e3)}"
            for circuit, throttle in zip(self.circuits, self.throttles(), strict=True)
        )
        return "\n".join([head, *(f"├─ {line}" for line in inner), f"└─ {last}"])


def join_circuits(circuits: Sequence[CircuitFlow], upstream: float = 0.0) -> Manifold:
    """Put circuits on one manifold.

    Parameters
    ----------
    circuits : at least one; all with the same supply temperature and the same water.
    upstream : head lost between pump and manifold [Pa].

    Raises
    ------
    CircuitError : no circuits, two of one name, different supplies or different water.
    """
    if not circuits:
        raise CircuitError("manifold: no circuits")
    names = [circuit.circuit.name for circuit in circuits]
    if len(set(names)) < len(names):
        raise CircuitError("manifold: two circuits of one name; every circuit needs its own")
    waters = {(circuit.design.supply, circuit.design.glycol) for circuit in circuits}
    if len(waters) > 1:
        raise CircuitError("manifold: its circuits differ in supply temperature or glycol; one manifold has one water")
    if not upstream >= 0.0:
        raise CircuitError(f"manifold: upstream head is {upstream:g} Pa; must be 0 or greater")
    return Manifold(tuple(circuits), float(upstream))


def valve_setting(kv: float, kvs: float) -> float:
    """Flow coefficient of a balancing valve that has Kvs when open and must act as one more of `kv` behind it [m³/h].

    Losses add, so 1/Kv² = 1/Kvs² + 1/kv² (IEC 60534 definition of Kv).

    Examples
    --------
    >>> valve_setting(0.75, 1.0)
    0.6
    """
    return 1.0 / math.sqrt(1.0 / kvs**2 + 1.0 / kv**2)


def equal_percentage_opening(kv: float, kvs: float, rangeability: float = RANGEABILITY) -> float:
    """How far a valve is open [-] whose flow coefficient rises by equal shares for equal turns.

    Kv/Kvs = R^(h − 1) with the rangeability R (inherent equal-percentage characteristic, IEC 60534-2-4), so
    h = 1 + ln(Kv/Kvs)/ln R; 0 for less than the valve controls.

    Raises
    ------
    ValueError : more than the open valve passes.

    Examples
    --------
    Half open, a valve of rangeability 100 passes a tenth:

    >>> round(equal_percentage_opening(0.1, 1.0, 100.0), 12)
    0.5
    """
    if not 0.0 < kv <= kvs * (1.0 + 1e-9):
        raise ValueError(f"valve: Kv {kv:g} m³/h; must be greater than 0 and at most Kvs {kvs:g} m³/h")
    return max(0.0, 1.0 + math.log(kv / kvs) / math.log(rangeability))


def _throttle(circuit: CircuitFlow, excess: float) -> Throttle:
    """The valve setting that takes up an excess head [Pa]."""
    density = float(circuit.fluid.density)
    hourly = 3600.0 * circuit.volume_flow
    kv = math.inf if excess < _SAME else hourly * math.sqrt(_BAR / excess * density / 1000.0)
    return Throttle(circuit.circuit.name, circuit.volume_flow, circuit.head, max(excess, 0.0), kv)
