"""House files: what follows from what, heat loads by hand, bad input as clear lines."""

import re
from pathlib import Path

import numpy as np
import pytest
from house_cases import SMALL, small

from sim.case.errors import CaseError
from sim.case.house_load import bay_case, load_house, parse_house
from sim.case.load import load_case
from sim.case.reference import key_reference
from sim.house.loads import design_load
from sim.house.solve_house import check_house, check_variants

CELSIUS = 273.15


def problems_of(*changes):
    with pytest.raises(CaseError) as error:
        small(*changes)
    return error.value


def test_units_become_si():
    house = small(('load = "280 W"', 'load = "1000 Btu/h"'), ('"7.32 m^2"', '"78.8 ft^2"'))
    # 1 Btu = 1055.05585262 J: 1000 Btu/h = 293.071 W; 78.8 ft² × 0.09290304 = 7.320760 m²
    np.testing.assert_allclose(house.rooms[0].load, 293.0711, rtol=1e-6, atol=0.0)
    np.testing.assert_allclose(house.rooms[0].active_area, 7.3207596, rtol=1e-7, atol=0.0)


def test_rooms_take_the_manifold_of_their_storey():
    assert [room.manifold for room in small().rooms] == ["M", "M", "N"]


def test_outdoor_temperatures_from_the_design_day():
    house = small(('outdoors = ["-18 degC", "1 degC"]\n', ""))
    # five steps of 38/5 = 7.6 K from −18 °C
    got = [value - CELSIUS for value in house.design.outdoors]
    np.testing.assert_allclose(got, [-18.0, -10.4, -2.8, 4.8, 12.4], rtol=0.0, atol=1e-6)


def test_a_bay_takes_its_surroundings_from_the_house():
    house = small()
    case = bay_case(house, 2)
    assert case.room.temperature == house.rooms[2].temperature
    assert case.below.kind == "heated room"
    assert case.below.temperature == house.rooms[0].temperature
    assert [layer.material for layer in case.floor.coverings] == ["oak"]
    assert case.water.drop == 5.0
    assert bay_case(house, 0).below.temperature == 12.0 + CELSIUS


def test_a_variant_changes_every_bay_and_not_the_house():
    house = small()
    assert bay_case(house, 0, {"plates.spacing": "400 mm"}).plates.spacing == 0.4
    assert bay_case(house, 0).plates.spacing == 0.235
    assert bay_case(house, 0, {"tube.runs": 1}).tube.runs == 1
    assert bay_case(house, 0).tube.runs == 2


LOSSES = '''[room.losses]
air_changes = 0.5
volume = "27.2 m^3"
[[room.losses.surface]]
name = "wall"
area = "14.1 m^2"
u_value = "0.40 W/(m^2*K)"
[[room.losses.surface]]
name = "window"
area = "2.23 m^2"
u_value = "1.9 W/(m^2*K)"
[[room.losses.surface]]
name = "to the garage"
area = "5 m^2"
u_value = "1 W/(m^2*K)"
temperature = "12 degC"
'''
SURFACES = LOSSES[LOSSES.index("[[room.losses.surface]]") :]


def with_losses(*changes):
    text = LOSSES
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return small(('load = "280 W"\n', ""), ("[[room.bays]]", text + "[[room.bays]]"))


def test_heat_load_by_hand():
    house = with_losses()
    load = design_load(house, house.rooms[0])
    # 38 K to outdoors: 14.1×0.40×38, 2.23×1.9×38, then 5×1×8, and air 0.34×0.5×27.2×38
    parts = [watts for _, watts in load.parts]
    np.testing.assert_allclose(parts, [214.32, 161.006, 40.0, 175.712], rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(load.total, 591.038, rtol=1e-9, atol=0.0)
    assert [name for name, _ in load.parts] == ["wall", "window", "to the garage", "outdoor air"]


def test_surfaces_without_a_name_are_counted_from_one():
    house = with_losses(('name = "window"\n', ""))
    assert [name for name, _ in design_load(house, house.rooms[0]).parts][:2] == ["wall", "surface 2"]


def test_thermal_bridges_and_allowance_by_hand():
    house = with_losses(("air_changes", 'thermal_bridges = "0.05 W/(m^2*K)"\nextra = "50 W"\nair_changes'))
    # (14.1 + 2.23)×0.05×38 + 5×0.05×8 = 33.027, and 50
    np.testing.assert_allclose(design_load(house, house.rooms[0]).total, 591.038 + 33.027 + 50.0, rtol=1e-9, atol=0.0)


def test_a_negative_computed_load_is_named():
    house = with_losses(('"12 degC"', '"55 degC"'), ('area = "5 m^2"', 'area = "50 m^2"'))
    with pytest.raises(CaseError) as error:
        design_load(house, house.rooms[0])
    assert "room[0].losses" in str(error.value)
    assert "must be at least 0" in str(error.value)


WRONG = [
    ('load = "280 W"', 'load = "-280 W"', "room[0].load", "must be at least 0"),
    ('load = "280 W"', 'laod = "280 W"', "room[0].laod", 'did you mean "load"'),
    ('load = "280 W"\n', "", "room[0].load", "has no heat load"),
    ('load = "280 W"', 'load = "280"', "room[0].load", "unit is missing"),
    ("[[room.bays]]\ncount = 6", "[[room.bay]]\ncount = 6", "room[0].bay", 'did you mean "bays"'),
    ('name = "B"', 'name = "A"', "room[1].name", "given twice"),
    ('{ room = "A" }', '{ room = "Aa" }', "room[2].below.room", 'did you mean "A"'),
    ('{ room = "A" }', '{ room = "U" }', "room[2].below.room", "no other room"),
    (', temperature = "12 degC" }', " }", "room[0].below.temperature", "unheated space"),
    ('storey = "upper"\nx', 'storey = "attic"\nx', "room[2].manifold", 'no manifold is on the storey "upper"'),
    ('outdoors = ["-18 degC"', 'outdoors = ["-20 degC"', "design.outdoors[0]", "colder than the design day"),
    ('outdoor = "-18 degC"', 'outdoor = "25 degC"', "room[0].temperature", "warmer than the design day"),
    ('drop = "5 K"', 'drop = "5 m"', "design.drop", "not the unit"),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), WRONG)
def test_bad_input_is_one_clear_line(old, new, key, words):
    error = problems_of((old, new))
    found = [problem for problem in error.problems if problem.key == key]
    assert found, str(error)
    assert any(words in str(problem) for problem in found), str(error)


def test_a_room_without_bays():
    start = '[[room.bays]]\ncount = 6\nx = "3 m"\ny = "0 m"\nalong = "y"\nlength = "3 m"\n'
    error = problems_of((start, ""))
    assert [problem.key for problem in error.problems] == ["room[1].bays"]
    assert "room B has no bays" in str(error)


def test_rooms_above_each_other_in_a_ring():
    error = problems_of(('below = { kind = "unheated space", temperature = "12 degC" }', 'below = { room = "U" }'))
    assert "a ring of rooms: A over U over A" in str(error)


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        ([('{ room = "A" }', '{ room = "U" }')], ["room[2].below.room"]),
        (
            [('outdoors = ["-18 degC", "1 degC"]\n', ""), ('outdoor = "-18 degC"', 'outdoor = "26 degC"')],
            ["room[0].temperature", "room[1].temperature", "room[2].temperature"],
        ),
    ],
)
def test_one_cause_is_told_once(changes, keys):
    """No ring of one room; no outdoor temperatures that the file does not say."""
    assert [problem.key for problem in problems_of(*changes).problems] == keys


def test_all_problems_come_together():
    error = problems_of(('load = "280 W"', 'load = "-1 W"'), ("count = 6", "count = 0"), ('drop = "5 K"', "drop = 5"))
    assert {"room[0].load", "room[0].bays[0].count", "design.drop"} <= {problem.key for problem in error.problems}


def test_a_bay_that_breaks_a_rule_names_the_room_and_the_key():
    house = small(('length = "200 mm"', 'length = "300 mm"'))
    with pytest.raises(CaseError) as error:
        bay_case(house, 0)
    assert "room[0].change plates.spacing" in str(error.value)


GOVERNED = ['"room.temperature" = "25 degC"', '"water.drop" = "9 K"', '"below.kind" = "outdoors"']


@pytest.mark.parametrize("line", GOVERNED)
def test_what_the_house_says_cannot_be_changed_in_a_bay(line):
    house = small(('"air.model" = "still"', line))
    with pytest.raises(CaseError, match="follows from the house file"):
        bay_case(house, 0)


@pytest.mark.parametrize(("line", "words"), [
    ('"time.duration" = "5 h"', "a house is laid out from steady states"),
    ('"control.thermostat" = "room"', "joistbay warmup follows a bay in time"),
])  # fmt: skip
def test_what_a_house_has_no_use_for_cannot_be_changed_in_a_bay(line, words):
    with pytest.raises(CaseError, match=words):
        bay_case(small(('"air.model" = "still"', line)), 0)


def test_a_covering_is_said_once():
    covering = '[[room.covering]]\nmaterial = "oak"\nthickness = "19 mm"\n[[room.bays]]'
    house = small(
        ('"cavity.insulation" = {', '"floor.covering" = []\n"cavity.insulation" = {'), ("[[room.bays]]", covering)
    )
    with pytest.raises(CaseError, match="the room's covering replaces it"):
        bay_case(house, 0)


@pytest.mark.parametrize(("changes", "key", "words"), [
    ([("air_changes = 0.5", "")], "volume", "only air_changes uses it"),
    ([("air_changes", 'thermal_bridges = "0.05 W/(m^2*K)"\nair_changes'), (SURFACES, "")],
     "thermal_bridges", "none is given"),
])  # fmt: skip
def test_losses_that_nothing_uses_are_refused(changes, key, words):
    with pytest.raises(CaseError) as error:
        with_losses(*changes)
    assert [problem.key for problem in error.value.problems] == [f"room[0].losses.{key}"]
    assert words in str(error.value)


def test_a_missing_bay_file_is_named():
    house = small(('name = "B"', 'name = "B"\ncase = "nowhere.toml"'))
    with pytest.raises(CaseError, match="no such file"):
        bay_case(house, 1)


def test_house_and_bay_files_are_told_apart(tmp_path):
    path = tmp_path / "h.toml"
    path.write_text('kind = "house"\n')
    with pytest.raises(CaseError, match="joistbay house"):
        load_case(path)
    with pytest.raises(CaseError, match="is not a house"):
        load_house("cases/verification/layered-floor/case.toml")


def test_keys_of_houses_are_listed():
    rows = {(row.section, row.key): row for row in key_reference() if row.case_kind == "house"}
    assert rows["[design]", "outdoor"].default == "must be given"
    assert rows["[[room]]", "active_area"].unit == "area"
    assert ("[[room.bays]]", "count") in rows
    assert ("[[room.losses.surface]]", "u_value") in rows


def test_the_demo_house_prints_as_a_tree():
    shown = str(load_house("cases/house/demo-house.toml"))
    assert shown.splitlines()[0] == "House demo-house: Demo House One"
    assert "R5, Bathroom: 23.89 °C (75 °F), 429 W (1464 Btu/h), 4.274 m² (46 ft²), 6 bays, upper" in shown


def test_tube_across_in_place_of_plates_lies_where_its_holes_may_be(tmp_path):
    """Without tube.depth holes of 1 3/8 in keep 2 in of wood above them.

    Their centre is 50.8 + 17.46 mm down, the tube's top half its diameter less.
    """
    plates = 'plates = { length = "200 mm", spacing = "235 mm" }\n'
    text = SMALL.replace(plates, 'plates = "none"\n"tube.direction" = "across"\n', 1)
    file = tmp_path / "h.toml"
    file.write_text(text)
    tube = bay_case(load_house(file), 0).tube
    assert tube.depth == pytest.approx(0.0508 + 0.034925 / 2.0 - tube.outer_diameter / 2.0, abs=1e-5)


def test_what_is_wrong_without_variants_is_not_told_once_a_variant():
    house = small(("[[source]]", '[[variant]]\nname = "v"\nchange = { "plates.thickness" = "1 mm" }\n\n[[source]]'))
    room = house.rooms[1].model_copy(update={"case": "nowhere.toml"})
    broken = house.model_copy(update={"rooms": (house.rooms[0], room, *house.rooms[2:])})
    check_variants(broken)
    with pytest.raises(CaseError) as caught:
        check_house(broken)
    assert [problem.key for problem in caught.value.problems] == ["room[1].case"]


def test_a_list_of_sections_is_told_as_a_file_has_it():
    wrong = str(problems_of(('name = "B"\n', 'name = "B"\ncovering = "linoleum"\ntype = "bath"\n')))
    assert 'room "B".covering' in wrong and "write [[room.covering]] in two square brackets" in wrong
    assert "counts as a bathroom" in wrong


def test_the_example_of_the_guide_is_a_house():
    """Its text runs; 2400 Btu/h are 703.37 W and 0.60 a foot 1.9685 a metre, by definition of the units."""
    guide = (Path(__file__).parents[2] / "docs/house.md").read_text("utf-8")
    house = parse_house(re.search(r"```toml\n(.*?)```", guide, re.DOTALL)[1], "guide.toml")
    (room,), (source,) = check_house(house)
    assert len(room.bays) == 10 and source.name == "condensing boiler"
    np.testing.assert_allclose((house.rooms[0].load, house.prices.tube), (703.37, 1.9685), rtol=1e-4, atol=0.0)
