"""Ends of ranges by number, parts by name: how a key is changed, and how its value and unit are read."""

import pytest

from sim.case import CaseError, parse_case
from sim.case.value import quantity_of, shown_key, value_of

GAP = """kind = "blocks"
[[box]]
name = "gap"
x = ["0 mm", "100 mm"]
y = ["0 mm", "100 mm"]
z = ["0 mm", "20 mm"]
air = true
[[face]]
name = "plate"
on = "z-"
temperature = "40 degC"
[[face]]
name = "board"
on = "z+"
temperature = "30 degC"
[air]
model = "resolved"
"""


def test_an_end_of_a_box_is_changed_and_its_face_goes_along():
    case = parse_case(GAP, "gap")
    thicker = case.with_({"box.gap.z[1]": "1 in"})
    assert thicker.boxes[0].z == (0.0, pytest.approx(0.0254)) and thicker.faces[1].at == pytest.approx(0.0254)
    assert case.with_({"box[0].z[0]": 0.005}).boxes[0].z == (0.005, 0.02) and case.boxes[0].z == (0.0, 0.02)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("box.gap.z[1]", "-1 mm", "must rise"),
        ("box.gap.z[2]", "1 mm", "unknown key"),
        ("box.gap.z", "30 mm", r"\[0\] or \[1\] behind the key changes one end"),
    ],
)
def test_what_does_not_fit_is_refused_with_a_way_out(key, value, said):
    with pytest.raises(CaseError, match=said) as raised:
        parse_case(GAP, "gap").with_({key: value})
    assert len(raised.value.problems) == 1  # nothing is said of the list that the box is in


def test_a_name_where_nothing_has_one_is_left_out_of_the_way_out():
    nameless = GAP.replace('name = "gap"\n', "")
    with pytest.raises(CaseError, match=r"write box\.0\.z\.1"):
        parse_case(nameless, "gap").with_({"box.gap.z[1]": "30 mm"})


def test_values_are_read_by_names_and_ends():
    case = parse_case(GAP, "gap")
    assert value_of(case, "box.gap.z[1]") == value_of(case, "box[0].z.1") == 0.02
    assert quantity_of(case, "box.gap.z[1]").dimension == "distance" and quantity_of(case, "box.gap.z") is None
    assert value_of(case, "face.board.temperature") == pytest.approx(303.15)
    assert shown_key(case, "face[plate].temperature").endswith("[°C]")
    assert value_of(case, "box.none.z[1]") is None
