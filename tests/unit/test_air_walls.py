"""Faces of blocks on the air itself: walls that are held, insulated or behind a film, without boxes of their own."""

import numpy as np
import pytest
import tomli_w
from numpy.testing import assert_allclose

import sim
from sim.case.blocks_tree import blocks_branches
from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.writing import case_text
from sim.problems.blocks_in_time import follow_blocks
from sim.results.fields import outlines
from viz.choice import Outline
from viz.report.build_up import _walls

X, Y, HIGH = ["0 m", "0.1 m"], ["0 m", "0.1 m"], ["0 m", "0.05 m"]
SLAB = {"name": "slab", "x": X, "y": Y, "z": ["-0.02 m", "0 m"], "conductivity": "1 W/(m*K)"}
AIR = {"name": "air", "x": X, "y": Y, "z": HIGH, "air": True}
UNDER = {"name": "under", "on": "z-", "temperature": "40 degC"}
LEFT = {"name": "left", "on": "x-", "z": HIGH, "adiabatic": True}
RIGHT = {"name": "right", "on": "x+", "z": HIGH, "film": "8 W/(m^2*K)", "ambient": "10 degC"}
LID = {"name": "lid", "on": "z+", "temperature": "20 degC"}
WALLS = [LEFT, RIGHT, LID]


def radiating(parts, emissivity):
    return [part | {"emissivity": emissivity} for part in parts]


def parse(faces, boxes=(), **more):
    data = {"kind": "blocks", "mesh": {"fineness": "coarse"}, "air": {"model": "films"}, **more}
    return parse_case(tomli_w.dumps({"box": [SLAB, AIR, *boxes], "face": [UNDER, *faces]} | data), "gap")


def refused(faces, boxes=(), **more):
    with pytest.raises(CaseError) as caught:
        parse(faces, boxes, **more)
    (problem,) = caught.value.problems
    return problem.key, f"{problem.given}: {problem.rule}; {problem.way_out}"


def by_hand(emissivity):
    """The same walls as boxes of 0.1 mm."""
    skin = ["5000 W/(m*K)", "1e-6 W/(m*K)", "1e-6 W/(m*K)"]
    boxes = [
        {"name": "left", "x": ["-0.1 mm", "0 m"], "y": Y, "z": HIGH, "insulating": True},
        {"name": "right", "x": ["0.1 m", "0.1001 m"], "y": Y, "z": HIGH, "conductivity": skin},
        {"name": "lid", "x": X, "y": Y, "z": ["0.05 m", "0.0501 m"], "temperature": "20 degC"},
    ]
    beyond = {"name": "beyond", "on": "x+", "film": "8 W/(m^2*K)", "ambient": "10 degC"}
    return parse([beyond], radiating(boxes, emissivity))


@pytest.mark.parametrize(("emissivity", "same"), [(0.0, 5e-5), (0.8, 5e-4)])
def test_faces_on_the_air_are_worth_boxes_of_a_tenth_of_a_millimetre(emissivity, same):
    """But for a skin's 2e-6 m² K/W, and for the patches of rays, which the cells of the boxes' thickness change."""
    slab = {"emissivity": emissivity}
    case = parse(radiating(WALLS, emissivity))
    found = sim.solve(case.with_(**{"box": [box.model_copy(update=slab) for box in case.boxes]}))
    boxes = by_hand(emissivity)
    other = sim.solve(boxes.with_(**{"box": [box.model_copy(update=slab) for box in boxes.boxes]}))
    assert found.grid.size < other.grid.size / 5
    mine, theirs = found.report, other.report
    for name in ("slab", "right", "lid"):
        assert_allclose(mine[f"wall_{name}_convective_W"], theirs[f"wall_{name}_convective_W"], rtol=same)
    for name in ("slab", "left", "right", "lid"):
        assert_allclose(mine[f"wall_{name}_mean_C"], theirs[f"wall_{name}_mean_C"], atol=same * 20.0)
    assert_allclose(mine["heat_flow_lid_W"], -theirs["heat_flow_lid_W"], rtol=same)  # out of a face, into a box
    assert_allclose(mine["heat_flow_right_W"], theirs["heat_flow_beyond_W"], rtol=same)


def test_an_insulated_wall_floats_and_what_comes_in_goes_out_by_the_other_faces():
    result = sim.solve(parse(radiating(WALLS, 0.8)))
    report = result.report
    assert report["heat_flow_left_W"] == 0.0
    assert abs(report["wall_left_radiant_W"]) > 1e-3
    assert_allclose(report["wall_left_convective_W"], -report["wall_left_radiant_W"], rtol=1e-4)
    assert report["wall_lid_mean_C"] + 1.0 < report["wall_left_mean_C"] < report["wall_slab_mean_C"] - 1.0
    assert set(result.balance.delivered) == {"under", "left", "right", "lid"}
    assert abs(sum(result.balance.delivered.values())) < 1e-6 * abs(report["heat_flow_under_W"])
    film = 8.0 * 0.1 * 0.05 * (report["surface_right_mean_C"] - 10.0)
    assert_allclose(report["heat_flow_right_W"], film, rtol=1e-6)


def test_a_written_case_says_the_same():
    case = parse([LEFT | {"emissivity": 0.2}, RIGHT | {"emissivity": 0.0}, LID], sheet=[PLATE | {"emissivity": 0.1}])
    assert parse_case(case_text(case), "gap") == case


def test_a_wall_that_states_no_emissivity_has_that_of_matter_that_states_none():
    stated, silent = (sim.solve(parse(walls)).report for walls in (radiating(WALLS, 0.9), WALLS))
    assert stated["wall_lid_radiant_W"] == silent["wall_lid_radiant_W"]


def test_people_are_told_of_faces_and_not_of_skins():
    case = parse([LEFT | {"emissivity": 0.8}, RIGHT, LID | {"emissivity": 0.0}, {"on": "y-", "flux": "0 W/m^2"}])
    _, (_, faces), _ = blocks_branches(case)
    assert faces[1] == "left: wall of the air, x- at 0 mm (0 in), insulated, emissivity 0.8"
    assert faces[2].endswith("emissivity 0.9")
    assert faces[3].endswith("20 °C (68 °F), mirrors radiation")
    assert faces[4].endswith("on the solids alone")
    model = sim.prepare(case, ray_seed=None)
    told = f"{model.geometry}\n{model.cells}"
    assert "100 × 100 × 70 mm" in told
    assert "wall of the air: left 100 × 50 mm" in told
    assert "sheet" not in told
    assert "wall left" not in told


BAD = [
    ([LEFT | {"temperature": "20 degC"}], "face[1]", "temperature and adiabatic: a face needs exactly one condition"),
    ([LID | {"flux": "1 W/m^2"}], "face[1]", "temperature and flux: a face needs exactly one condition"),
    ([LID | {"emissivity": 1.5}], "face[1].emissivity", "must be at most 1"),
    ([LEFT | {"ambient": "20 degC"}], "face[1].ambient", "adiabatic does not use it"),
    ([{"on": "z+", "emissivity": 0.5}], "face[1].ambient", "only radiates into its cavity also has adiabatic = true"),
    ([{"on": "z+", "emissivity": 0.5, "ambient": "9 degC"}], "face[1].emissivity", "how the wall radiates into its"),
    ([{"on": "x-", "adiabatic": True, "emissivity": 0.5}], "face[1].emissivity", "a face on solids has one condition"),
    ([LID, LID | {"name": "more", "x": ["0.09 m", "0.1 m"]}], "face[2]", "the wall of air that face[1] is"),
    ([LID | {"name": "slab"}], "face[1].name", "is the name of a box too"),
]  # fmt: skip


@pytest.mark.parametrize(("faces", "key", "words"), BAD)
def test_what_a_wall_of_air_cannot_be(faces, key, words):
    found, told = refused(faces)
    assert found == key
    assert words in told


def test_a_plane_of_symmetry_is_no_wall():
    air = {"model": "resolved", "symmetry": ["z+"]}
    assert refused([LID], air=air)[1].startswith('"z+": is a plane of symmetry')


def test_two_rectangles_of_air_need_two_faces():
    post = {"name": "post", "x": ["0.04 m", "0.06 m"], "y": Y, "z": ["0 m", "0.04 m"], "conductivity": "1 W/(m*K)"}
    beside = [AIR | {"x": ["0 m", "0.04 m"]}, AIR | {"x": ["0.06 m", "0.1 m"]}]
    data = {"kind": "blocks", "box": [SLAB, post, *beside]}
    with pytest.raises(CaseError, match="is no single rectangle; give each rectangle of it a face of its own"):
        parse_case(tomli_w.dumps(data | {"face": [UNDER, LID]}), "gap")
    halves = [LID | {"x": ["0 m", "0.04 m"]}, LID | {"name": "other", "x": ["0.06 m", "0.1 m"]}]
    walls = sim.prepare(parse_case(tomli_w.dumps(data | {"face": [UNDER, *halves]}), "gap"), ray_seed=None)
    assert [box.name for box in walls.geometry.of_kind("wall")] == ["lid", "other"]


def test_air_alone_takes_its_insulated_walls_as_it_did_and_an_emissivity_makes_walls_radiate():
    walls = [{"on": side, "temperature": warmth} for side, warmth in (("x-", "30 degC"), ("x+", "20 degC"))]
    data = {"kind": "blocks", "box": [AIR], "air": {"model": "resolved"}}
    insulated = {"name": "lid", "on": "z+", "adiabatic": True}
    alone = parse_case(tomli_w.dumps(data | {"face": [*walls, insulated]}), "gap")
    assert alone.air_alone
    assert not parse_case(tomli_w.dumps(data | {"face": [*walls, insulated | {"emissivity": 0.0}]}), "gap").air_alone
    with pytest.raises(CaseError, match="or state an emissivity"):
        parse_case(tomli_w.dumps(data | {"face": [*walls, {"on": "z+", "flux": "1 W/m^2"}]}), "gap")


def test_walls_in_time_begin_at_their_temperatures_and_end_at_the_steady_state():
    """Held ones by their wave's first value; an insulated one takes up what a sheet of paper does."""
    begins = LID | {"wave": {"amplitude": "3 K", "period": "1 h", "delay": "-15 min"}}
    time = {"duration": "10 s", "start_temperature": "15 degC"}
    rows = follow_blocks(parse([LEFT, RIGHT, begins], time=time)).rows()
    assert_allclose(rows[0]["wall_lid_mean_C"], 23.0, atol=0.05)
    assert 15.0 <= rows[0]["wall_left_mean_C"] < rows[-1]["wall_left_mean_C"] < 40.0
    long = {"duration": "20 h", "start_temperature": "15 degC"}
    end = follow_blocks(parse(WALLS, time=long)).rows()[-1]
    steady = sim.solve(parse(WALLS)).report
    for name in ("left", "right", "slab"):
        assert_allclose(end[f"wall_{name}_mean_C"], steady[f"wall_{name}_mean_C"], atol=0.01)


def test_a_section_is_as_wide_as_its_air():
    """Upright walls at its ends have no width, level ones and those in its plane do not count."""
    front = {"name": "front", "on": "y-", "z": HIGH, "adiabatic": True}
    model = sim.prepare(parse([LEFT, RIGHT, LID, front]), ray_seed=None)
    parts = [Outline(**outline) for outline in outlines(model.geometry)]
    assert_allclose(np.ptp(model.grid.x) - _walls(parts, model.grid.x), 0.1, rtol=1e-9)
    few = [part for part in parts if part.name not in ("left", "right")]
    assert _walls(few, np.array([0.0, 0.1])) == 0.0


PLATE = {"name": "plate", "axis": "z", "at": "0.025 m", "x": ["0.02 m", "0.08 m"], "temperature": "60 degC"}


def test_a_sheet_of_a_temperature_in_the_air_is_worth_a_held_box_of_a_tenth_of_a_millimetre():
    """But for the rims of the box, 0.17 % of its faces, which a sheet without thickness does not have."""
    held = {"name": "plate", "x": PLATE["x"], "y": Y, "z": ["24.95 mm", "25.05 mm"], "temperature": "60 degC"}
    air = {"model": "resolved"}
    models = [sim.prepare(case) for case in (parse(WALLS, sheet=[PLATE], air=air), parse(WALLS, [held], air=air))]
    mine, theirs = (model.air_domain() for model in models)
    assert sum(face.sum() for face in mine.sheet) == sum(face.sum() for face in theirs.sheet) > 0
    assert all(np.array_equal(a, b) for a, b in zip(mine.edges, theirs.edges, strict=True))
    sheet, box = (sim.solve(case).report for case in (parse(WALLS, sheet=[PLATE]), parse(WALLS, [held])))
    for key in ("heat_flow_plate_W", "heat_flow_under_W", "wall_plate_radiant_W", "wall_left_mean_C"):
        assert_allclose(sheet[key], box[key], atol=1.7e-3 * (40.0 if key.endswith("_C") else box["heat_flow_plate_W"]))
    assert sheet["heat_flow_plate_W"] > 0.1
    assert "sheet in the air: plate 60 × 100 mm" in str(models[0].geometry)


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ({"temperature": None}, "sheet[0].temperature", "missing; a sheet in air among solids has one"),
        ({"open_area": 0.2}, "sheet[0].open_area", "needs air alone"),
        ({"at": "0.05 m"}, "sheet[0].at", "must have air on both sides over one rectangle"),
        ({"at": "-0.01 m"}, "sheet[0].at", "a wall of it is a face"),
        ({"name": "lid"}, "sheet[0].name", "is the name of another part"),
    ],
)
def test_what_a_sheet_among_solids_cannot_be(change, key, words):
    sheet = {name: value for name, value in (PLATE | change).items() if value is not None}
    found, told = refused(WALLS, sheet=[sheet])
    assert found == key
    assert words in told
