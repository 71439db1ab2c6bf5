"""Faces of blocks that could do nothing are refused, and only those."""

import pytest
import tomli_w

from sim.bay.blocks_geometry import build_blocks_geometry
from sim.case.errors import CaseError
from sim.case.load import parse_case

SLAB = {"x": ["0 m", "1 m"], "y": ["0 m", "1 m"], "z": ["0 m", "0.1 m"], "conductivity": "1 W/(m*K)"}
COLD = {"name": "cold", "on": "z-", "temperature": "0 degC"}
WARM = {"name": "warm", "on": "z+", "at": "0.1 m", "temperature": "20 degC"}
MATTER = {"conductivity": "2 W/(m*K)"}
AIR = {"air": True}


def on_top(x, y=("0 m", "1 m"), high="0.2 m", matter=MATTER):
    """A box on the slab, below which nothing faces upwards."""
    return {"x": list(x), "y": list(y), "z": ["0.1 m", high], **matter}


def parse(*boxes, face=WARM):
    """A slab with more boxes and a face on its upper plane."""
    return parse_case(tomli_w.dumps({"kind": "blocks", "box": [SLAB, *boxes], "face": [COLD, face]}), "slab")


def refused(*boxes, face=WARM):
    with pytest.raises(CaseError) as caught:
        parse(*boxes, face=face)
    return [(problem.key, problem.given, problem.rule) for problem in caught.value.problems]


@pytest.mark.parametrize("matter", [MATTER, AIR])
def test_a_face_under_another_box_is_refused(matter):
    found = refused(on_top(("0 m", "1 m"), matter=matter))
    assert found == [("face[1].at", "z = 0.1 m", 'boxes cover it all over, so that nothing faces "z+" there')]


def test_two_boxes_may_cover_it_together():
    assert refused(on_top(("0 m", "0.4 m")), on_top(("0.4 m", "1 m"), high="0.3 m"))


@pytest.mark.parametrize(
    "boxes",
    [
        [on_top(("0 m", "0.9 m"))],
        [on_top(("0 m", "1 m"), ("0 m", "0.9 m"))],
        [on_top(("0 m", "0.4 m")), on_top(("0.5 m", "1 m"))],
        [on_top(("0 m", "0.5 m"), ("0 m", "0.5 m")), on_top(("0.5 m", "1 m"), ("0.5 m", "1 m"))],
    ],
)
def test_a_face_that_is_partly_bare_is_kept(boxes):
    assert len(parse(*boxes).faces) == 2


def test_only_the_rectangle_of_a_face_counts():
    part = WARM | {"x": ["0.1 m", "0.3 m"]}
    assert refused(on_top(("0 m", "0.4 m")), face=part)
    assert parse(on_top(("0.3 m", "1 m")), face=part)


def test_air_painted_over_the_solid_behind_makes_the_face_a_wall_of_air():
    shaved = {"x": ["0 m", "1 m"], "y": ["0 m", "1 m"], "z": ["0.05 m", "0.1 m"], **AIR}
    assert len(build_blocks_geometry(parse(shaved)).of_kind("wall")) == 1
    lid = on_top(("0 m", "1 m"))
    assert refused(shaved, lid)
    assert parse(shaved, lid, face=WARM | {"at": "0.2 m"})


@pytest.mark.parametrize("side", ["x-", "x+", "y-", "y+", "z-"])
def test_every_side(side):
    axis, up = side[0], side[1] == "+"
    low, high = {"x": (0, 1), "y": (0, 1), "z": (0, 0.1)}[axis]
    beside = {**SLAB, axis: [f"{high} m", f"{high + 1} m"] if up else [f"{low - 1} m", f"{low} m"]}
    face = {"name": "warm", "on": side, "at": f"{high if up else low} m", "temperature": "20 degC"}
    cold = {"name": "cold", "on": "z+", "temperature": "0 degC"}
    data = {"kind": "blocks", "box": [SLAB, beside], "face": [cold, face]}
    with pytest.raises(CaseError, match="cover it all over"):
        parse_case(tomli_w.dumps(data), "slab")
    assert parse_case(tomli_w.dumps(data | {"box": [SLAB]}), "slab")


def test_a_face_of_air_before_the_outermost_plane_is_refused_with_its_way_out():
    """Beside the slab lies air, but not to the end of all boxes: what holds or closes it there is a box of its own."""
    air = {"x": ["1 m", "2 m"], "y": ["0 m", "1 m"], "z": ["0 m", "0.1 m"], "air": True}
    wall = {"name": "wall", "on": "x+", "temperature": "20 degC"}
    assert len(build_blocks_geometry(parse(air, face=wall)).of_kind("wall")) == 1
    beyond = {"x": ["3 m", "4 m"], "y": ["0 m", "1 m"], "z": ["0 m", "0.1 m"], **MATTER}
    with pytest.raises(CaseError, match="only on the outermost planes of all boxes") as caught:
        parse(air, beyond, face=wall | {"at": "2 m"})
    assert "a thin box there instead: one with a temperature" in str(caught.value)
    held = {"x": ["2 m", "2.01 m"], "y": ["0 m", "1 m"], "z": ["0 m", "0.1 m"], "temperature": "20 degC"}
    assert parse(air, held)


def test_one_of_a_kind_is_told_in_the_singular():
    probe = {"probe": [{"name": "middle", "point": ["0.5 m", "0.5 m", "0.05 m"]}]}
    case = parse_case(tomli_w.dumps({"kind": "blocks", "box": [SLAB], "face": [COLD]} | probe), "slab")
    assert "0 tubes, 0 sheets, 0 contacts, 1 probe" in str(case)
    assert "1 outer surface, 0 air zones" in str(build_blocks_geometry(case))
