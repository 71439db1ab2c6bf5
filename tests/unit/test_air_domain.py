"""The air's own grid and its contact with the solids: planes, areas, and nothing lost between the two."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.airflow.walls import find_walls
from sim.case.load import load_case, parse_case
from sim.resolved.contact import find_contact
from sim.resolved.domain import AirSizes, _structure, air_sizes, build_air_domain
from sim.run import prepare

HUNG = """
span = "pitch"
ceiling = "none"
[plates]
width = "130 mm"
length = "200 mm"
thickness = "0.4 mm"
spacing = "225 mm"
position = "hung"
drop = "40 mm"
[tube]
runs = 2
placement = "below"
[cavity.insulation]
material = "glass wool batt"
thickness = "150 mm"
[water]
supply = "50 degC"
[room]
temperature = "20 degC"
[mesh]
fineness = "coarse"
"""
SIZES = AirSizes(0.02, 0.008)


@pytest.fixture(scope="module")
def hung():
    """(model, air domain, its walls, contact) of a bay with hung plates."""
    model = prepare(parse_case(HUNG))
    domain = build_air_domain(model.cells, SIZES, ("y-", "y+"))
    walls = find_walls(domain)
    return model, domain, walls, find_contact(model.cells, model.system.cavity, domain, walls)


def test_the_grid_lies_on_the_cavity(hung):
    model, domain, _, _ = hung
    # joists 1.5 in apart by 16 in centres; insulation up to 9 1/4 in - 150 mm below the sheathing
    assert_allclose(domain.edges[0][[0, -1]], [0.01905, 0.4064 - 0.01905], rtol=0.0, atol=1e-9)
    assert_allclose(domain.edges[2][[0, -1]], [-(0.23495 - 0.150), 0.0], rtol=0.0, atol=1e-4)
    assert domain.slip[2:4] == (True, True)
    assert domain.parts == ("tube run 1", "tube run 2", "plate 1.1", "plate 2.1", "filled")


def test_hung_plates_are_sheets_at_their_middle(hung):
    _, domain, walls, _ = hung
    number = 1 + domain.parts.index("plate 1.1")
    planes = np.unique(np.nonzero(domain.sheet[2] == number)[2])
    assert_allclose(domain.edges[2][planes], [-0.0402], rtol=0.0, atol=1e-6)
    # both faces, but where the tube's block lies against the underside
    under = 2 * 0.130 * 0.200 - 0.200 * np.pi * 0.015875 / 4.0
    assert_allclose(walls.area[walls.select("plate 1.1")].sum(), under - 0.200 * np.pi * 0.015875 / 4.0, rtol=2e-2)


def test_a_tube_block_has_the_circumference_of_the_tube(hung):
    _, domain, walls, _ = hung
    block = walls.select("tube run 1")
    # three sides are free along the plate, and the fourth where there is none
    side = np.pi * 0.015875 / 4.0
    free = side * (3 * 0.200 + 4 * 0.025) + side * 0.200
    assert_allclose(walls.area[block].sum(), free, rtol=2e-2)


def test_every_wall_of_the_air_meets_solids(hung):
    _, _, walls, contact = hung
    assert_allclose(contact.on_air, walls.area, rtol=1e-9, atol=0.0)


def test_heat_is_neither_lost_nor_made_between_the_grids(hung):
    model, _, walls, contact = hung
    rng = np.random.default_rng(1)
    flows = rng.standard_normal(walls.count)
    assert_allclose(contact.to_solid(flows).sum(), flows.sum(), rtol=0.0, atol=1e-9)
    assert_allclose(contact.to_air(np.full(len(model.system.cavity.body), 300.0)), 300.0, rtol=1e-12, atol=0.0)


def test_a_linear_temperature_keeps_its_mean_on_the_other_grid(hung):
    model, _, walls, contact = hung
    under = (np.array(model.cells.kinds())[model.system.cavity.body] == "sheathing") & (model.system.cavity.side == 4)
    values = np.where(under, model.system.cavity.centre[:, 0], 0.0)
    on_air = contact.to_air(values)
    solid = np.average(values[under], weights=contact.on_solid[under])
    roof = walls.select("z+")
    assert_allclose(np.average(on_air[roof], weights=walls.area[roof]), solid, rtol=1e-9, atol=0.0)


def test_plates_against_the_sheathing_are_part_of_it():
    model = prepare(parse_case(HUNG.replace('"hung"', '"fastened"').replace('drop = "40 mm"\n', "")))
    domain = build_air_domain(model.cells, SIZES, ("y-", "y+"))
    assert not any(name.startswith("plate") for name in domain.parts)
    walls = find_walls(domain)
    contact = find_contact(model.cells, model.system.cavity, domain, walls)
    plates = np.array(model.cells.kinds())[model.system.cavity.body] == "plate"
    under = plates & (model.system.cavity.side == 4)
    assert contact.on_solid[under].sum() > 0.8 * model.system.cavity.walls.area[under].sum()


def test_sizes_by_word_and_as_stated():
    assert air_sizes("normal", 0.02, 0.001) == AirSizes(0.02, 0.001)
    assert air_sizes("normal", 0.001).wall == 0.001
    assert air_sizes("fine").cell < air_sizes("coarse").cell


def test_a_build_up_without_air_says_so():
    solid = """
kind = "blocks"
[[box]]
x = ["0 m", "1 m"]
y = ["0 m", "1 m"]
z = ["0 m", "1 m"]
conductivity = "1 W/(m*K)"
[[face]]
on = "z+"
temperature = "20 degC"
"""
    with pytest.raises(ValueError, match="no cavity air"):
        build_air_domain(prepare(parse_case(solid)).cells, SIZES)


@pytest.mark.parametrize("name", ["tight-bare", "tight-plates"])
def test_tubes_within_a_tight_batt_are_no_obstacles(name):
    """The air lies below the batt alone; solids round a tube that no air meets are not thin bodies in air."""
    case = load_case(f"cases/arrangements/{name}.toml").with_(**{"air.model": "resolved", "mesh.fineness": "coarse"})
    domain = prepare(case).air_domain()
    assert domain.shape[2] > 3
    assert_allclose([domain.edges[2][0], domain.edges[2][-1]], [-0.23495, -0.0889], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("slip", "sizes"),
    [((), [0.003] * 3), (("x+",), [0.003, np.inf, 0.003]), (("x-", "x+"), [np.inf, np.inf, 0.003])],
)
def test_walls_want_fine_cells_and_planes_of_symmetry_none(slip, sizes):
    """Air from 0.1 to 0.4 m with a solid that begins at 0.2 m."""
    air = np.array([False, True, True, True]).reshape(4, 1, 1) * np.ones((1, 2, 1), bool)
    air[2:, 1] = False
    cells = SimpleNamespace(air=air, grid=SimpleNamespace(edges=[np.linspace(0.0, 0.4, 5)]))
    planes = _structure(cells, air, 0, AirSizes(0.01, 0.003), slip)
    assert_allclose(planes.at, [0.1, 0.4, 0.2], rtol=1e-9)
    assert planes.size == sizes
