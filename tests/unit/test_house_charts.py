"""Charts of the house page: bars and curves to scale, axes in round numbers of the reader."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from viz.house_charts import NARROW_CHART, draw_needs, draw_reset
from viz.page_parts import PageReader

SVG = "{http://www.w3.org/2000/svg}"


def need(room, supply, note=""):
    return {"room": room, "title": "", "room_C": 20.0, "supply_C": supply, "note": note}


def layout(source, supply, points=((-18.0, 50.0, 44.0), (2.0, 35.0, 32.0), (12.0, 25.0, 24.0))):
    rows = [dict(zip(("outdoor_C", "supply_C", "return_C"), point, strict=True)) for point in points]
    return {"source": source, "summary": {"supply_C": supply}, "outdoor": rows}


def record(*needs):
    return {"needs": needs, "layouts": [layout("hot", 60.0), layout("cool", 40.0)], "set_by": "B"}


def texts(drawing):
    return [element.text for element in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


def test_bars_are_as_long_as_the_water_is_over_the_room():
    drawing = draw_needs(record(need("A", 40.0), need("B", 60.0)), PageReader("si"))
    bars = [float(bar.attrib["width"]) for bar in ElementTree.fromstring(drawing).iter(f"{SVG}rect")]
    # 20 K and 40 K over a room of 20 °C
    np.testing.assert_allclose(bars[1] / bars[0], 2.0, rtol=1e-2, atol=0.0)
    lines = re.findall(r'd="M([\d.]+) 8.0', drawing)
    # a source of 40 °C stands at the end of the bar of 40 °C, 190 px being its beginning
    np.testing.assert_allclose(float(lines[0]), 190.0 + bars[0], rtol=0.0, atol=0.2)


def test_a_room_that_no_water_satisfies_says_why():
    told = texts(draw_needs(record(need("A", 40.0), need("B", None, "rug of 2 m²K/W")), PageReader("si")))
    assert "no water is enough: rug of 2 m²K/W" in told


@pytest.mark.parametrize(("units", "water"), [("si", ["25", "50", "−15", "10"]), ("ip", ["80", "120", "0", "50"])])
def test_axes_have_round_numbers(units, water):
    told = texts(draw_reset(record(need("A", 40.0))["layouts"], PageReader(units)))
    # water from 22 to 53 °C (72 to 127 °F), outdoors from −18 to 12 °C (0 to 54 °F)
    assert not [text for text in water if text not in told]
    assert {"si": "outdoors, °C", "ip": "outdoors, °F"}[units] in told


def test_one_outdoor_temperature_is_a_dot_in_the_middle():
    drawing = draw_reset([layout("hot", 60.0, [(-18.0, 50.0, 44.0)])], PageReader("si"))
    (dot,) = ElementTree.fromstring(drawing).iter(f"{SVG}circle")
    frame = next(ElementTree.fromstring(drawing).iter(f"{SVG}rect")).attrib
    np.testing.assert_allclose(
        float(dot.attrib["cx"]), float(frame["x"]) + 0.5 * float(frame["width"]), rtol=0.0, atol=0.2
    )
    assert "−18" in texts(drawing)


def test_a_heating_that_is_always_off_has_no_chart():
    assert draw_reset([layout("hot", 60.0, [])], PageReader("si")) == ""


def test_curve_is_to_scale():
    drawing = draw_reset([layout("hot", 60.0)], PageReader("si"))
    circles = ElementTree.fromstring(drawing).iter(f"{SVG}circle")
    dots = [(float(dot.attrib["cx"]), float(dot.attrib["cy"])) for dot in circles]
    # outdoors −18, 2, 12: 20 of 30 K between the first two; water 50, 35, 25: 15 of 25 K
    (x0, y0), (x1, y1), (x2, y2) = dots
    np.testing.assert_allclose([(x1 - x0) / (x2 - x0), (y1 - y0) / (y2 - y0)], [2.0 / 3.0, 0.6], rtol=0.0, atol=1e-3)
    assert y0 < y2


@pytest.mark.parametrize("draw", ["needs", "reset"])
def test_charts_for_a_phone_hold_all_their_words(draw):
    given = record(need("Kitchen", 40.0), need("Attic", 90.0), need("Cellar", None, "rug of 2 m²K/W, far too thick"))
    given["layouts"][0] = layout("high-temperature boiler", 30.0)
    reader = PageReader("ip")
    needs = draw == "needs"
    drawing = (draw_needs if needs else draw_reset)(given if needs else given["layouts"], reader, NARROW_CHART)
    root = ElementTree.fromstring(drawing)
    _, _, wide, high = (float(size) for size in root.attrib["viewBox"].split())
    assert wide <= 360.0
    for text in root.iter(f"{SVG}text"):
        # letters of bold 12 px are 0.58 of it wide in the mean (from memory)
        x, long = float(text.attrib["x"]), 0.55 * float(text.attrib["font-size"]) * len(text.text)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib.get("text-anchor", "start")]
        assert x - share * long >= -1.0 and x + (1.0 - share) * long <= wide + 1.0, text.text
        assert float(text.attrib["y"]) <= high
    for box in root.iter(f"{SVG}rect"):
        assert float(box.attrib["x"]) + float(box.attrib["width"]) <= wide
