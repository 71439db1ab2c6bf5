"""Water in circuits: flow, temperature bay by bay, head, what the pump must do and what each valve must take up.

Every bay passes heat in proportion to its water's temperature above its surroundings, so the water comes down
exponentially along the circuit and the last bay gets cooler water than the first. Leaders are taken as insulated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sim.case.constants import ZERO_CELSIUS
from sim.case.fluids import Fluid, water_properties
from sim.house.circuits import Circuit, CircuitError
from sim.physics.tube import (
    ROUGHNESS,
    STEADY_END,
    TURBULENT_START,
    friction_factor,
    pressure_gradient,
    reynolds_tube,
    water_march,
)
from sim.results.page_units import PAGE_UNITS, page_unit
from sim.results.people import Units, format_value

PURGING = 0.6
"""Slower water does not carry air along [m/s]: common practice (2 ft/s), no source."""

RETURN_BEND = 0.5
"""Loss coefficient of the tube's half turn in a bay [-]: two smooth quarter bends of 0.25, radius five to eight
diameters (handbook tables, from memory)."""

ENDS = 1.5
"""Loss coefficient of entry into the circuit (0.5) and exit into the manifold (1.0) [-] (handbooks, from memory)."""

HEAD = PAGE_UNITS["kPa"]
"""Head for people; foot of water at 4 °C from NIST SP 811."""

_BAR = 1e5
_SETTLING = 4


@dataclass(frozen=True, slots=True)
class Pipe:
    """What a circuit's water passes through besides its length.

    Attributes
    ----------
    inner_diameter : float [m]
        Default that of nominal half-inch SDR-9 tube.
    roughness : float [m]
    bay_loss : float [-]
        Loss coefficient of the bends in each bay.
    end_loss : float [-]
        Loss coefficient of everything else without a valve: entry, exit, elbows.
    valve : float or None [m³/h]
        Flow coefficient Kv of the circuit's valves together: the flow that loses 1 bar.
    """

    inner_diameter: float = 0.012319
    roughness: float = ROUGHNESS
    bay_loss: float = RETURN_BEND
    end_loss: float = ENDS
    valve: float | None = None

    def velocity(self, mass_flow: float, fluid: Fluid) -> float:
        """Mean velocity [m/s]."""
        return float(4.0 * mass_flow / (math.pi * self.inner_diameter**2 * fluid.density))


@dataclass(frozen=True, slots=True)
class Operation:
    """How circuits are run; exactly one of `drop` and `flow`.

    Attributes
    ----------
    supply : float [K]
    surroundings : float [K]
        What the bays lose heat to: the room, seen from the water.
    excess : float [K]
        Mean water above the surroundings at which the bays give their heat per metre.
    drop : float or None [K]
        Wanted from supply to return.
    flow : float or None [kg/s]
    glycol : float [-]
        Mass fraction of propylene glycol.
    """

    supply: float
    surroundings: float
    excess: float
    drop: float | None = None
    flow: float | None = None
    glycol: float = 0.0

    def __post_init__(self) -> None:
        if (self.drop is None) == (self.flow is None):
            raise CircuitError("design: give either drop or flow")
        wanted = self.drop if self.flow is None else self.flow
        if not (wanted is not None and wanted > 0.0 and self.excess > 0.0):
            raise CircuitError("design: drop or flow, and excess, must be greater than 0")
        if not self.supply - (self.drop or 0.0) > self.surroundings:
            raise CircuitError(
                f"design: water from {self.supply - ZERO_CELSIUS:.1f} °C with a drop of {self.drop or 0.0:.1f} K would "
                f"return cooler than its surroundings, {self.surroundings - ZERO_CELSIUS:.1f} °C; a smaller drop or "
                "warmer water is needed"
            )


@dataclass(frozen=True, slots=True)
class BayWater:
    """The water of one bay: entering, logarithmic mean and leaving temperature [K], and the heat it gives [W]."""

    name: str
    entering: float
    mean: float
    leaving: float
    heat: float


@dataclass(frozen=True, slots=True)
class CircuitFlow:
    """A circuit in service: flow [kg/s], velocity [m/s], Reynolds number, bays in flow order, head loss [Pa]."""

    circuit: Circuit
    design: Operation
    mass_flow: float
    fluid: Fluid
    velocity: float
    reynolds: float
    bays: tuple[BayWater, ...]
    head: float

    @property
    def volume_flow(self) -> float:
        """[m³/s]"""
        return float(self.mass_flow / self.fluid.density)

    @property
    def returning(self) -> float:
        """Return temperature [K]."""
        return self.bays[-1].leaving

    @property
    def drop(self) -> float:
        """Supply less return [K]."""
        return self.design.supply - self.returning

    @property
    def heat(self) -> float:
        """Heat given by all bays [W]."""
        return sum(bay.heat for bay in self.bays)

    @property
    def purges_itself(self) -> bool:
        """Whether the water is fast enough to carry air along."""
        return self.velocity >= PURGING

    @property
    def cooler_end(self) -> float:
        """How much cooler the last bay's mean water is than the first's [K]."""
        return self.bays[0].mean - self.bays[-1].mean

    @property
    def end_share(self) -> float:
        """Heat of a metre of tube in the last bay, as a share of the same metre in the first [-]."""
        first, last = self.bays[0], self.bays[-1]
        return (last.mean - self.design.surroundings) / (first.mean - self.design.surroundings)

    def notes(self, units: Units = "si") -> tuple[str, ...]:
        """What a person should know of this circuit, in sentences."""
        found = (_cooler_end(self, units), _air(self, units), self.unsure)
        return tuple(note for note in found if note)

    @property
    def unsure(self) -> str:
        """What the Reynolds number leaves unsure, or that flow is laminar; empty where it is turbulent."""
        return _regime(self)

    def __str__(self) -> str:
        litres = format_value("flow_l_min", self.volume_flow * 6e4)
        return (
            f"{self.circuit.name}: {litres}, {self.velocity:.2f} m/s, Re {self.reynolds:,.0f}, "
            f"{self.design.supply - ZERO_CELSIUS:.1f} → {self.returning - ZERO_CELSIUS:.1f} °C, {self.heat:.0f} W, "
            f"{HEAD.write(self.head / 1e3)}"
        )


def run_circuit(circuit: Circuit, design: Operation, pipe: Pipe | None = None) -> CircuitFlow:
    """The circuit in service: its flow from the design drop, or its drop from the design flow, and what follows.

    A bay of heat per metre q′ at the design excess ΔT has the conductance U′ = q′/ΔT per metre to its surroundings
    T_s, and along it T − T_s falls by the factor e^(−U′L/ṁc). For a wanted drop over the whole circuit,

        ṁ c = Σ U′L / ln[(T_in − T_s)/(T_in − drop − T_s)].

    Parameters
    ----------
    circuit : with heat in at least one bay.
    design : temperatures, and the drop or the flow.
    pipe : bore and losses; nominal half-inch tube when left out.

    Raises
    ------
    CircuitError : a circuit without heat whose drop is given.

    Examples
    --------
    >>> from sim.house.circuits import CircuitBay
    >>> circuit = Circuit("C1", tuple(CircuitBay(name, 10.0, 12.0, leader=4.0) for name in "abcdefg"))
    >>> print(run_circuit(circuit, Operation(323.15, 293.15, excess=27.2, drop=5.5)))
    C1: 2.21 l/min, 0.31 m/s, Re 6,582, 50.0 → 44.5 °C, 839 W, 10.7 kPa
    """
    pipe = pipe or Pipe()
    conductance = [bay.heat / design.excess for bay in circuit.bays]
    if design.flow is None:
        fluid = water_properties(design.supply - float(design.drop or 0.0) / 2.0, design.glycol)
        mass_flow = _flow_for_drop(circuit.name, sum(conductance), design, fluid)
    else:
        mass_flow = design.flow
        fluid = _settled_fluid(sum(conductance), design)
    bays = _bays_along(circuit, conductance, design, mass_flow * float(fluid.specific_heat))
    return CircuitFlow(
        circuit=circuit,
        design=design,
        mass_flow=mass_flow,
        fluid=fluid,
        velocity=pipe.velocity(mass_flow, fluid),
        reynolds=float(reynolds_tube(mass_flow, pipe.inner_diameter, fluid)),
        bays=bays,
        head=head_loss(circuit, mass_flow, fluid, pipe),
    )


def head_loss(circuit: Circuit, mass_flow: float, fluid: Fluid, pipe: Pipe | None = None) -> float:
    """Pressure that a circuit loses [Pa].

        Δp = L (f/d) ρV²/2 + Σζ ρV²/2 + (V̇/Kv)² · 1 bar · ρ/1000

    with the friction factor f of `sim.physics.tube` (64/Re to Re 2000, Colebrook from Re 2300) and Kv the valves' flow
    coefficient in m³/h (IEC 60534 definition). Between Re 2300 and 4000 real flow may be laminar and lose less.

    Parameters
    ----------
    circuit : its length and its number of bays.
    mass_flow : [kg/s]
    fluid : at the mean temperature of the circuit.
    pipe : bore and losses; nominal half-inch tube when left out.

    Examples
    --------
    100 ft of half-inch tube at 2 gpm and 60 °F lose 6.0 psi:

    >>> from sim.house.circuits import CircuitBay
    >>> water = water_properties(288.706)
    >>> tube = Circuit("C", (CircuitBay("b", 30.48, 0.0),))
    >>> plain = Pipe(0.485 * 0.0254, bay_loss=0.0, end_loss=0.0)
    >>> round(head_loss(tube, 2 * 6.30902e-5 * water.density, water, plain) / 6894.757, 2)
    6.0
    """
    pipe = pipe or Pipe()
    dynamic = float(fluid.density) * pipe.velocity(mass_flow, fluid) ** 2 / 2.0
    friction = float(pressure_gradient(mass_flow, pipe.inner_diameter, fluid, pipe.roughness)) * circuit.length
    fittings = (pipe.end_loss + pipe.bay_loss * len(circuit.bays)) * dynamic
    return friction + fittings + (valve_loss(mass_flow, fluid, pipe.valve) if pipe.valve else 0.0)


def valve_loss(mass_flow: float, fluid: Fluid, kv: float) -> float:
    """Pressure lost in a valve of flow coefficient Kv [m³/h] (IEC 60534: 1 m³/h of water loses 1 bar at Kv 1) [Pa]."""
    hourly = 3600.0 * mass_flow / float(fluid.density)
    return (hourly / kv) ** 2 * _BAR * float(fluid.density) / 1000.0


def _flow_for_drop(name: str, conductance: float, design: Operation, fluid: Fluid) -> float:
    """Mass flow [kg/s] at which the water comes down by the wanted drop."""
    if not conductance > 0.0:
        raise CircuitError(f"circuit {name}: gives no heat, so no flow gives a drop; give the flow")
    inlet = design.supply - design.surroundings
    units = math.log(inlet / (inlet - float(design.drop or 0.0)))
    return conductance / units / float(fluid.specific_heat)


def _settled_fluid(conductance: float, design: Operation) -> Fluid:
    """The fluid at the mean of supply and return, which depends on the fluid: a few rounds settle it."""
    inlet, flow = design.supply - design.surroundings, float(design.flow or 0.0)
    fluid = water_properties(design.supply, design.glycol)
    for _ in range(_SETTLING):
        drop = -inlet * math.expm1(-conductance / (flow * float(fluid.specific_heat)))
        fluid = water_properties(design.supply - drop / 2.0, design.glycol)
    return fluid


def _bays_along(
    circuit: Circuit, conductance: Sequence[float], design: Operation, capacity_flow: float
) -> tuple[BayWater, ...]:
    """The water bay by bay, in flow order."""
    means, _ = water_march(design.supply, capacity_flow, conductance, [design.surroundings] * len(conductance))
    bays, entering = [], design.supply
    for bay, link, mean in zip(circuit.bays, conductance, means, strict=True):
        heat = float(link * (mean - design.surroundings))
        leaving = entering - heat / capacity_flow
        bays.append(BayWater(bay.name, entering, float(mean), leaving, heat))
        entering = leaving
    return tuple(bays)


def _cooler_end(flow: CircuitFlow, units: Units) -> str:
    """How much less the last bay gets than the first."""
    if len(flow.bays) == 1:
        return ""
    first, last = flow.bays[0], flow.bays[-1]
    cooler = page_unit("water_K").write(flow.cooler_end, units)
    water = page_unit("water_C").write(last.mean - ZERO_CELSIUS, units)
    return (
        f"last bay {last.name}: its water, {water} in the mean, is {cooler} cooler than that of {first.name}; the same "
        f"length of tube gives {100.0 * (1.0 - flow.end_share):.0f} % less"
    )


def _air(flow: CircuitFlow, units: Units) -> str:
    """Whether the water carries air along."""
    if flow.purges_itself:
        return ""
    speed, wanted = (format_value("water_m_s", value, units) for value in (flow.velocity, PURGING))
    return (
        f"{speed} is slower than {wanted}: air is not carried along, purge this circuit by itself "
        "(common practice, no source)"
    )


def _regime(flow: CircuitFlow) -> str:
    """What the Reynolds number leaves unsure."""
    number = f"Reynolds number {flow.reynolds:,.0f}"
    if flow.reynolds <= STEADY_END:
        return f"{number}: laminar flow"
    if flow.reynolds >= TURBULENT_START:
        return ""
    less = 1.0 - 64.0 / flow.reynolds / float(friction_factor(flow.reynolds))
    return (
        f"{number}, between laminar and turbulent flow: friction is reckoned on the safe side, laminar it would be "
        f"{100 * less:.0f} % less"
    )
