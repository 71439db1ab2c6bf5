"""From a blocks case to boxes, tubes, contacts and surfaces."""

from dataclasses import astuple

import pytest
from numpy.testing import assert_allclose

from sim.bay.blocks_geometry import build_blocks_geometry
from sim.bay.geometry import Contact, Joint
from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.physics.surroundings import FixedFilm, FixedFlux, FixedTemperature, RadiantOnly, StandardFloor

CASE = """
kind = "blocks"
[[box]]
name = "slab"
x = ["0 m", "0.3 m"]
y = ["0 m", "2 m"]
z = ["0 mm", "100 mm"]
conductivity = ["0.1 W/(m*K)", "0.2 W/(m*K)", "0.3 W/(m*K)"]
emissivity = 0.7

[[box]]
material = "oak"
x = ["0 m", "0.3 m"]
y = ["0 m", "2 m"]
z = ["100 mm", "119 mm"]

[[box]]
air = true
x = ["0.1 m", "0.2 m"]
y = ["0 m", "2 m"]
z = ["20 mm", "50 mm"]

[[face]]
name = "heater"
group = "heaters"
on = "z-"
x = ["0 m", "0.1 m"]
flux = "40 W/m^2"

[[face]]
on = "z+"
law = "floor"
ambient = "20 degC"

[[face]]
name = "end"
on = "y+"
at = "2 m"
resistance = "0.13 m^2*K/W"
ambient = "10 degC"

[[face]]
name = "sky"
on = "x-"
emissivity = 0.9
ambient = "0 degC"

[[face]]
name = "held"
on = "x+"
z = ["0 mm", "50 mm"]
temperature = "15 degC"

[[tube]]
axis = "y"
centre = ["150 mm", "70 mm"]
along = ["0 m", "2 m"]
outer_diameter = "16 mm"
inner_diameter = "12 mm"
supply = "45 degC"
flow = "0.03 kg/s"
glycol = 0.2
resistance = "0.05 m*K/W"

[[tube]]
name = "rod"
axis = "x"
centre = ["1 m", "80 mm"]
along = ["0 m", "0.1 m"]
outer_diameter = "10 mm"
temperature = "40 degC"

[[contact]]
axis = "z"
at = "100 mm"
y = ["0 m", "1 m"]
resistance = "0.02 m^2*K/W"

[[probe]]
name = "middle"
point = ["150 mm", "1 m", "90 mm"]
"""


@pytest.fixture(scope="module")
def geometry():
    return build_blocks_geometry(parse_case(CASE, "test"))


def test_boxes_in_paint_order(geometry):
    assert [(box.name, box.kind) for box in geometry.boxes] == [("slab", "block"), ("oak", "block"), ("box 3", "air")]
    slab, oak, air = geometry.boxes
    assert slab.material.conductivity == (0.1, 0.2, 0.3)
    assert set(slab.emissivities) == {0.7}
    assert_allclose(oak.high, (0.3, 2.0, 0.119), rtol=1e-12, atol=0)
    assert air.material is None
    assert_allclose((*geometry.low, *geometry.high), (0, 0, 0, 0.3, 2.0, 0.119), rtol=1e-12, atol=0)


@pytest.mark.parametrize(
    ("number", "path", "side", "at", "law"),
    [
        (0, "heaters", 4, 0.0, FixedFlux(-40.0)),  # a stated flux heats the solid; laws count outward
        (1, "face 2", 5, 0.119, StandardFloor(293.15)),
        (2, "end", 3, 2.0, FixedFilm(283.15, 1 / 0.13)),
        (3, "sky", 0, 0.0, RadiantOnly(273.15, 0.9)),
        (4, "held", 1, 0.3, FixedTemperature(288.15)),
    ],
)
def test_faces(geometry, number, path, side, at, law):
    found = geometry.exposures[number]
    assert (found.path, found.side, type(found.law)) == (path, side, type(law))
    assert_allclose(found.at, at, rtol=1e-12, atol=0)
    assert_allclose(astuple(found.law), astuple(law), rtol=1e-12, atol=0)


def test_rectangles_default_to_the_whole_extent(geometry):
    assert_allclose(geometry.exposures[0].ranges, ((0.0, 0.1), (0.0, 2.0)), rtol=0, atol=1e-12)
    assert_allclose(geometry.exposures[4].ranges, ((0.0, 2.0), (0.0, 0.05)), rtol=0, atol=1e-12)


def test_tubes(geometry):
    water, rod = geometry.tubes
    assert (water.name, water.axis, rod.name, rod.axis) == ("tube 1", 1, "rod", 0)
    assert_allclose(water.bounds(0) + water.bounds(2), (0.142, 0.158, 0.062, 0.078), rtol=1e-12, atol=0)
    assert_allclose(rod.bounds(1) + rod.bounds(2), (0.995, 1.005, 0.075, 0.085), rtol=1e-12, atol=0)
    assert (water.feed.supply, water.feed.flow, water.feed.glycol) == (318.15, 0.03, 0.2)
    assert water.joints == (Joint("block", per_metre=0.05),)
    assert rod.feed is None
    assert_allclose(rod.temperature, 313.15, rtol=1e-12, atol=0)


def test_contacts_and_probes(geometry):
    assert geometry.contacts == (Contact(2, 0.1, ((0.0, 0.3), (0.0, 1.0)), 0.02),)
    assert geometry.probes == (("middle", (0.15, 1.0, 0.09)),)


def test_every_box_edge_is_a_focus_and_every_axis_is_layered(geometry):
    assert [place for place, _ in geometry.focus[2]] == pytest.approx([0.0, 0.02, 0.05, 0.1, 0.119], abs=1e-12)
    assert geometry.layered == (0, 1, 2)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('at = "2 m"', 'at = "1.9 m"'),  # inside the boxes, where none of them ends
        ('on = "z-"', 'on = "z-"\nat = "119 mm"'),  # a plane that is the top of a box
        ('z = ["0 mm", "50 mm"]\ntemperature', 'z = ["130 mm", "150 mm"]\ntemperature'),  # beside the boxes
    ],
)
def test_a_face_on_no_box_is_refused(old, new):
    assert old in CASE
    with pytest.raises(CaseError, match="no solid box ends there"):
        parse_case(CASE.replace(old, new))


BESIDE = """
kind = "blocks"
[[box]]
air = true
x = ["0 m", "0.3 m"]
y = ["0 m", "1 m"]
z = ["0 m", "0.3 m"]
[[box]]
material = "oak"
x = ["0.1 m", "0.2 m"]
y = ["0 m", "0.5 m"]
z = ["0.1 m", "0.2 m"]
[[tube]]
axis = "y"
centre = ["{0} mm", "{1} mm"]
along = ["{2} m", "1 m"]
outer_diameter = "16 mm"
temperature = "40 degC"
"""


@pytest.mark.parametrize(
    ("where", "touches"),
    [
        ((150, 92, 0), True), ((150, 208, 0), True), ((92, 130, 0), True), ((208, 130, 0), True),
        ((150, 91, 0), False), ((150, 209, 0), False), ((91, 130, 0), False), ((209, 130, 0), False),
        ((90, 92, 0), False), ((150, 150, 0), False),
        ((150, 92, 0.5), False), ((150, 92, 0.499), True),
    ],
)  # fmt: skip
def test_a_tube_that_touches_a_side_of_a_box_has_flats(where, touches):
    """16 mm beside a square of 100 to 200 mm: below, above, left, right; a millimetre off; past its corner; inside it;
    where the box has ended along the tube."""
    (tube,) = build_blocks_geometry(parse_case(BESIDE.format(*where), "test")).tubes
    assert tube.flats is touches
