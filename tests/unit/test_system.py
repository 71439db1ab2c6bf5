"""The assembled problem: conductances, contacts, joints, surfaces, runs and openings by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.integrate import quad

from sim.bay.cells import fill_cells
from sim.bay.geometry import AirZone, Box, Contact, Exposure, Feed, Geometry, Joint, Tube
from sim.bay.grid import Fineness, build_grid
from sim.case.materials import Material
from sim.physics.surroundings import FixedFilm, FixedFlux, FixedTemperature
from sim.solver.assemble import build_system
from sim.solver.steady import SteadyOptions, solve_steady
from sim.solver.terms.water import Water

TIGHT = SteadyOptions(residual=1e-7, imbalance=1e-9, linear_tolerance=1e-6)
MESH = Fineness((0.05, 0.25, 0.05), layer_cells=2, focus=0.02, tube_cells=4)


def material(k):
    return Material("solid", (k, k, k) if isinstance(k, float) else k, 500.0, 1600.0, 0.9)


def box(low, high, k=0.5, kind="block", **more):
    return Box(kind, kind, low, high, None if kind == "air" else material(k), **more)


def geometry(*boxes, **more):
    low = tuple(min(b.low[a] for b in boxes) for a in range(3))
    high = tuple(max(b.high[a] for b in boxes) for a in range(3))
    return Geometry("test", low, high, boxes, **{"layered": (0, 1, 2)} | more)


def assembled(case, mesh=MESH, **more):
    cells = fill_cells(case, build_grid(case, mesh))
    return cells, build_system(case, cells, **more)


def held(path, side, at, kelvin, ranges):
    return Exposure(path, side, at, ranges, FixedTemperature(kelvin))


WHOLE = ((0.0, 0.2), (0.0, 1.0))


class TestSurfaces:
    CASE = geometry(
        box((0, 0, 0), (0.2, 1, 0.1), (0.1, 0.2, 0.4)),
        exposures=(
            Exposure("up", 5, 0.1, WHOLE, FixedFilm(293.15, 8.0)),
            held("down", 4, 0.0, 280.0, WHOLE),
        ),
    )

    def test_half_cell_conductance_by_hand(self):
        cells, system = assembled(self.CASE)
        up = system.surfaces[0]
        depth = 0.5 * cells.grid.widths(2)[-1]
        assert_allclose(up.area.sum(), 0.2, rtol=1e-12, atol=0)
        assert_allclose(up.conductance, 0.4 * up.area / depth, rtol=1e-12, atol=0)
        assert_array_equal(np.unravel_index(up.cell, cells.grid.shape)[2], cells.grid.shape[2] - 1)

    def test_reservoirs(self):
        assert sorted(assembled(self.CASE)[1].reservoirs()) == [280.0, 293.15]

    def test_without_a_known_temperature(self):
        case = self.CASE.with_(exposures=(Exposure("up", 5, 0.1, WHOLE, FixedFlux(5.0)),))
        with pytest.raises(ValueError, match="nothing in the case has a known temperature"):
            assembled(case)

    def test_prints_as_a_tree(self):
        lines = str(assembled(self.CASE)[1]).splitlines()
        assert lines[0].startswith("System: ")
        assert "surface up" in lines[1]
        assert lines[-1] == "└── 0 tube runs"

    def test_tubes_and_boxes_that_are_held_are_no_runs_of_water(self):
        water, held = SimpleNamespace(feed="water"), SimpleNamespace(feed=None)
        assert Water.lines(SimpleNamespace(runs=[held, held])) == ["2 bodies held at a temperature"]
        assert Water.lines(SimpleNamespace(runs=[water, held])) == ["1 tube run", "1 body held at a temperature"]


def test_a_contact_lies_on_its_rectangle_only():
    # 0.05 m²K/W in the plane between two halves of a slab, for x < 0.1.
    case = geometry(
        box((0, 0, 0), (0.2, 1, 0.05), 0.5),
        box((0, 0, 0.05), (0.2, 1, 0.1), 0.25),
        contacts=(Contact(2, 0.05, ((0.0, 0.1), (0.0, 1.0)), 0.05),),
        exposures=(held("down", 4, 0.0, 280.0, WHOLE),),
    )
    cells, system = assembled(case)
    at = cells.grid.plane(2, 0.05) - 1
    widths = cells.grid.widths(2)
    series = 0.5 * widths[at] / 0.5 + 0.5 * widths[at + 1] / 0.25
    left = cells.grid.centres(0) < 0.1
    area = np.broadcast_to(cells.grid.face_areas(2)[:, :, 0], system.conduction.gz.shape[:2])
    expected = area / (series + np.where(left, 0.05, 0.0)[:, None])
    assert_allclose(system.conduction.gz[:, :, at], expected, rtol=1e-12, atol=0)
    assert_allclose(system.conduction.gz[:, :, at - 1], area * 0.5 / widths[at], rtol=1e-12, atol=0)


class TestJoints:
    """Q' = ΔT / R' from an isothermal tube to what it touches, the rest being next to no resistance.

    The tube's own cells, 300 W/(m K) across, are left about 0.001 m K/W.
    """

    @pytest.mark.parametrize("tube_cells", [4, 7, 16])
    def test_in_a_solid(self, tube_cells):
        # 20 K over 0.5 m K/W and the block, ln(1.08 · 100/16)/(2π 5000) = 0.00006 m K/W.
        sides = [held("out", side, at, 293.15, ((0, 1), (0, 0.1))) for side, at in ((0, 0.0), (1, 0.1))]
        sides += [held("out", side, at, 293.15, ((0, 0.1), (0, 1))) for side, at in ((4, 0.0), (5, 0.1))]
        tube = Tube("t", 1, (0.05, 0.05), (0, 1), 0.016, temperature=313.15, joints=(Joint("block", 0.5),))
        case = geometry(box((0, 0, 0), (0.1, 1, 0.1), 5000.0), tubes=(tube,), exposures=tuple(sides))
        _, system = assembled(case, replace(MESH, tube_cells=tube_cells))
        assert_allclose(solve_steady(system, TIGHT).balance.supplied["t"], 20.0 / 0.50006, rtol=1e-3, atol=0)

    @pytest.mark.parametrize("tube_cells", [4, 6, 13])
    def test_under_a_plate(self, tube_cells):
        # The plate touches the tube's top; 20 K over the bond of 0.5 m K/W whatever the width of the stepped chord.
        plate = box((0, 0, 0.016), (0.1, 1, 0.018), 5000.0, kind="plate", sheet=2)
        tube = Tube("t", 1, (0.05, 0.008), (0, 1), 0.016, temperature=313.15, joints=(Joint("plate", 0.5),))
        floor = box((0, 0, -0.01), (0.1, 1, 0.0), 0.1)
        top = held("up", 5, 0.018, 293.15, ((0, 0.1), (0, 1)))
        case = geometry(floor, plate, tubes=(tube,), exposures=(top,))
        _, system = assembled(case, replace(MESH, tube_cells=tube_cells))
        assert_allclose(solve_steady(system, TIGHT).balance.supplied["t"], 20.0 / 0.5, rtol=3e-3, atol=0)

    @pytest.mark.parametrize("contact", [2e-3, 0.02])
    def test_line_contact_under_a_plane(self, contact):
        # A tube with flats half a diameter wide: G' = ∫ dx / (R'' + x²/(2 r k)) over 8 mm, still air in the wedge.
        wood = box((0, 0, 0.016), (0.1, 1, 0.036), 5000.0, kind="sheathing")
        joints = (Joint("sheathing", contact=contact),)
        tube = Tube("t", 1, (0.05, 0.008), (0, 1), 0.016, temperature=313.15, joints=joints, flats=True)
        floor = box((0, 0, -0.01), (0.1, 1, 0.0), 0.1)
        top = held("up", 5, 0.036, 293.15, ((0, 0.1), (0, 1)))
        _, system = assembled(geometry(floor, wood, tubes=(tube,), exposures=(top,)))
        conductance, _ = quad(lambda x: 1.0 / (contact + x * x / (2 * 0.008 * 0.0266)), -0.004, 0.004)
        assert_allclose(solve_steady(system, TIGHT).balance.supplied["t"], 20.0 * conductance, rtol=3e-3, atol=0)

    def test_two_joints_in_parallel(self):
        # Plate above (0.5) and joist below (1.0 m K/W), both at 20 °C.
        plate = box((0, 0, 0.016), (0.1, 1, 0.018), 5000.0, kind="plate", sheet=2)
        joist = box((0, 0, -0.01), (0.1, 1, 0.0), 5000.0, kind="joist")
        joints = (Joint("plate", 0.5), Joint("joist", 1.0))
        tube = Tube("t", 1, (0.05, 0.008), (0, 1), 0.016, temperature=313.15, joints=joints)
        ends = (held("up", 5, 0.018, 293.15, ((0, 0.1), (0, 1))), held("down", 4, -0.01, 293.15, ((0, 0.1), (0, 1))))
        _, system = assembled(geometry(joist, plate, tubes=(tube,), exposures=ends))
        found = solve_steady(system, TIGHT).balance
        assert_allclose([found.delivered["up"], found.delivered["down"]], [40.0, 20.0], rtol=3e-3, atol=0)


class TestRuns:
    def runs(self, **more):
        feed = Feed(320.0, 0.02, None, 60.0)
        tubes = tuple(
            Tube(f"run {n}", 1, (x, 0.05), (0, 1), 0.016, 0.012, 0.4, feed, order=n, reverse=n % 2 == 1)
            for n, x in enumerate((0.05, 0.15))
        )
        tubes = tuple(replace(tube, **more) for tube in tubes)
        case = geometry(box((0, 0, 0), (0.2, 1, 0.1)), tubes=tubes, exposures=(held("down", 4, 0.0, 280.0, WHOLE),))
        return assembled(case)[1].runs

    def test_each_segment_is_shared_out_whole(self):
        for run in self.runs():
            assert_allclose(np.bincount(run.segment, run.share), 1.0, rtol=1e-12, atol=0)
            assert_allclose(run.length.sum(), 1.0, rtol=1e-12, atol=0)

    def test_flow_direction(self):
        there, back = self.runs()
        assert (np.diff(there.position) > 0).all()
        assert_allclose(back.position, there.position[::-1], rtol=1e-12, atol=0)
        assert_allclose(back.length, there.length[::-1], rtol=1e-12, atol=0)
        # The first segment of the run that comes back lies at the far end.
        cells = back.cell[back.segment == 0]
        assert set(np.unravel_index(cells, self.shape())[1]) == {self.shape()[1] - 1}

    def shape(self):
        case = geometry(box((0, 0, 0), (0.2, 1, 0.1)), tubes=(), exposures=(held("d", 4, 0.0, 280.0, WHOLE),))
        feed = Feed(320.0, 0.02, None, 60.0)
        tubes = tuple(Tube("t", 1, (x, 0.05), (0, 1), 0.016, 0.012, 0.4, feed) for x in (0.05, 0.15))
        return build_grid(case.with_(tubes=tubes), MESH).shape

    def test_series_and_parallel(self):
        assert [run.after for run in self.runs()] == [None, 0]
        assert [run.after for run in self.runs(order=None)] == [None, None]


class TestCavity:
    AIR = box((0.02, 0, 0.02), (0.18, 1, 0.08), kind="air")
    ZONES = (AirZone("low", (0, 0, 0), (0.2, 1, 0.05)), AirZone("high", (0, 0, 0.05), (0.2, 1, 0.1)))
    CASE = geometry(box((0, 0, 0), (0.2, 1, 0.1)), AIR, zones=ZONES, exposures=(held("down", 4, 0.0, 280.0, WHOLE),))

    def test_openings_between_zones_by_hand(self):
        # They meet in a level plane of 0.16 m × 1 m; each is 0.03 m high.
        openings = assembled(self.CASE)[1].cavity.openings
        assert (openings.first.tolist(), openings.second.tolist(), openings.level.tolist()) == ([0], [1], [True])
        assert_allclose(openings.area, [0.16], rtol=1e-12, atol=0)
        assert_allclose(openings.path, [0.03], rtol=1e-12, atol=0)
        # A level opening of 0.16 m² exchanges air like a square of 0.4 m.
        assert_allclose(openings.height, [0.4], rtol=1e-12, atol=0)

    def test_an_upright_opening_is_as_high_as_the_air(self):
        # They meet in an upright plane of 0.06 m × 1 m; the longer one is 0.1 m along the way through it.
        zones = (AirZone("left", (0, 0, 0), (0.08, 1, 0.1)), AirZone("right", (0.08, 0, 0), (0.2, 1, 0.1)))
        openings = assembled(self.CASE.with_(zones=zones))[1].cavity.openings
        assert openings.level.tolist() == [False]
        assert_allclose(openings.area, [0.06], rtol=1e-12, atol=0)
        assert_allclose(openings.height, [0.06], rtol=1e-12, atol=0)
        assert_allclose(openings.path, [0.10], rtol=1e-12, atol=0)

    @pytest.mark.parametrize("air", ["films", "still"])
    def test_feet_stand_on_the_cells_beside_the_face(self, air):
        cells, system = assembled(self.CASE, air_model=air)
        cavity = system.cavity
        assert_allclose(cavity.feet.weight.sum(axis=1), 1.0, rtol=1e-12, atol=0)
        assert cavity.zone_count == (2 if air == "films" else 0)
        beside = 2 if air == "still" else 1
        assert cavity.feet.cells.shape == (len(cavity.body), beside)
        assert system.conduction.active.sum() == (cells.solid | (cells.air & (air == "still"))).sum()

    def test_wall_areas_and_lost_rays(self):
        cavity = assembled(self.CASE)[1].cavity
        # Top and bottom 0.16 m², sides 0.06 m²; the ends are planes of symmetry.
        sides = [cavity.walls.area[cavity.side == side].sum() for side in range(6)]
        assert_allclose(sides, [0.06, 0.06, 0.0, 0.0, 0.16, 0.16], rtol=1e-12, atol=0)
        assert cavity.lost_rays == 0.0

    def test_a_tube_has_its_round_area(self):
        tube = Tube("t", 1, (0.1, 0.05), (0, 1), 0.016, temperature=313.15)
        cells, system = assembled(self.CASE.with_(tubes=(tube,)))
        own = np.array(cells.kinds())[system.cavity.body] == "tube"
        assert_allclose(system.cavity.walls.area[own].sum(), np.pi * 0.016, rtol=1e-9, atol=0)

    def test_an_air_model_that_is_not_known(self):
        known = "known are films, correlations, still, resolved"
        with pytest.raises(ValueError, match=f'no air model "by hearsay"; {known}'):
            assembled(self.CASE, air_model="by hearsay")

    def test_no_cavity(self):
        solid = geometry(box((0, 0, 0), (0.2, 1, 0.1)), exposures=(held("down", 4, 0.0, 280.0, WHOLE),))
        assert assembled(solid)[1].cavity is None
