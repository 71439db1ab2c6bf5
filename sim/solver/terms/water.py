"""Water or air in the tubes: its temperature along each run from its own energy balance."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Feed, Tube
from sim.case.fluids import Fluid
from sim.machine.brief import Brief
from sim.physics.tube import film_resistance, tube_film, wall_resistance, water_march
from sim.solver.state import State
from sim.solver.terms.term import FEEDS, Term

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

PINNED = 1e7
"""Conductance per metre that holds an isothermal tube's cells at their temperature [W/m K]."""

MEAN_ROUNDS = 6
"""Marches along a run: the first with properties at its inlet, the others at the mean that the one before found."""

FIRST_OUTPUT = 20.0
"""Heat per metre of tube assumed before the first solve, to start a flow from a circuit's drop [W/m]."""


@dataclass(frozen=True, slots=True, repr=False)
class TubeRun(Brief):
    """One straight tube: its cells and how they divide the tube's outer surface.

    `cell` flat index (m,), `segment` (m,) numbers the slices in flow direction, `share` (m,) sums to 1 in each
    segment, `length` (s,) of each segment [m], `position` (s,) along the axis [m]. A `temperature` marks an
    isothermal tube; otherwise `feed` enters it after the run numbered `after` (None: first).
    """

    name: str
    cell: Indices
    segment: Indices
    share: Array
    length: Array
    position: Array
    outer_diameter: float
    inner_diameter: float | None
    conductivity: float
    temperature: float | None
    feed: Feed | None
    after: int | None

    def with_feed(self, **changes: float | None) -> TubeRun:
        """The run with other water; an isothermal one as it is."""
        return self if self.feed is None else replace(self, feed=replace(self.feed, **changes))  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, repr=False)
class RunWater(Brief):
    """Water in one run.

    `temperature` (s,) mean in each segment [K], `outlet` [K], `flow` [kg/s], `film_resistance` and
    `wall_resistance` [m K/W], `conductance` (m,) water to each tube cell [W/K], `heat` given up [W].
    """

    temperature: Array
    inlet: float
    outlet: float
    flow: float
    film_resistance: float
    wall_resistance: float
    conductance: Array
    heat: float

    def mean(self, run: TubeRun) -> float:
        """Mean temperature along its run [K]."""
        return float((self.temperature * run.length).sum() / run.length.sum())


def settle_water(runs: tuple[TubeRun, ...], temperature: Array, delivered: float | None) -> tuple[RunWater, ...]:
    """Water temperatures that belong to the present tube temperatures.

    Parameters
    ----------
    temperature : flat cell temperatures [K].
    delivered : heat that leaves the bay [W], for flows that follow from a stated drop; None at the start. At the
        end it equals what the water gives, but on the way it varies far less with the tube's temperature.
    """
    waters: list[RunWater] = []
    total = sum(float(run.length.sum()) for run in runs)
    heat = FIRST_OUTPUT * total if delivered is None else delivered
    for run in runs:
        inlet = None if run.after is None else waters[run.after].outlet
        waters.append(_settle(run, temperature, inlet, heat / total if total else 0.0))
    return tuple(waters)


def _settle(run: TubeRun, temperature: Array, inlet: float | None, output: float) -> RunWater:
    if run.feed is None:
        return _pinned(run, temperature)
    if run.feed.flow == 0.0:
        return _standing(run, temperature)
    start = run.feed.supply if inlet is None else inlet
    surface = np.asarray(np.bincount(run.segment, run.share * temperature[run.cell], len(run.length)), np.float64)
    middle = start
    for _ in range(MEAN_ROUNDS):
        found = _marched(run, start, middle, surface, output)
        before, middle = middle, found.mean(run)
        if middle == before:  # to the last bit: further rounds repeat this one
            break
    return found


def _marched(run: TubeRun, start: float, middle: float, surface: Array, output: float) -> RunWater:
    """Water along a run [K] with the properties that it has at a temperature in the middle of its way [K]."""
    assert run.feed is not None
    fluid = run.feed.fluid_at(middle)
    specific_heat = float(fluid.specific_heat)
    flow = _flow(run.feed, output, specific_heat)
    film, wall = _resistances(run, flow, fluid)
    segment = run.length / (film + wall)
    conductance = segment[run.segment] * run.share
    mean, outlet = water_march(start, flow * specific_heat, segment, surface)
    heat = float(np.sum(segment * (mean - surface)))
    return RunWater(mean, start, float(outlet), flow, film, wall, conductance, heat)


def _pinned(run: TubeRun, temperature: Array) -> RunWater:
    """An isothermal tube: its cells tied to the stated temperature by a conductance too large to matter."""
    held = float(run.temperature)  # type: ignore[arg-type]
    conductance = PINNED * run.length[run.segment] * run.share
    heat = float(np.sum(conductance * (held - temperature[run.cell])))
    return RunWater(np.full(len(run.length), held), held, held, 0.0, 0.0, 0.0, conductance, heat)


def _standing(run: TubeRun, temperature: Array) -> RunWater:
    """No flow, no heat: the water has the temperature of the tube around it."""
    surface = np.asarray(np.bincount(run.segment, run.share * temperature[run.cell], len(run.length)), np.float64)
    nothing = np.zeros(len(run.cell))
    return RunWater(surface, float(surface[0]), float(surface[-1]), 0.0, np.inf, 0.0, nothing, 0.0)


def _flow(feed: Feed, output: float, specific_heat: float) -> float:
    """Stated flow, or the flow that cools by the stated drop over a circuit that gives `output` per metre."""
    if feed.flow is not None:
        return feed.flow
    return max(output, 0.5) * feed.circuit_length / (specific_heat * feed.drop)  # type: ignore[operator]


def _resistances(run: TubeRun, flow: float, fluid: Fluid) -> tuple[float, float]:
    """Film and wall resistance per metre of tube [m K/W]."""
    circuit = max(float(run.length.sum()), run.feed.circuit_length if run.feed else 0.0)
    bore = float(run.inner_diameter or 0.0)
    film = tube_film(flow, bore, circuit, fluid) * (run.feed.film_factor if run.feed else 1.0)
    wall = wall_resistance(run.outer_diameter, bore, run.conductivity)
    return float(film_resistance(film, bore)), float(wall)


@dataclass(frozen=True, slots=True)
class WaterHeat:
    """Water of every run, in their order."""

    runs: tuple[RunWater, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Water(Brief, Term[WaterHeat]):
    """Heat from the water in tubes, and from tubes of stated temperature, to the tubes' cells."""

    runs: tuple[TubeRun, ...]
    sign = FEEDS

    def with_supply(self, supply: float) -> Water:
        """All runs fed with water of a temperature [K]."""
        return Water(tuple(run.with_feed(supply=supply) for run in self.runs))

    def with_flow(self, *flows: float) -> Water:
        """The runs with a flow of water each, or one for all [kg/s]; 0 stops it."""
        each = flows * len(self.runs) if len(flows) == 1 else flows
        return Water(tuple(run.with_feed(flow=flow, drop=None) for run, flow in zip(self.runs, each, strict=True)))

    def settle(self, state: State) -> WaterHeat:
        """Water temperatures along all runs."""
        return WaterHeat(settle_water(self.runs, state.temperature, state.delivered))

    def flow(self, heat: WaterHeat, state: State) -> Array:
        """Heat that enters the tubes' cells [W] (cells,)."""
        flow = np.zeros(len(state.temperature))
        for run, water in zip(self.runs, heat.runs, strict=True):
            flow[run.cell] += water.conductance * (water.temperature[run.segment] - state.temperature[run.cell])
        return flow

    def add_slope(self, heat: WaterHeat, diagonal: Array) -> None:
        """Film and wall, with the water's temperature held."""
        for run, water in zip(self.runs, heat.runs, strict=True):
            diagonal[run.cell] += water.conductance

    def paths(self, heat: WaterHeat) -> Mapping[str, float]:
        """Heat supplied by run [W]."""
        found: dict[str, float] = {}
        for run, water in zip(self.runs, heat.runs, strict=True):
            found[run.name] = found.get(run.name, 0.0) + water.heat
        return found

    def reservoirs(self) -> list[float]:
        """Temperatures of isothermal tubes and of the water that enters the others [K]."""
        held = [run.temperature for run in self.runs if run.temperature is not None]
        return held + [run.feed.supply for run in self.runs if run.feed is not None]

    def begin(self, temperature: Array) -> None:
        """Tubes begin at their water: written into the temperatures (cells,) [K]."""
        for run in self.runs:
            temperature[run.cell] = run.temperature if run.feed is None else run.feed.supply

    def storage(self, cells: Cells) -> Array:
        """Tube wall and the water in it, in the tube's cells [J/K] (cells,)."""
        held = np.zeros(cells.grid.size)
        tubes = [body for body in cells.bodies if isinstance(body, Tube)]
        # boxes held at a temperature follow the tubes as runs of their own, and store nothing
        for run, tube in zip(self.runs, tubes, strict=False):
            held[run.cell] = _per_metre(run, tube) * run.length[run.segment] * run.share
        return held

    def lines(self) -> list[str]:
        """How many runs carry water, and how many tubes and boxes have a temperature of their own."""
        carry = sum(run.feed is not None for run in self.runs)
        held = len(self.runs) - carry
        told = [f"{carry} tube run{'' if carry == 1 else 's'}"] if carry or not held else []
        return [*told, *([f"{held} {'body' if held == 1 else 'bodies'} held at a temperature"] if held else [])]


def _per_metre(run: TubeRun, tube: Tube) -> float:
    """Heat capacity of a metre of tube with what it holds [J/(m K)]."""
    if run.feed is None:
        return 0.0
    bore = math.pi / 4 * float(tube.inner_diameter or 0.0) ** 2
    wall = math.pi / 4 * tube.outer_diameter**2 - bore
    inside = run.feed.fluid_at(run.feed.supply)
    return tube.wall_capacity * wall + float(inside.density * inside.specific_heat) * bore
