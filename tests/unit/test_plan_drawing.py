"""The plan: what stands beside the tube (the tube itself: test_house_way)."""

from xml.etree import ElementTree

from viz.plan_drawing import draw_storey, named


def test_a_manifold_outside_the_rooms_is_on_the_drawing():
    room = {"name": "A", "title": "A", "x_m": [0.0, 2.0], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": [{"name": "M", "x_m": -2.0, "y_m": -3.0}]}
    root = ElementTree.fromstring(draw_storey({"storeys": [storey], "bays": []}, storey, [], "2 m"))
    label = next(text for text in root.iter("{http://www.w3.org/2000/svg}text") if text.text == "manifold M")
    for place, size in (("x", "width"), ("y", "height")):
        most = float(root.attrib["viewBox"].split()[2 if size == "width" else 3])
        assert 0.0 < float(label.attrib[place]) < most


def test_a_title_that_repeats_the_name_is_left_out():
    assert named("R1", "Study") == "R1  Study"
    assert named("A", "A") == named("A", "") == "A"
