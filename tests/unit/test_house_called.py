"""Refusals of a house file name the room, the manifold, the obstacle as its writer does, and count as people count."""

import pickle

import pytest
from house_cases import small

from sim.case.errors import CaseError, Problem
from sim.house.solve_house import check_house, check_variants

DUCT = '[[room.blocked]]\nbays = ["1"]\nfrom = "1 m"\nto = "{}"\nwhy = "duct"\n'


def refusal(*changes):
    """What is said of the small house with texts put in place of others."""
    with pytest.raises(CaseError) as refused:
        house = small(*changes)
        check_house(house)
        check_variants(house)
    return refused.value


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('load = "270 W"', 'load = "-1 W"'), 'room "B".load   got "-1 W"; must be at least 0'),
        (('name = "M"\nx = "1 m"', 'name = "M"\nx = "1 W"'), 'manifold "M".x   got "1 W"'),
        (('active_area = "7.32 m^2"', 'active_area = "9 m^2"'), 'room "A".active_area   got 9 m²'),
        (("[[room.bays]]\ncount = 6", "[[room.bays]]\ncount = 0"), 'room "A".bays.count   got 0'),
        (("[[room.bays]]", DUCT.format("9 m") + "[[room.bays]]"), "end it there, or make the group's bays longer"),
        (("[[room.bays]]", DUCT.format("0.5 m") + "[[room.bays]]"), 'room "A".blocked "duct".to   got 0.5 m'),
    ],
)
def test_sections_by_name(change, said):
    told = str(refusal(change))
    assert said in told and "room[" not in told, told


def test_a_room_without_a_name_is_counted_from_one():
    assert "room number 2.name   missing" in str(refusal(('name = "B"\n', "")))


def test_groups_of_bays_by_name_and_else_by_number():
    arms = '[[room.bays]]\nname = "a"\ncount = 0\nx = "9 m"\ny = "0 m"\nalong = "y"\nlength = "3 m"\n'
    told = str(refusal(("[[room.bays]]\ncount = 6", f"{arms}[[room.bays]]\ncount = 0")))
    assert 'room "A".bays "a".count' in told and 'room "A".bays number 2.count' in told


def test_keys_stay_places_for_programs_and_names_travel():
    error = refusal(('load = "270 W"', 'load = "-1 W"'))
    assert [problem.key for problem in error.problems] == ["room[1].load"]
    assert str(pickle.loads(pickle.dumps(error))) == str(error)


def test_a_name_that_begins_like_a_place_is_no_place():
    problem = Problem("room[1].blocked[0].why", "", "missing")
    named = CaseError("h.toml", [problem], {"room[1]": 'room "A"', "room[1].blocked[0]": 'room "A".blocked "tub"'})
    assert 'room "A".blocked "tub".why' in str(named)


def test_a_variant_says_once_what_is_wrong_in_every_room():
    variant = '[[variant]]\nname = "v"\nchange = { "water.supply" = "50 degC" }\n\n[[room]]'
    told = str(refusal(("[[room]]", variant)))
    assert told.count('variant "v".change water.supply') == 1 and "1 problem" in told
