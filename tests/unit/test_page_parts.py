"""Numbers and sentences of a page in both unit systems; tables."""

import pytest

from viz.page_parts import PageColumn, PageReader, paragraph, table

SI, IP = PageReader("si"), PageReader("ip")


# Conversions by hand from exact definitions: 1 Btu/h = 0.29307 W, 1 ft = 0.3048 m, 1 psi = 6.8948 kPa.
@pytest.mark.parametrize(
    ("key", "value", "si", "ip"),
    [
        ("supply_C", 50.0, "50.0 °C", "122.0 °F"),
        ("drop_K", 5.0, "5.0 K", "9.0 °F"),
        ("load_W", 1134.0, "1,134 W", "3,869 Btu/h"),
        ("length_m", 90.0, "90.0 m", "295.3 ft"),
        ("head_kPa", 2.989067, "3.0 kPa", "1.0 ft"),
        ("pressure_bar", 6.9, "6.9 bar", "100 psi"),
        ("spacing_mm", 254.0, "254 mm", "10.0 in"),
        ("kv_m3_h", 1.0, "1.00 m³/h", "1.16 gpm/√psi"),
        ("velocity_m_s", 0.6096, "0.61 m/s", "2.00 ft/s"),
        ("flow_l_min", 3.785411784, "3.79 l/min", "1.00 gpm"),
    ],
)
def test_values(key, value, si, ip):
    assert SI.value(key, value) == si
    assert IP.value(key, value) == ip


@pytest.mark.parametrize("value", [None, float("nan"), "none"])
def test_no_number_is_a_dash(value):
    assert SI.value("supply_C", value) == "–"


def test_cold_has_a_minus_and_nothing_is_no_negative_zero():
    assert SI.value("outdoor_C", -18.0) == "−18.0 °C"
    assert SI.number("load_W", -0.2) == "0"


# Sentences written in SI, turned: 54.4 °C = 129.9 °F; 5.5 to 11 K = 9.9 to 19.8 °F; 8.0 kW = 27.3 kBtu/h.
@pytest.mark.parametrize(
    ("text", "turned"),
    [
        ("at least 54.4 °C must return", "at least 129.9 °F must return"),
        ("5.6 K, usual are 5.5 to 11 K", "10.1 °F, usual are 9.9 to 19.8 °F"),
        ("it gives 8.0 kW at the least", "it gives 27.3 kBtu/h at the least"),
        ("every 210 mm (8.268 in)", "every 210 mm (8.268 in)"),
        ("of 0.12 m²K/W", "of 0.12 m²K/W"),
        ("room R1, 3 mm", "room R1, 0.1 in"),
    ],
)
def test_sentences(text, turned):
    assert SI.sentence(text) == text
    assert IP.sentence(text) == turned


def test_table_marks_a_row_and_escapes():
    columns = (PageColumn("room", "room", plain=True), PageColumn("load_W", "load"))
    made = table(columns, [{"room": "<A>", "load_W": 10.0}, {"room": "B"}], SI, marked="B")
    assert "&lt;A&gt;" in made
    assert '<tr class="mark"><td data-head="room">B</td><td class="n" data-head="load, W">–</td></tr>' in made
    assert "<small>W</small>" in made


def test_a_table_too_wide_for_a_phone_becomes_cards_whose_values_name_themselves():
    columns = [PageColumn(f"k{n}_W", f"heat {n}") for n in range(7)]
    row = {column.key: 10.0 * n for n, column in enumerate(columns)}
    assert '<table class="cards">' in table(columns, [row], SI)
    assert '<td class="n" data-head="heat 6, W">60</td>' in table(columns, [row], SI)
    assert "cards" not in table(columns[:5], [row], SI)


def test_text_is_escaped():
    assert paragraph("a < b & c") == "<p>a &lt; b &amp; c</p>"


def test_a_sentence_in_a_table_is_marked_so_that_phones_give_it_room():
    columns = (PageColumn("room", "room", plain=True), PageColumn("what", "what", plain=True))
    what = "a radiator of 400 W with water of 62 °C, 54 °C back, in a room of 20 °C"
    text = table(columns, [{"room": "R1", "what": what}], PageReader("si"))
    assert '<td data-head="room">R1</td>' in text and '<td class="long" data-head="what">a radiator' in text
