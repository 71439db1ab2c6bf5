"""The balance as terms: a new one takes part without the solver knowing of it; what each stores, by hand."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.bay.cells import fill_cells
from sim.bay.geometry import AirZone, Box, Exposure, Feed, Geometry, Tube
from sim.bay.grid import Fineness, build_grid
from sim.case.fluids import water_properties
from sim.case.materials import Material
from sim.physics.surroundings import FixedFilm, FixedFlux, FixedTemperature, RadiantOnly, SplitFloor, StandardFloor
from sim.physics.tube import nusselt_tube, reynolds_tube
from sim.solver.assemble import build_system
from sim.solver.flows import evaluate
from sim.solver.march import MarchOptions, Start, march, uniform_state
from sim.solver.newton import tangent
from sim.solver.steady import SteadyOptions, first_guess, solve_steady
from sim.solver.storage import build_storage
from sim.solver.terms.cavity import Cavity
from sim.solver.terms.term import DRAINS, FEEDS, Term
from sim.solver.terms.water import TubeRun, settle_water

TIGHT = SteadyOptions(residual=1e-9, imbalance=1e-10, linear_tolerance=1e-6)
MESH = Fineness((0.05, 0.25, 0.05), layer_cells=4, focus=0.02, tube_cells=4)
WHOLE = ((0.0, 0.2), (0.0, 1.0))
STONE = Material("stone", (2.0, 2.0, 2.0), 2000.0, 900.0, 0.9)


@dataclass(frozen=True, slots=True)
class Mat(Term[None]):
    """A heating mat: some watts in some cells. All that a heat source inside the bay needs."""

    cell: np.ndarray
    heat: float
    sign = FEEDS

    def settle(self, state):
        return None

    def flow(self, heat, state):
        return np.bincount(self.cell, minlength=len(state.temperature)) * (self.heat / len(self.cell))

    def add_slope(self, heat, diagonal):
        pass

    def paths(self, heat):
        return {"mat": self.heat}


@dataclass(frozen=True, slots=True)
class Pipe(Term[np.ndarray]):
    """A cold pipe: some watts per kelvin out of some cells, to a temperature of its own."""

    cell: np.ndarray
    conductance: float
    temperature: float
    sign = DRAINS

    def settle(self, state):
        return self.conductance / len(self.cell) * (state.temperature[self.cell] - self.temperature)

    def flow(self, heat, state):
        flow = np.zeros(len(state.temperature))
        flow[self.cell] = heat
        return flow

    def add_slope(self, heat, diagonal):
        diagonal[self.cell] += self.conductance / len(self.cell)

    def paths(self, heat):
        return {"cold pipe": float(heat.sum())}

    def reservoirs(self):
        return [self.temperature]


def slab(*exposures, boxes=(), **more):
    """0.2 m × 1 m × 0.1 m of stone."""
    block = Box("block", "block", (0, 0, 0), (0.2, 1, 0.1), STONE)
    case = Geometry("slab", (0, 0, 0), (0.2, 1, 0.1), (block, *boxes), exposures=exposures, layered=(2,), **more)
    cells = fill_cells(case, build_grid(case, MESH))
    return cells, build_system(case, cells)


def layer(cells, k):
    """Flat indices of all cells in a layer."""
    index = np.arange(cells.grid.size).reshape(cells.grid.shape)
    return index[:, :, k].reshape(-1)


TOP = Exposure("up", 5, 0.1, WHOLE, FixedFilm(293.15, 10.0))


def test_a_source_of_another_file_heats_the_bay_and_stands_in_its_audit():
    # 30 W from the bottom cells must leave through the film of 0.2 m²: top face at 20 + 30 / (10 · 0.2) = 35 °C,
    # and every layer carries 30 W: ΔT = q d / k.
    cells, system = slab(TOP)
    heated = replace(system, terms=(*system.terms, Mat(layer(cells, 0), 30.0)))
    found = solve_steady(heated, TIGHT)
    assert_allclose(found.balance.supplied["mat"], 30.0, rtol=1e-12, atol=0)
    assert_allclose(found.balance.delivered["up"], 30.0, rtol=1e-8, atol=0)
    assert_allclose(found.flows.surfaces[0].temperature, 308.15, rtol=0, atol=1e-6)
    depth = cells.grid.centres(2)
    expected = 308.15 + 150.0 / 2.0 * (0.1 - depth)
    assert_allclose(found.temperature[0, 0], expected, rtol=0, atol=1e-6)


def test_a_sink_of_another_file_drains_the_bay():
    # 1 W/K of pipe at the bottom to 5 °C, the slab, and 2 W/K of film to 20 °C in series.
    cells, system = slab(TOP)
    drained = replace(system, terms=(*system.terms, Pipe(layer(cells, 0), 1.0, 278.15)))
    found = solve_steady(drained, TIGHT)
    assert found.converged and len(found.history) <= 4
    slab_resistance = (0.1 - cells.grid.centres(2)[0]) / (2.0 * 0.2)
    flow = 15.0 / (1.0 / 1.0 + slab_resistance + 1.0 / 2.0)
    assert_allclose(found.balance.delivered["cold pipe"], flow, rtol=1e-8, atol=0)
    assert_allclose(found.balance.delivered["up"], -flow, rtol=1e-8, atol=0)
    assert_allclose(sorted(drained.reservoirs()), [278.15, 293.15], rtol=1e-12, atol=0)


def test_a_source_of_another_file_marches_in_time():
    # No way out but what is stored: 30 W for 1000 s in 0.02 m³ of 1.8 MJ/(m³ K), 0.8333 K.
    cells, system = slab(replace(TOP, law=FixedFilm(293.15, 0.0)))
    heated = replace(system, terms=(*system.terms, Mat(layer(cells, 0), 30.0)))
    storage = build_storage(cells, heated)
    assert_allclose(storage.total, 0.02 * 2000.0 * 900.0, rtol=1e-12, atol=0)
    found = march(heated, storage, Start(uniform_state(heated, 293.15)), 1000.0, options=MarchOptions(tolerance=1e-3))
    assert_allclose(found.stored()[-1], 30_000.0, rtol=1e-6, atol=0)
    mean = np.average(found.end.state.temperature, weights=storage.cells)
    assert_allclose(mean - 293.15, 30_000.0 / 36_000.0, rtol=1e-6, atol=0)


def test_a_term_is_put_in_place_of_the_one_of_its_kind_only():
    cells, system = slab(TOP)
    mat = Mat(layer(cells, 0), 30.0)
    with pytest.raises(ValueError, match="no term Mat"):
        system.with_term(mat)
    twice = replace(system, terms=(*system.terms, mat)).with_term(replace(mat, heat=60.0))
    assert twice.find(Mat).heat == 60.0 and len(twice.terms) == len(system.terms) + 1
    assert system.cavity is None and system.find(Cavity) is None


@pytest.mark.parametrize(
    "law",
    [
        FixedTemperature(280.0),
        FixedFilm(280.0, 6.0),
        StandardFloor(280.0),
        RadiantOnly(280.0, 0.9),
        SplitFloor(280.0, 285.0, 5.0, 0.9),
    ],
)
def test_the_tangent_is_the_slope_of_the_sum(law):
    # One cell a little warmer: the heat left over in all cells changes by what the tangent says.
    _, system = slab(replace(TOP, law=law))
    state = first_guess(system)
    state = replace(state, temperature=state.temperature + 20.0 + np.linspace(0.0, 5.0, len(state.temperature)))
    flows, step = evaluate(system, state), np.zeros(len(state.temperature))
    step[-1] = 1e-3
    further = evaluate(system, replace(state, temperature=state.temperature + step))
    expected = tangent(system, flows).apply(step.reshape(system.shape)).reshape(-1)
    assert_allclose(further.cells - flows.cells, expected, rtol=0, atol=1e-4 * np.abs(expected).max())
    assert np.abs(expected).max() > 1e-5


@pytest.mark.parametrize(
    ("law", "beyond", "moved"),
    [
        (FixedTemperature(280.0), 280.0, FixedTemperature(290.0)),
        (FixedFilm(280.0, 6.0), 280.0, FixedFilm(290.0, 6.0)),
        (StandardFloor(280.0), 280.0, StandardFloor(290.0)),
        (RadiantOnly(280.0, 0.9), 280.0, RadiantOnly(290.0, 0.9)),
        (SplitFloor(280.0, 282.0, 5.0, 0.9), 280.0, SplitFloor(290.0, 292.0, 5.0, 0.9)),
    ],
)
def test_what_a_law_faces(law, beyond, moved):
    assert law.beyond == beyond
    assert law.towards(290.0) == moved


def test_a_stated_flux_faces_nothing():
    assert FixedFlux(3.0).beyond is None
    with pytest.raises(ValueError, match="faces nothing whose temperature could change"):
        FixedFlux(3.0).towards(290.0)


class TestStorage:
    """Heat capacities by hand. Air of 27 °C as an ideal gas of two atoms: ρ c = (p / R T) 7/2 R = 7/2 p / T."""

    AIR_CAPACITY = 3.5 * 101325.0 / 300.15
    AIR = Box("air", "air", (0.02, 0, 0.02), (0.18, 1, 0.08))
    ZONES = (AirZone("low", (0, 0, 0), (0.2, 1, 0.05)), AirZone("high", (0, 0, 0.05), (0.2, 1, 0.1)))

    def test_air_of_the_zones_and_the_stone_round_it(self):
        cells, system = slab(TOP, boxes=(self.AIR,), zones=self.ZONES)
        storage = build_storage(cells, system)
        assert_allclose(storage.zones, 2 * [0.16 * 0.03 * self.AIR_CAPACITY], rtol=3e-3, atol=0)
        assert_allclose(storage.cells.sum(), (0.02 - 0.16 * 0.06) * 1.8e6, rtol=1e-9, atol=0)

    def test_still_air_stores_in_its_cells(self):
        cells, _ = slab(TOP, boxes=(self.AIR,), zones=self.ZONES)
        block = Box("block", "block", (0, 0, 0), (0.2, 1, 0.1), STONE)
        case = Geometry("slab", (0, 0, 0), (0.2, 1, 0.1), (block, self.AIR), exposures=(TOP,), zones=self.ZONES)
        still = build_storage(cells, build_system(case, cells, "still"))
        expected = 0.16 * 0.06 * self.AIR_CAPACITY
        assert len(still.zones) == 0
        assert_allclose(still.cells.reshape(cells.grid.shape)[cells.air].sum(), expected, rtol=3e-3, atol=0)

    @pytest.mark.parametrize(("flow", "held"), [(0.02, None), (None, 320.0)])
    def test_tube_wall_and_the_water_in_it(self, flow, held):
        # π/4 (16² − 12²) mm² of wall with 2.1 MJ/(m³ K), π/4 12² mm² of water at 46.85 °C: 989.5 kg/m³, 4180 J/(kg K)
        # (steam tables, from memory). A tube of stated temperature stores nothing.
        feed = None if flow is None else Feed(320.0, flow, None, 60.0)
        tube = Tube("t", 1, (0.1, 0.05), (0, 1), 0.016, 0.012, 0.4, feed, held, wall_capacity=2.1e6)
        cells, system = slab(TOP, tubes=(tube,))
        own = build_storage(cells, system).cells[system.runs[0].cell]
        wall, water = np.pi / 4 * (16**2 - 12**2) * 1e-6, np.pi / 4 * 12**2 * 1e-6
        expected = wall * 2.1e6 + water * 989.5 * 4180.0 if flow else 0.0
        assert_allclose(own.sum(), expected, rtol=2e-3, atol=0)


class TestFilmOfACircuit:
    """The film is the mean over the whole circuit, of which a short cut is modelled: far from the entrance."""

    def run(self, length, circuit):
        feed = Feed(313.15, 0.004, None, circuit)
        one = np.zeros(1, np.int64)
        return TubeRun("t", one, one, np.ones(1), np.array([length]), np.zeros(1), 0.016, 0.012, 0.4, None, feed, None)

    def water(self, length, circuit):
        (water,) = settle_water((self.run(length, circuit),), np.array([303.15]), None)
        return water

    def film(self, length, circuit):
        return 1.0 / (np.pi * 0.012 * self.water(length, circuit).film_resistance)

    def mean(self, length, circuit):
        mean = float(self.water(length, circuit).temperature[0])
        assert 303.15 < mean < 313.15
        return mean

    def expected(self, length, run):
        # Properties of the water at its mean temperature along the run.
        fluid = water_properties(self.mean(*run))
        reynolds = reynolds_tube(0.004, 0.012, fluid)
        assert reynolds < 2000.0, "laminar, so that the length matters"
        return nusselt_tube(reynolds, fluid.prandtl, 0.012, length) * fluid.conductivity / 0.012

    def test_a_cut_has_the_film_of_its_circuit(self):
        # Laminar, Hausen: next to 3.66 over 60 m, more than twice that over 0.3 m by itself.
        assert_allclose(self.film(0.3, 60.0), self.expected(60.0, (0.3, 60.0)), rtol=1e-9, atol=0)
        assert self.expected(0.3, (0.3, 60.0)) > 1.5 * self.expected(60.0, (0.3, 60.0))

    def test_a_circuit_is_no_shorter_than_the_tube_that_is_modelled(self):
        assert_allclose(self.film(5.0, 1.0), self.expected(5.0, (5.0, 1.0)), rtol=1e-9, atol=0)
