"""Mirror images: which bays have them, that means use both halves, and that a run ends when the ripple is known."""

from types import SimpleNamespace

import numpy as np
import pytest
import tomli_w
from numpy.testing import assert_allclose

from sim.airflow.walls import find_walls
from sim.case.load import parse_case
from sim.resolved import mirror
from sim.resolved.course import SOLIDS
from sim.resolved.march import lay_out, take_round
from sim.resolved.means import BATCHES, LEAST_ROUNDS, Round, ripple_known, weigh
from sim.resolved.mirror import Mirror, find_mirror, surface_cells, surface_temperatures
from sim.results.air_errors import map_error
from sim.results.air_remarks import air_remarks
from sim.run import air_settings, prepare
from sim.solver.steady import solve_steady

BOTH = Mirror(*3 * ((np.array([1, 0, 2]),),))
"""Of three places the second is the first one's mirror image."""

BAY = {
    "span": "pitch",
    "bay": {"joist_spacing": "300 mm", "joist_width": "38 mm", "joist_depth": "184 mm", "length": "0.6 m"},
    "floor": {"sheathing": {"material": "plywood", "thickness": "19 mm"}},
    "plates": {"width": "120 mm", "length": "200 mm", "spacing": "300 mm", "thickness": "0.5 mm", "position": "hung",
               "drop": "40 mm"},
    "tube": {"size": "1/2", "runs": 1},
    "cavity": {"insulation": {"material": "glass wool batt", "thickness": "90 mm"}},
    "water": {"supply": "45 degC", "flow": "1.5 l/min"},
    "room": {"temperature": "20 degC"},
    "below": {"kind": "heated room", "temperature": "18 degC"},
    "mesh": {"fineness": "coarse", "across": "25 mm", "along": "80 mm", "through": "40 mm"},
    "air": {"model": "resolved", "cell": "40 mm", "wall_cell": "20 mm", "companion": False, "longest": "20 s"},
}  # fmt: skip


def bay(**air):
    return prepare(parse_case(tomli_w.dumps({**BAY, "air": {**BAY["air"], **air}})))


def mirror_of(model, films=None, axes=(0, 1)):
    domain = model.air_domain()
    films = solve_steady(model.system, SOLIDS).flows.walls.temperature if films is None else films
    return domain, find_mirror(model.system, domain, find_walls(domain), films, "up", axes)


def test_a_pitch_with_its_tube_in_the_middle_is_symmetric_across_and_along():
    model = bay()
    domain, mirror = mirror_of(model)
    assert mirror.planes == 2
    walls, cavity = find_walls(domain), model.system.cavity
    middle = 0.5 * (domain.edges[0][0] + domain.edges[0][-1])
    there, here = cavity.centre[mirror.solid[0]], cavity.centre
    assert_allclose(there[:, 0], 2.0 * middle - here[:, 0], atol=1e-9)
    assert_allclose(there[:, 1:], here[:, 1:], atol=1e-9)
    assert_allclose(walls.area[mirror.air[1]], walls.area, rtol=1e-9)


def test_walls_of_different_warmth_are_no_mirror_images():
    model = bay()
    place = model.system.cavity.centre[:, 0]
    _, mirror = mirror_of(model, films=300.0 + 10.0 * place)
    assert mirror.planes == 1, "what rises across has no image across, but one along"


def test_means_of_both_halves_keep_every_sum_and_lose_what_leans():
    model = bay()
    domain, mirror = mirror_of(model)
    cells = surface_cells(model.system, "up")
    leaning = 300.0 + (cells[:, 0] - cells[:, 0].mean())
    assert_allclose(mirror.of_surface(leaning), 300.0, rtol=1e-12)
    heat = np.random.default_rng(1).random(find_walls(domain).count)
    both = mirror.of_air(heat)
    assert_allclose(both.sum(), heat.sum(), rtol=1e-12)
    assert_allclose(both[mirror.air[0]], both, rtol=1e-12)


@pytest.mark.parametrize(
    ("thinner", "coarser", "unseen", "mesh"),
    [(0.3, 0.2, 0.0, 0.3), (0.3, 1.0, 0.0, 0.7), (0.3, None, 0.0, 0.3), (0.0, None, 0.5, 0.5),
     (0.0, 0.3, 0.5, 0.375), (0.0, 9.0, 0.5, 6.3)],
)
def test_the_map_counts_half_the_difference_of_its_halves_and_what_other_meshes_make_of_it(
    thinner, coarser, unseen, mesh
):
    """A map without scatter whose halves differ by 0.2 K everywhere is known to 0.1 K but for its mesh.

    Of the mesh layers, 0.7 of a companion's change, and of what neither sees a share of the map's standard deviation,
    three quarters of it beside a companion. A mean of the floor is never less well known than its map.
    """
    model = bay()
    solution = solve_steady(model.system, SOLIDS)
    left = surface_cells(model.system, "up")[:, 0] < model.grid.shape[0] / 2
    here = surface_temperatures(model.system, solution.flows.surfaces, "up")
    area = np.concatenate([s.area for s in model.system.surfaces if s.path == "up"])
    spread = np.average((here - np.average(here, weights=area)) ** 2, weights=area) ** 0.5

    def moved(by):
        return SimpleNamespace(system=model.system, flows=SimpleNamespace(surfaces=[
            SimpleNamespace(temperature=here + by) if surface.path == "up" else heat
            for surface, heat in zip(model.system.surfaces, solution.flows.surfaces, strict=True)
        ]))  # fmt: skip

    air = SimpleNamespace(
        batches=[solution] * BATCHES, lopsided=moved(np.where(left, 0.1, -0.1)), evidence=SimpleNamespace(beyond={}),
        thinner=moved(thinner), coarser=None if coarser is None else SimpleNamespace(solution=moved(coarser)),
        other_rays=(), unseen=unseen / spread, too_coarse=False, mirror=BOTH,
    )  # fmt: skip
    found = map_error(air, solution)
    assert_allclose(found["surface_map_error_K"], 0.1, rtol=1e-9)
    assert_allclose(found["surface_map_band_K"], np.hypot(0.2, mesh), rtol=1e-9)


def test_reported_halves_are_alike():
    model = bay()
    settings = air_settings(model.case)
    course = lay_out(model.system, model.cells, settings)
    take_round(course)
    first = course.rounds[0].surface
    assert first.size and course.mirror.planes == 2
    both = course.mirror.of_surface(first)
    for image in course.mirror.surface:
        assert_allclose(both, both[image], atol=1e-9)


def rounds(ripples):
    maps = [np.array([300.0, 300.0 + ripple]) for ripple in ripples]
    return [
        Round(n, float(n), 1.0, n, np.zeros(2), np.zeros(2), {"up": 10.0}, surface)
        for n, surface in enumerate(maps, 1)
    ]


def test_a_run_goes_on_until_the_ripple_is_known():
    """Heat is steady from the first round; ripples that scatter by a third from stretch to stretch are not."""
    count = 2 * LEAST_ROUNDS
    rng = np.random.default_rng(3)
    noisy = np.repeat(2.0 + 0.6 * rng.standard_normal(count // 5), 5)
    assert weigh([rounds(np.full(count, 2.0))], 10.0).steady(0.01, 0.01)
    evidence = weigh([rounds(noisy)], 10.0)
    assert evidence.largest_error == 0.0 and evidence.ripple_error > 0.05
    assert not evidence.steady(0.01, 0.01)


def test_the_error_of_a_ripple_is_that_of_a_mean_and_of_how_far_both_halves_differ():
    """Noise of standard deviation s about 2 K: s / √n; where halves lean by 0.2 K, half of that joins."""
    ripples = 2.0 + 0.1 * np.random.default_rng(6).standard_normal(900)
    error = 0.1 / np.sqrt(900.0) / 2.0
    alone = ripple_known([[np.array([0.0, ripple]) for ripple in ripples]]).error
    assert_allclose(alone, error, rtol=0.1)

    # the second place is 0.2 K cooler
    leaning = [np.array([ripple + 0.1, ripple - 0.1, 0.0]) for ripple in ripples]
    found = ripple_known([leaning], BOTH)
    assert_allclose(found.error, np.hypot(alone, 0.1 / 2.0), rtol=1e-3)
    assert_allclose(found.series[0], ripples, rtol=1e-12)


@pytest.mark.parametrize("wanted, why", [(True, "too few"), (False, "air.companion is false")])
def test_what_limits_the_errors_is_said(wanted, why):
    evidence = SimpleNamespace(
        error={"up": 0.02}, largest_error=0.02, ripple_error=0.08, imbalance=-0.014, slowest=""
    )  # fmt: skip
    air = SimpleNamespace(
        coarser=None, stop_reason="time", evidence=evidence, now=SimpleNamespace(time=600.0), unseen=0.0,
        too_coarse=False,
    )  # fmt: skip
    companion, cut = air_remarks(air, wanted)
    assert why in companion and "heat flows to 2 %, ripple to 8 % and the air gives up 1.4 % of the heat" in cut
    whole = SimpleNamespace(coarser=object(), stop_reason="steady", evidence=evidence)
    assert air_remarks(whole, True) == []


@pytest.mark.parametrize("missing", [0, 1, 2])
def test_without_an_image_of_one_part_there_is_no_mirror(monkeypatch, missing):
    """Faces of the air, of the solids, and the floor's map: all three or none."""
    found = iter([None if part == missing else np.arange(2) for part in range(3)])
    monkeypatch.setattr(mirror, "_image", lambda *_: next(found))
    monkeypatch.setattr(mirror, "surface_cells", lambda *_: np.zeros((2, 3), int))
    domain = SimpleNamespace(edges=[np.array([0.0, 0.5, 1.0])], shape=(2, 1, 1))
    faces = SimpleNamespace(cell=None, side=None, area=None, walls=SimpleNamespace(area=None))
    assert mirror._images(SimpleNamespace(shape=(2, 1, 1)), faces, domain, faces, "up", 0) is None


CORNERS = {"cell": np.array([[0, 0, 0], [0, 0, 0], [1, 0, 0], [1, 0, 0]]), "side": np.array([0, 4, 1, 4])}
"""Left wall and bottom of the left one of two cells, right wall and bottom of the right one."""


def image(area, without=None):
    kept = [n for n in range(4) if n != without]
    return mirror._image(CORNERS["cell"][kept], CORNERS["side"][kept], np.array(area)[kept], 0, 2)


def test_walls_across_the_plane_change_sides_and_others_do_not():
    assert image([2.0, 1.0, 2.0, 1.0]).tolist() == [2, 3, 0, 1]
    assert mirror._image(CORNERS["cell"], CORNERS["side"], np.ones(4), 1, 1).tolist() == [0, 1, 2, 3], "across y"


def test_one_face_without_an_image_or_of_another_area_is_enough():
    assert image([1.0, 1.0, 1.0, 1.0], without=3) is None
    assert image([2.0, 1.0, 2.0, 1.1]) is None
    twice = np.repeat(CORNERS["cell"], 2, axis=0), np.repeat(CORNERS["side"], 2)
    assert mirror._image(*twice, np.ones(8), 0, 2) is None, "faces that cannot be told from each other"


def test_values_become_the_means_with_those_of_their_images():
    there, back = np.array([1.0, 3.0, 7.0]), np.array([1, 0, 2])
    for name in ("air", "solid", "surface"):
        own = mirror.Mirror(**{name: (back,)})
        for other in ("air", "solid", "surface"):
            wanted = [2.0, 2.0, 7.0] if other == name else there
            assert_allclose(getattr(own, f"of_{other}")(there), wanted, rtol=1e-12)


@pytest.mark.parametrize("planes, images", [(1, 2), (2, 4), (3, 8)])
def test_images_of_independent_scatter_tell_the_error_of_their_mean(planes, images):
    """Of n normal values σ / √n, read off how far one of them, or the largest, lies from their mean."""
    values = np.random.default_rng(planes).standard_normal((40_000, images))
    apart = values - values.mean(axis=1, keepdims=True)
    own = Mirror(*3 * ((np.arange(1),) * planes,))
    error = 1.0 / np.sqrt(images)
    assert_allclose(own.of_image * np.sqrt(np.mean(apart[:, 0] ** 2)), error, rtol=0.02)
    assert_allclose(own.of_extreme * np.sqrt(np.mean(apart.max(axis=1) ** 2)), error, rtol=0.02)
