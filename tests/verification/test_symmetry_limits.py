"""Symmetries that the equations have, and limits that a bay must tend to. Oracle: the run itself, turned round."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_bays import changed, small_bay, solved

from sim.bay.cells import fill_cells
from sim.case.taught import uses_learned_films
from sim.run import prepare, solve, solve_model
from sim.solver.assemble import build_system
from sim.solver.learned_air import with_learned_films
from sim.solver.steady import SteadyOptions

TIGHT = SteadyOptions(residual=1e-7, imbalance=1e-8, linear_tolerance=1e-4)
EXACT = 1e-6  # [K] without a cavity only the iteration differs
TRACED = 0.05  # [K] of 25 K: view factors are traced with other rays on either side


def largest_difference(one, other, axis):
    """Largest difference of the temperatures when the second run is turned round along an axis [K]."""
    return float(np.nanmax(np.abs(one.solution.temperature - np.flip(other.solution.temperature, axis))))


def up(result):
    return result.report["heat_flux_up_W_m2"]


def down(result):
    return result.report["heat_flow_down_W"]


@pytest.mark.parametrize(
    ("variant", "atol"), [("insulation full", EXACT), ("fastened", TRACED), ("hung", TRACED), ("still air", TRACED)]
)
class TestSymmetry:
    def test_mirror(self, variant, atol):
        # A tube left of the middle warms the bay as one right of it.
        left, right = (
            solve(
                small_bay(variant, tube={"positions": [x]}, plates={"width": "100 mm"}),
                options=TIGHT,
            )
            for x in ("110 mm", "190 mm")
        )
        assert largest_difference(left, right, 0) < atol
        assert_allclose(up(left), up(right), rtol=1e-3 if atol > EXACT else 1e-8, atol=0)
        assert largest_difference(left, left, 0) > 1.0

    def test_own_symmetry(self, variant, atol):
        result = solve(small_bay(variant), options=TIGHT)
        assert largest_difference(result, result, 0) < atol

    def test_flip(self, variant, atol):
        # Water that enters at the other end.
        case = small_bay(variant, water={"flow": "0.2 l/min"})
        model = prepare(case)
        turned = tuple(replace(tube, reverse=not tube.reverse) for tube in model.geometry.tubes)
        geometry = model.geometry.with_(tubes=turned)
        cells = fill_cells(geometry, model.grid)
        system = build_system(geometry, cells, case.air.model)
        if uses_learned_films(case):
            system = with_learned_films(system, cells)
        back = replace(model, geometry=geometry, cells=cells, system=system)
        one, other = solve_model(model, options=TIGHT), solve_model(back, options=TIGHT)
        assert largest_difference(one, other, 1) < atol
        assert largest_difference(one, one, 1) > 2 * atol


class TestLimits:
    def test_contact_tends_to_perfect(self):
        fluxes = [up(changed("fastened", plates={"contact": f"{r} m^2*K/W"})) for r in ("0.05", "1e-3", "1e-6", "0")]
        assert fluxes[0] < fluxes[1] < fluxes[2] <= fluxes[3]
        assert_allclose(fluxes[2], fluxes[3], rtol=1e-5, atol=0)

    def test_bond_tends_to_perfect(self):
        fluxes = [up(changed("fastened", plates={"bond": f"{r} m*K/W"})) for r in ("0.1", "1e-3", "1e-6", "0")]
        assert fluxes[0] < fluxes[1] < fluxes[2] <= fluxes[3]
        assert_allclose(fluxes[2], fluxes[3], rtol=1e-5, atol=0)

    def test_plate_too_thin_to_spread_is_no_plate(self):
        # A sheet of 50 µm that conducts like wood, in perfect contact, changes next to nothing under the floor.
        poor = {"thickness": "0.05 mm", "conductivity": "0.12 W/(m*K)", "contact": "0 m^2*K/W", "bond": "0 m*K/W"}
        poor |= {"emissivity_up": 0.9, "emissivity_down": 0.9}
        with_it = changed("fastened", plates=poor, tube={"contact": "0 m^2*K/W"})
        without = changed("no plates", tube={"contact": "0 m^2*K/W"})
        good = changed("fastened", plates=poor | {"conductivity": "200 W/(m*K)"}, tube={"contact": "0 m^2*K/W"})
        assert abs(up(with_it) - up(without)) < 0.25 * (up(good) - up(without))

    def test_bright_plates_give_less_to_the_cavity(self):
        fluxes = [
            up(changed("hung", plates={"emissivity_up": e, "emissivity_down": 0.05})) for e in (0.9, 0.1, 1e-3, 0.0)
        ]
        assert fluxes[0] > fluxes[1] > fluxes[2] > fluxes[3] - 1e-4
        assert_allclose(fluxes[2], fluxes[3], rtol=2e-3, atol=0)

    def test_insulation_keeps_heat_in(self):
        bare, insulated, full = (solved(name) for name in ("no insulation", "fastened", "insulation full"))
        assert down(bare) > down(insulated) > down(full) > 0.0

    def test_an_adiabatic_underside_loses_nothing_and_gives_most(self):
        closed = solved("adiabatic")
        assert down(closed) == 0.0
        assert up(closed) > up(solved("fastened")) > up(solved("unheated below")) > up(solved("outdoors"))

    def test_films_of_air_carry_more_than_still_air(self):
        assert up(solved("fastened")) > up(solved("still air"))

    def test_much_water_stays_warm(self):
        result = changed("fastened", water={"flow": "20 l/min"})
        assert 0.0 < result.report["water_supply_C"] - result.report["water_return_C"] < 0.01

    def test_no_lead_no_heat(self):
        # Everything at 20 °C but water 0.01 K warmer: output in proportion, to the power 1.1 of the floor law or less.
        same = {"room": {"temperature": "20 degC"}, "below": {"kind": "heated room", "temperature": "20 degC"}}
        small = changed("fastened", water={"supply": "20.01 degC"}, **same)
        large = changed("fastened", water={"supply": "45 degC"}, **same)
        assert 0.0 < up(small) < up(large) * 0.01 / 25.0
