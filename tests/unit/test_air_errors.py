"""Errors of computed air: layers at walls, smaller films, what pieces of a window and other meshes tell."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hung_plate import hung_text
from numpy.testing import assert_allclose
from scipy import sparse
from tiny_bays import HUNG

from sim.airflow import layers
from sim.airflow.domain import Sheet, build_domain
from sim.airflow.flow import Flow, air_at
from sim.airflow.layers import cell_shares, front_difference, layer_cells, plume_share, plume_shares
from sim.airflow.walls import find_walls
from sim.case.load import parse_case
from sim.resolved import open_errors
from sim.resolved.contact import FaceOverlaps
from sim.resolved.domain import GROWTH, AirSizes, air_sizes, build_air_domain
from sim.resolved.pattern import pattern_words, plumes
from sim.resolved.suited import FINER_AT_PLATES, GROWTH_AT_PLATES, CavityOutlook, bay_sizes, suited_sizes
from sim.resolved.thinner import IN_BAYS, FilmBound, film_losses, free_bound, thinner_films
from sim.results.air_errors import error_values
from sim.results.people import report_rows, unit_of
from sim.run import air_settings, prepare
from sim.solver.assemble_cavity import REPEATS, SEED

EDGES = (np.linspace(0.0, 0.1, 11), np.array([0.0, 1.0]), np.linspace(0.0, 0.1, 11))


def still_layer(sheets=()):
    """A square of air of 10 x 10 cells whose temperature rises by 1 K a cell towards x+, its walls at 300 and 310 K."""
    domain = build_domain(EDGES, sheets=sheets)
    walls = find_walls(domain)
    wall = walls.temperatures({"x-": 300.0, "x+": 310.0})
    temperature = np.broadcast_to(300.0 + np.arange(0.5, 10.0)[:, None, None], domain.shape)
    return domain, walls, wall, temperature


def test_in_air_that_conducts_a_layer_is_as_thick_as_what_was_looked_at():
    domain, walls, wall, temperature = still_layer()
    assert_allclose(front_difference(domain, walls, wall, temperature)[walls.side == 0], 5.5)
    heat = np.where(walls.side == 0, -1.0, 1.0) * np.where(np.isnan(wall), 0.0, 0.026 * walls.area * 1.0 / 0.01)
    shares = cell_shares(domain, walls, heat, wall, temperature, 0.026)
    # q = k 1 K / cell, difference 5.5 K: the layer is 5.5 cells
    assert_allclose(layer_cells(shares, heat), 5.5, rtol=1e-12)


def test_a_sheet_ends_the_air_in_front_of_a_wall():
    sheet = Sheet("sheet", 0, 0.02, ((0.0, 0.1), (0.0, 1.0), (0.0, 0.1)))
    domain, walls, wall, temperature = still_layer([sheet])
    on_side = (walls.side == 0) & (walls.group == 0)
    assert_allclose(front_difference(domain, walls, wall, temperature)[on_side], 1.5)


def test_losses_go_with_the_square_of_the_cell_and_have_an_end():
    bound = free_bound("bounded")
    assert_allclose(film_losses(np.array([0.0, 0.25, 0.5]), bound) / 0.42, [0.0, 0.0625, 0.25])
    assert_allclose(film_losses(np.array([1.0]), bound), 0.42)


def test_a_film_that_sends_plumes_loses_what_wide_cells_cannot_carry():
    """The larger of both bounds, as layers add heat and plumes lose it; in bays both were measured together."""
    shares, plumes = np.array([0.1, 0.5, 0.1]), np.array([0.02, 0.02, 0.0])
    assert_allclose(film_losses(shares, FilmBound(0.42, 3.0), plumes), [0.06, 0.42 * 0.25, 0.42 * 0.01])
    assert_allclose(film_losses(shares, IN_BAYS, plumes), IN_BAYS.layers * shares**2)


def test_what_wider_cells_lose_of_a_plume_is_what_it_varies_by_within_them():
    """Rise and warmth that alternate along x: two neighbours together carry nothing, and half of all pairs are such.

    Of ten cells in a row with rise and warmth ±1 (mean warmth 0) each carries 1: nine pairs lose 1/2 (2 · 2) / 2 each.
    """
    domain = build_domain(EDGES)
    sign = np.where(np.arange(10) % 2 == 0, 1.0, -1.0)[:, None, None]
    rise = np.broadcast_to(0.1 * sign, (10, 1, 11))
    sides = (np.zeros((11, 1, 10)), np.zeros((10, 2, 10)))
    flow = Flow((*sides, rise), np.broadcast_to(300.0 + sign, (10, 1, 10)))
    assert_allclose(plume_share(domain, flow), 9.0 / 10.0, rtol=1e-12)
    even = Flow((*sides, np.full((10, 1, 11), 0.1)), flow.temperature)
    assert plume_share(domain, even) == 0.0, "an even rise loses nothing, however the warmth varies"
    assert plume_share(domain, Flow((*sides, 0.0 * rise), flow.temperature)) == 0.0, "air at rest carries nothing"


def test_of_unlike_neighbours_the_narrow_one_weighs_less():
    """Columns 1 and 4 wide, carry 1 · 0.4 · 0.8 and 4 · 0.1 · 0.2, together nothing: 0.4, half of it a pair's."""
    domain = build_domain((np.array([0.0, 0.02, 0.1]), *EDGES[1:]))
    rise, warmth = (np.array(values)[:, None, None] for values in ([0.4, -0.1], [0.8, -0.2]))
    velocity = (np.zeros((3, 1, 10)), np.zeros((2, 2, 10)), np.broadcast_to(rise, (2, 1, 11)))
    assert_allclose(plume_share(domain, Flow(velocity, np.broadcast_to(300.0 + warmth, (2, 1, 10)))), 0.5, rtol=1e-10)


def test_a_wall_between_two_cells_makes_them_no_plume():
    half = np.broadcast_to(np.where(np.arange(10) < 5, 1.0, -1.0)[:, None, None], (10, 1, 10))
    rise = np.broadcast_to(half[:, :, :1], (10, 1, 11))
    flow = Flow((np.zeros((11, 1, 10)), np.zeros((10, 2, 10)), rise), 300.0 + half)
    sheet = Sheet("sheet", 0, 0.05, ((0.0, 0.1), (0.0, 1.0), (0.0, 0.1)))
    assert_allclose(plume_share(build_domain(EDGES), flow), 0.1, rtol=1e-12)  # the pair in the middle, of ten cells
    assert plume_share(build_domain(EDGES, sheets=[sheet]), flow) == 0.0


def test_plumes_leave_warm_floors_and_cool_ceilings(monkeypatch):
    domain = build_domain(EDGES)
    walls, heat = find_walls(domain), np.ones(find_walls(domain).count)
    monkeypatch.setattr(layers, "plume_share", lambda *_: 0.04)
    for sign, side in ((1.0, 4), (-1.0, 5)):
        found = plume_shares(domain, walls, sign * heat, None)
        assert_allclose(found, np.where(walls.side == side, 0.04, 0.0))


def test_smaller_films_give_less_heat_at_the_same_temperatures_and_none_lost_the_same():
    contact = FaceOverlaps(sparse.csr_array(np.eye(5)))
    heat, wall = np.array([3.0, -1.0, -2.0, 0.5, -1.0]), np.array([330.0, 310.0, 290.0, 309.9, 320.0])
    for loss in (0.0, 0.2):
        held = thinner_films(contact, np.ones(5), heat, wall, np.full(5, loss), np.full(5, 0.8), 310.0)(310.0)
        given = held.film * (wall - held.temperature)
        # the second and the fourth face are as warm as the middle, the last has heat against its difference: they keep
        # what they gave
        assert_allclose(given, heat * np.array([1.0 - loss, 1.0, 1.0 - loss, 1.0, 1.0]), rtol=1e-12)
        assert_allclose(held.film[[1, 3, 4]], 0.8, rtol=1e-12)


def test_a_face_that_no_air_reaches_has_no_film():
    contact = FaceOverlaps(sparse.csr_array(np.eye(3, 4)))
    held = thinner_films(
        contact, np.ones(4), np.array([3.0, -1.0, -2.0]), np.array([330.0, 309.0, 290.0, 320.0]), np.zeros(3),
        np.full(4, 5.0), 310.0,
    )(310.0)  # fmt: skip
    assert held.film[3] == 0.0 and (held.film[:3] > 0.0).all()


def test_with_smaller_films_the_middle_is_as_warm_as_lets_the_air_take_up_the_heat_that_it_did(monkeypatch):
    """Two walls of 2 m² at 330 and 300 K that gave 80 and −30 W to air of 310 K. Films 2 and 1.5 W/m²K, half of each
    left: 2 m² (1 (330 − T) + 0.75 (300 − T)) = 50 W at T = 530/1.75 K."""
    heat, wall, area = np.array([80.0, -30.0]), np.array([330.0, 300.0]), np.array([2.0, 2.0])

    class Cavity:
        walls = SimpleNamespace(zone=np.zeros(2, np.int64), area=area)

        def with_walls(self, held, zone):
            assert (zone == -1).all()
            return held

    def solids(held, *_):
        """Walls that stay as warm as they are."""
        convective = held.film * area * (wall - held.temperature)
        return SimpleNamespace(held=held, flows=SimpleNamespace(walls=SimpleNamespace(convective=convective)))

    monkeypatch.setattr(open_errors, "solve_steady", solids)
    course = SimpleNamespace(
        system=SimpleNamespace(cavity=Cavity(), with_term=lambda held: held), film=np.full(2, 5.0), state=None,
        settings=SimpleNamespace(loss=FilmBound(0.5, 0.0)), contact=FaceOverlaps(sparse.csr_array(np.eye(2))),
    )  # fmt: skip
    air = SimpleNamespace(mean_temperature=310.0, cell_shares=np.ones(2), plume_shares=np.zeros(2), heat=heat)
    found = open_errors.thinner_answer(course, air, wall, None)
    assert_allclose(found.held.film, [1.0, 0.75], rtol=1e-12)
    assert_allclose(found.held.temperature, (330.0 + 0.75 * 300.0 - 25.0) / 1.75, rtol=1e-9)
    assert_allclose(found.flows.walls.convective.sum(), 50.0, rtol=1e-9)


def test_errors_of_a_number_come_from_pieces_films_and_companion():
    pieces = [SimpleNamespace(value=10.0 + d) for d in (0.1, -0.1, 0.1, -0.1, 0.1, -0.1, 0.1, -0.1)]
    coarser = SimpleNamespace(solution=SimpleNamespace(value=11.0))
    air = SimpleNamespace(
        batches=pieces, thinner=SimpleNamespace(value=9.8), coarser=coarser, lopsided=None, other_rays=(),
        evidence=SimpleNamespace(beyond={"top": 1.5, "ripple": 3.0}, starts=1), unseen=0.0, too_coarse=False,
    )  # fmt: skip

    def numbers(answer):
        return {"heat_flow_top_W": answer.value}

    found = error_values({"heat_flow_top_W": 10.0}, air, numbers)
    scatter = 1.5 * np.std([0.1, -0.1] * 4, ddof=1) / np.sqrt(8.0)  # pieces of this path tell too little by 1.5
    assert_allclose(found["heat_flow_top_W_standard_error"], scatter, rtol=1e-12)
    assert_allclose(found["heat_flow_top_W_mesh_error"], 0.7, rtol=1e-12)
    assert_allclose(found["heat_flow_top_W_uncertainty"], np.hypot(2.0 * scatter, 0.7), rtol=1e-12)
    assert_allclose(found["air_mesh_error_percent"], 7.0, rtol=1e-12)
    air.coarser = None
    assert_allclose(error_values({"heat_flow_top_W": 10.0}, air, numbers)["heat_flow_top_W_mesh_error"], 0.2)
    alone = {"probe_a_C": 10.0}  # no series of its own: the most that any series needs
    found = error_values(alone, air, lambda answer: {"probe_a_C": answer.value})
    assert_allclose(found["probe_a_C_standard_error"], 2.0 * scatter, rtol=1e-12)
    drifting = [SimpleNamespace(value=10.0 + 0.1 * n) for n in range(8)]
    air.batches, air.evidence.beyond = drifting, {}
    assert_allclose(error_values({"heat_flow_top_W": 10.0}, air, numbers)["heat_flow_top_W_standard_error"], 0.2)


def test_a_band_holds_the_scatter_of_traced_rays():
    # Student's t of four answers: 3.182; the deviation of 10.0, 10.1, 9.9, 10.0 is 0.0816.
    others = tuple(SimpleNamespace(value=value) for value in (10.1, 9.9, 10.0))
    pieces = [SimpleNamespace(value=10.0)] * 8
    air = SimpleNamespace(
        batches=pieces, thinner=SimpleNamespace(value=9.8), coarser=None, lopsided=None, other_rays=others,
        evidence=SimpleNamespace(beyond={}, starts=1), unseen=0.0, too_coarse=False,
    )  # fmt: skip
    found = error_values({"heat_flow_top_W": 10.0}, air, lambda answer: {"heat_flow_top_W": answer.value})
    rays = 3.182 * (0.02 / 3) ** 0.5
    assert_allclose(found["heat_flow_top_W_ray_error"], rays, rtol=1e-12)
    assert_allclose(found["heat_flow_top_W_uncertainty"], np.hypot(0.2, rays), rtol=1e-12)


def test_only_the_band_is_printed_and_temperatures_have_theirs_in_kelvin():
    report = {"surface_peak_C": 28.0} | {f"surface_peak_C{end}": 0.1 for end in ("_uncertainty", "_mesh_error")}
    rows = report_rows(report)
    assert [row.text for row in rows] == ["28.00 ± 0.10 °C"]
    assert unit_of("surface_peak_C_mesh_error").si == "K"


@pytest.mark.parametrize(("height", "nusselt"), [(0.0213, 2.245), (0.0459, 4.522), (0.0990, 8.825)])
def test_expected_layers_are_those_of_the_square_heated_from_the_side(height, nusselt):
    """Le Quéré 1991 at Rayleigh numbers 1e4, 1e5 and 1e6: here 10 K at 293.5 K; heat prefers layers thinner by 0.7."""
    cavity = CavityOutlook((height, 0.0, height), 10.0, air_at(293.5))
    assert_allclose(cavity.layer, 0.7 * height / (2.0 * nusselt), rtol=0.08)


def test_cells_follow_the_cavity_and_each_word_halves_the_error():
    usual = AirSizes(0.010, 0.0035)
    small = CavityOutlook((0.046, 0.0, 0.046), 10.0, air_at(293.5))
    walls = [suited_sizes(word, small, usual).wall for word in ("coarse", "normal", "fine", "finest")]
    assert_allclose(np.diff(np.log(np.square(walls))), -np.log(2.0), rtol=0.05)
    still = CavityOutlook((2.0, 0.0, 0.05), 0.1, air_at(293.5))
    assert suited_sizes("normal", still, usual) == AirSizes(0.05 / 14, 0.0035)
    deep = CavityOutlook((0.4, 4.0, 0.2), 40.0, air_at(293.5))
    assert_allclose(suited_sizes("normal", deep, usual).wall, 0.2 / 64)


def test_plumes_are_counted_and_a_change_is_told():
    domain = build_domain(EDGES)
    rise = np.zeros((10, 1, 11))
    rise[[2, 7], 0, 4:7] = 0.05
    flow = Flow((np.zeros((11, 1, 10)), np.zeros((10, 2, 10)), rise), np.zeros((10, 1, 10)))
    assert plumes(domain, flow) == 2
    for share, count in ((0.41, 2), (0.39, 1)):  # of the strongest rise
        rise[7] = rise[2] * share
        assert plumes(domain, flow) == count
    assert "3 plumes on the coarsest mesh, then 2, then 2" in pattern_words([3, 2, 2])


def test_plumes_side_by_side_along_the_tubes_are_counted_too():
    domain = build_domain((EDGES[0], np.linspace(0.0, 1.0, 6), EDGES[2]))
    rise = np.zeros((10, 5, 11))
    rise[3, 1, 4:7] = rise[3, 3, 4:7] = rise[8, 3, 4:7] = 0.05
    flow = Flow((np.zeros((11, 5, 10)), np.zeros((10, 6, 10)), rise), np.zeros((10, 5, 10)))
    assert plumes(domain, flow) == 3
    rise[3, 2, 5] = 0.05
    assert plumes(domain, flow) == 2, "two that touch are one"


def test_rays_are_drawn_anew_so_many_times_and_never_as_they_were(monkeypatch):
    seeds = []
    monkeypatch.setattr(open_errors, "thinner_answer", lambda *_: None)
    monkeypatch.setattr(open_errors, "batches", lambda *_: [])
    monkeypatch.setattr(open_errors, "_other_rays", lambda course, heat, wall, seed: seeds.append(seed) or seed)
    monkeypatch.setattr(open_errors, "replace", lambda air, **found: found)
    course = SimpleNamespace(settings=SimpleNamespace(least_rounds=1), mirror=SimpleNamespace(planes=()))
    found = open_errors.with_errors(course, SimpleNamespace(heat=None), [], None)["other_rays"]
    assert len(found) == len(set(seeds)) == REPEATS and SEED not in seeds


def test_cells_of_a_bay_follow_its_gap_its_plates_and_its_difference():
    usual = air_sizes("normal")
    wide = CavityOutlook((0.37, 0.23, 0.15), 20.0, air_at(310.0))
    assert bay_sizes("normal", wide, usual).wall == usual.wall, "never larger than the usual ones"
    hot = replace(wide, difference=60.0)
    assert bay_sizes("normal", hot, usual).wall < usual.wall
    # five cells in a gap of 10 mm, eight on a plate of 40 mm
    assert_allclose(bay_sizes("normal", replace(wide, gap=0.010), usual).wall, 0.002)
    assert_allclose(bay_sizes("normal", replace(wide, plate=0.040), usual).cell, 0.005)
    walls = [bay_sizes(word, hot, air_sizes(word)).wall for word in ("coarse", "normal", "fine", "finest")]
    # each word halves the error, which goes with the square
    assert_allclose(np.divide(walls[:-1], walls[1:]), 2.0**0.5, rtol=0.02)


@pytest.mark.parametrize("word", ["coarse", "normal", "fine", "finest"])
def test_where_plates_hang_flat_cells_at_walls_are_finer_and_those_inside_as_large(word):
    hot = CavityOutlook((0.37, 0.23, 0.15), 60.0, air_at(310.0), gap=0.04, plate=0.13)
    bare, flat = (bay_sizes(word, replace(hot, flat=hung), air_sizes(word)) for hung in (False, True))
    assert_allclose([bare.wall / flat.wall, bare.cell / flat.cell], [FINER_AT_PLATES, 1.0])
    assert (bare.growth, flat.growth) == (GROWTH, GROWTH_AT_PLATES)


def test_cells_grow_alike_whether_stated_or_not():
    """As flat plates hung ask for; not for upright ones, nor among blocks."""
    flat = parse_case(HUNG).with_text("air.model", "resolved")
    stated = flat.with_(**{"air.cell": 0.01, "air.wall_cell": 0.002})
    upright = flat.with_(**{"plates.orientation": "upright", "plates.drop": 0.01, "plates.width": 0.05})
    growths = [air_settings(case).sizes.growth for case in (flat, stated, upright, parse_case(hung_text(0.001)))]
    assert growths == [GROWTH_AT_PLATES, GROWTH_AT_PLATES, GROWTH, GROWTH]
    assert air_settings(stated).sizes.refined(0.5) == AirSizes(0.02, 0.004, GROWTH_AT_PLATES)


def test_faster_growth_makes_fewer_cells_of_the_same_size_at_walls():
    cells = prepare(parse_case(HUNG)).cells
    usual, faster = (build_air_domain(cells, AirSizes(0.02, 0.003, growth)) for growth in (GROWTH, GROWTH_AT_PLATES))
    assert faster.cells < 0.9 * usual.cells
    assert_allclose(faster.widths[2][-1], usual.widths[2][-1], rtol=0.12)


def test_the_bound_of_bays_is_about_half_of_that_of_squares():
    shares = np.array([0.3, 0.8])
    assert_allclose(film_losses(shares, IN_BAYS) / film_losses(shares, free_bound("bounded")), 0.55, rtol=0.01)
