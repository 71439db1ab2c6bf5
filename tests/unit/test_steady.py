"""The steady solve: surface laws, water and evidence, against balances by hand."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from sim.case.load import parse_case
from sim.run import prepare, solve
from sim.solver.multigrid import KeptHierarchy, build_multigrid
from sim.solver.steady import DivergedError, SteadyOptions, evaluate, first_guess, solve_steady

TIGHT = SteadyOptions(residual=1e-9, imbalance=1e-10, linear_tolerance=1e-6)
ZERO = 273.15

SLAB = """
kind = "blocks"
[[box]]
name = "slab"
x = ["0 m", "0.5 m"]
y = ["0 m", "0.4 m"]
z = ["0 mm", "30 mm"]
conductivity = "0.15 W/(m*K)"
"""
RESISTANCE, AREA = 0.2, 0.2  # [m²K/W] and [m²] of the slab


def face(name, on, text):
    return f'\n[[face]]\nname = "{name}"\non = "{on}"\n{text}\n'


def slab(below, above):
    return parse_case(SLAB + face("below", "z-", below) + face("above", "z+", above))


def test_a_kept_hierarchy_serves_the_next_solve_and_changes_nothing(monkeypatch):
    """One built and then one handed on: another face's temperature gives what a solve of its own finds."""
    from sim.solver import newton

    built = []
    monkeypatch.setattr(newton, "build_multigrid", lambda operator: built.append(1) or build_multigrid(operator))
    kept = KeptHierarchy()
    above = 'law = "floor"\nambient = "20 degC"'
    for below in (45, 60):
        system = prepare(slab(f'temperature = "{below} degC"', above)).system
        mine, alone = solve_steady(system, TIGHT, kept=kept), solve_steady(system, TIGHT)
        assert_allclose(mine.state.temperature, alone.state.temperature, rtol=1e-9)
    assert len(built) == 1 + 2, "one for both that hand it on, one for each alone"


class TestSurfaceLaws:
    def test_floor_law_by_hand(self):
        # (T − T_s)/R = 8.92 (T_s − 20)^1.1 from 45 °C.
        surface = brentq(lambda t: (45.0 - t) / RESISTANCE - 8.92 * (t - 20.0) ** 1.1, 20.0, 45.0)
        report = solve(slab('temperature = "45 degC"', 'law = "floor"\nambient = "20 degC"'), options=TIGHT).report
        assert_allclose(report["surface_above_mean_C"], surface, rtol=0, atol=1e-7)
        assert_allclose(report["heat_flow_above_W"], AREA * (45.0 - surface) / RESISTANCE, rtol=1e-8, atol=0)

    def test_a_stated_flux_by_hand(self):
        # 50 W/m² in below, through 0.2 m²K/W and a film of 8 W/m²K to 20 °C.
        report = solve(slab('flux = "50 W/m^2"', 'film = "8 W/(m^2*K)"\nambient = "20 degC"'), options=TIGHT).report
        assert_allclose(report["surface_below_mean_C"], 20.0 + 50.0 * (0.125 + RESISTANCE), rtol=0, atol=1e-7)
        assert_allclose(report["heat_flow_below_W"], -10.0, rtol=1e-9, atol=0)

    def test_radiation_by_hand(self):
        # ε σ (T_s⁴ − 250⁴) with ε = 0.8, from 60 °C.
        warm, sky = 333.15, 250.0
        surface = brentq(
            lambda t: (warm - t) / RESISTANCE - 0.8 * 5.670374419e-8 * (t**4 - sky**4), sky, warm, xtol=1e-12
        )
        report = solve(slab('temperature = "60 degC"', 'emissivity = 0.8\nambient = "250 K"'), options=TIGHT).report
        assert_allclose(report["surface_above_mean_C"] + ZERO, surface, rtol=0, atol=1e-7)

    def test_a_cold_floor_takes_heat(self):
        report = solve(slab('temperature = "5 degC"', 'law = "floor"\nambient = "20 degC"'), options=TIGHT).report
        assert report["heat_flow_above_W"] < 0.0
        assert_allclose(report["heat_flow_above_W"], -report["heat_flow_below_W"], rtol=1e-8, atol=0)


BLOCK = """
kind = "blocks"
[[box]]
name = "block"
x = ["0 m", "0.1 m"]
y = ["0 m", "8 m"]
z = ["0 m", "0.1 m"]
conductivity = "5000 W/(m*K)"

[[face]]
name = "cold"
on = "z-"
temperature = "20 degC"

[[tube]]
name = "tube"
axis = "y"
centre = ["0.05 m", "0.05 m"]
along = ["0 m", "8 m"]
outer_diameter = "16 mm"
inner_diameter = "12 mm"
conductivity = "0.4 W/(m*K)"
supply = "45 degC"
flow = "0.02 kg/s"

[mesh]
along = "0.5 m"
"""


METAL = replace(TIGHT, residual=1e-7)  # such conductances leave round-off of 1e-9 of the heat


@pytest.fixture(scope="module")
def result():
    """Water cooling in a metal block held at 20 °C."""
    return solve(parse_case(BLOCK), options=METAL)


class TestWater:
    def test_exponential_approach_along_the_run(self, result):
        # Every segment's mean lies on 20 + 25 exp(−y / (R C)): the logarithmic mean over the segment.
        run, water = result.solution.system.runs[0], result.solution.flows.waters[0]
        capacity = water.flow * (water.heat / (water.flow * (water.inlet - water.outlet)))
        units = run.length / ((water.film_resistance + water.wall_resistance) * capacity)
        ends = 25.0 * np.exp(-np.concatenate([[0.0], np.cumsum(units)]))
        means = (ends[:-1] - ends[1:]) / units
        # The block itself, next to no resistance, warms by a few hundredths of a kelvin.
        assert_allclose(water.temperature - ZERO - 20.0, means, rtol=0, atol=0.05)

    def test_heat_given_is_flow_times_cooling(self, result):
        water = result.solution.flows.waters[0]
        # Specific heat of water at 45 °C and 2 bar: 4180 J/(kg K) (CoolProp).
        assert_allclose(water.heat, 0.02 * 4180.0 * (water.inlet - water.outlet), rtol=3e-4, atol=0)
        assert_allclose(result.report["heat_flow_cold_W"], water.heat, rtol=1e-7, atol=0)

    def test_more_segments_change_little(self, result):
        finer = solve(parse_case(BLOCK.replace('0.5 m"', '0.1 m"')), options=METAL)
        assert finer.grid.shape[1] > 2 * result.grid.shape[1]
        assert_allclose(finer.report["outlet_tube_C"], result.report["outlet_tube_C"], rtol=0, atol=5e-3)


class TestIteration:
    CASE = slab('temperature = "45 degC"', 'law = "floor"\nambient = "20 degC"')

    def test_everyday_options_are_close_to_tight_ones(self):
        loose, tight = solve(self.CASE).report, solve(self.CASE, options=TIGHT).report
        assert_allclose(loose["heat_flow_above_W"], tight["heat_flow_above_W"], rtol=3e-6, atol=0)

    def test_a_solution_is_its_own_start(self):
        model = prepare(self.CASE)
        first = solve_steady(model.system, TIGHT)
        again = solve_steady(model.system, TIGHT, start=first.state)
        assert (again.stop_reason, len(again.history)) == ("converged", 1)

    def test_listener_hears_every_pass(self):
        heard = []
        solution = solve_steady(prepare(self.CASE).system, TIGHT, heard.append)
        assert tuple(heard) == solution.history
        assert [entry.number for entry in heard] == list(range(len(heard)))
        assert heard[-1].residual <= TIGHT.residual < heard[0].residual

    def test_pass_limit_is_said(self):
        solution = solve_steady(prepare(self.CASE).system, replace(TIGHT, passes=1))
        assert (solution.stop_reason, solution.converged) == ("pass limit", False)
        assert str(solution).startswith("Solution: pass limit")

    def test_first_guess_lies_between_the_reservoirs(self):
        system = prepare(self.CASE).system
        assert set(first_guess(system).temperature) == {ZERO + 32.5}

    def test_what_is_left_over_adds_up_to_the_imbalance(self):
        # Flux form: at any state the sum over all cells of what is left over is what the surfaces take in net.
        system = prepare(self.CASE).system
        state = first_guess(system)
        rng = np.random.default_rng(5)
        state = replace(state, temperature=state.temperature + rng.uniform(-5.0, 5.0, state.temperature.size))
        flows = evaluate(system, state)
        assert_allclose(flows.cells.sum(), -flows.balance.difference, rtol=1e-10, atol=0)

    def test_a_pass_that_gives_no_number_is_stopped(self, monkeypatch):
        system = prepare(self.CASE).system

        def spoiled(system, state, *_):
            return replace(state, temperature=np.full_like(state.temperature, np.nan))

        monkeypatch.setattr("sim.solver.steady.advance", spoiled)
        with pytest.raises(DivergedError, match=r"temperature is not a number at index \(0, 0, 0\) after 1 passes"):
            solve_steady(system, TIGHT)

    def test_linear_in_its_temperatures(self):
        # With a fixed film everything is linear: twice the lead, twice the heat.
        film = 'film = "8 W/(m^2*K)"\nambient = "20 degC"'
        once, twice = (solve(slab(f'temperature = "{t} degC"', film), options=TIGHT).report for t in (30, 40))
        assert_allclose(twice["heat_flow_above_W"], 2 * once["heat_flow_above_W"], rtol=1e-8, atol=0)
