"""Thin solids in computed air: what becomes a sheet, what keeps its contact, what is refused."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.airflow.walls import find_walls
from sim.bay.blocks_geometry import build_blocks_geometry
from sim.bay.geometry import Box
from sim.bay.outline import touching_perimeter
from sim.bay.thin_boxes import mark_sheets
from sim.case.load import parse_case
from sim.case.materials import Material
from sim.resolved.contact import find_contact
from sim.resolved.domain import AirSizes, build_air_domain
from sim.run import prepare
from tests.hung_plate import HUNG, hung_text


def hung(thickness, **changes):
    """A case with a plate hung in air, a round tube touching its underside."""
    return parse_case(hung_text(thickness, **changes))


@pytest.mark.parametrize(("thickness", "sheet"), [(5e-5, 2), (5e-4, 2), (3e-3, 2), (4e-3, None)])
def test_thin_plates_in_computed_air_are_sheets(thickness, sheet):
    plate = build_blocks_geometry(hung(thickness)).boxes[2]
    assert plate.sheet == sheet
    assert ("a sheet across z" in str(build_blocks_geometry(hung(thickness)))) == (sheet == 2)


def test_a_plate_against_the_lid_and_one_in_films_are_none():
    filled = {"left": 0.09, "right": 0.21, "under": -0.0005, "centre": -0.0085, "conductivity": 200}
    text = HUNG.format(**filled, fineness="coarse", model="resolved")
    assert build_blocks_geometry(parse_case(text.replace('"-0.04 m"]', '"0 m"]'))).boxes[2].sheet is None
    assert build_blocks_geometry(hung(5e-4, model="films")).boxes[2].sheet is None


@pytest.mark.parametrize("thickness", [5e-5, 5e-4, 1.5e-3, 3e-3])
@pytest.mark.parametrize("wall", [0.004, 0.001])
def test_air_meets_both_faces_of_a_plate_however_thin(thickness, wall):
    """On cells of a millimetre too, where planes without walls lie nearer to a face than the sheet in its middle."""
    model = prepare(hung(thickness))
    domain = build_air_domain(model.cells, AirSizes(0.012, wall))
    walls = find_walls(domain)
    contact = find_contact(model.cells, model.system.cavity, domain, walls)
    bodies = [body.name for body in model.cells.bodies]
    faces = model.system.cavity.body == bodies.index("plate")
    upper, lower = (faces & (model.system.cavity.side == side) for side in (5, 4))
    # the tube's square block, as wide as a quarter of its circumference, lies against the underside
    assert_allclose(contact.on_solid[upper].sum(), 0.12, rtol=1e-6, atol=0.0)
    assert_allclose(contact.on_solid[lower].sum(), 0.12 - np.pi * 0.016 / 4.0, rtol=0.02, atol=0.0)


@pytest.mark.parametrize("fineness", ["coarse", "normal", "fine"])
def test_a_tangent_tube_touches_over_half_its_diameter_on_every_mesh(fineness):
    model = prepare(hung(1e-3, fineness=fineness))
    tube = next(body for body in model.cells.bodies if body.name == "pipe")
    plate = model.cells.of_body(next(body for body in model.cells.bodies if body.name == "plate"))
    assert_allclose(touching_perimeter(model.cells, tube, plate), 0.008, rtol=1e-6, atol=0.0)


def test_what_would_vanish_is_refused_with_the_way_out():
    with pytest.raises(ValueError, match="plate is too thin for computed air.*five times as wide"):
        prepare(hung(1e-3, left=0.149, right=0.151))


def test_air_stated_as_two_boxes_that_end_at_a_plate_is_beside_it():
    """Half a millimetre between air of 0 to 0.1 m and air above it; none where one of them is a solid."""
    wood = Material("wood", (0.12, 0.12, 0.12), 500.0, 1600.0, 0.9)
    plate = Box("plate", "block", (0.0, 0.0, 0.1), (0.2, 0.2, 0.1005), wood)
    for below, sheet in ((None, 2), (wood, None)):
        parts = [Box("below", "air", (0.0, 0.0, 0.0), (0.2, 0.2, 0.1), below)]
        parts += [Box("above", "air", (0.0, 0.0, 0.1005), (0.2, 0.2, 0.2)), plate]
        assert mark_sheets(parts)[2].sheet == sheet
