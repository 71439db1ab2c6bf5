"""What a foot feels: contact temperature, which layer counts, and the words."""

import numpy as np
import pytest

import sim
from sim.physics.foot import SKIN_EFFUSIVITY, SOLE, contact_temperature, effusivity, passing_time
from sim.results.underfoot import foot_values, underfoot
from sim.rules.foot import bare_range, bare_word, foot_lines, layer_notes, spots

BAY = "cases/demo/family-oak.toml"
FLOOR = {
    "peak_x_mm": 100.0, "peak_y_mm": 100.0, "trough_x_mm": 5.0, "trough_y_mm": 200.0,
    "surface_peak_C": 27.0, "surface_trough_C": 24.0,
}  # fmt: skip


# Çengel, Heat and Mass Transfer, 4-3, contact of two semi-infinite solids (from memory): skin of 35 °C on blocks of
# 15 °C with 1.1, 24 and 0.38 kJ/(m² K s½): 15.9 °C on aluminium, 30 °C on wood.
@pytest.mark.parametrize(("block", "felt", "places"), [(24000.0, 15.9, 1), (380.0, 30.0, 0)])
def test_published_example(block, felt, places):
    assert round(contact_temperature(35.0, 15.0, block, 1100.0), places) == felt


def test_skin_lies_below_what_was_measured_on_warm_forearms():
    # Vendrik and Vos 1957: k ρ c = (1.4 ± 0.2)e-3 cal²/(cm⁴ s K²); 1 cal = 4.1868 J, 1 cm = 0.01 m
    low, high = (np.sqrt(value * 1e-3) * 4.1868e4 for value in (1.2, 1.6))
    np.testing.assert_allclose((low, high), (1450.3, 1674.7), atol=0.1)
    assert 0.6 * low < SKIN_EFFUSIVITY < high


def test_two_half_spaces_exchange_what_the_contact_temperature_says():
    """Marching the heat equation in both bodies ends at the same temperature where they meet."""
    skin, oak, step = (0.37, 1000.0, 3270.0), (0.16, 680.0, 1630.0), 2e-5
    k = np.repeat([skin[0], oak[0]], 400)
    c = np.repeat([skin[1] * skin[2], oak[1] * oak[2]], 400)
    between = step / (0.5 * step / k[:-1] + 0.5 * step / k[1:])
    temperature, dt = np.repeat([31.0, 25.0], 400), 0.2 * step**2 * (c / k).min()
    for _ in range(4000):
        flow = between * np.diff(temperature) / step
        temperature += dt / (c * step) * (np.append(flow, 0.0) - np.append(0.0, flow))
    at = (k[399] * temperature[399] + k[400] * temperature[400]) / (k[399] + k[400])
    expected = contact_temperature(31.0, 25.0, effusivity(*oak), effusivity(*skin))
    np.testing.assert_allclose(at, expected, atol=0.01)


def test_oak_counts_under_a_foot_and_nothing_is_said_of_what_lies_beneath():
    under = underfoot(sim.load_case(BAY), 0.1, 0.1)
    assert under.material == "oak"
    np.testing.assert_allclose(under.effusivity, (0.16 * 680 * 1630) ** 0.5)
    assert layer_notes(under) == []
    np.testing.assert_allclose(under.contact(25.0), (1100 * SOLE + 421.1 * 25.0) / 1521.1, atol=1e-3)


@pytest.mark.parametrize(("thickness", "counts"), [("0.6 mm", "plywood"), ("0.75 mm", "oak")])
def test_a_layer_counts_that_heat_takes_a_second_to_pass(thickness, counts):
    # √(π a t) after 1 s with a = 0.16 / (680 · 1630) m²/s: 0.673 mm
    case = sim.load_case(BAY).with_text("floor.covering.0.thickness", thickness)
    assert underfoot(case, 0.1, 0.1).material == counts


def test_thin_layers_are_looked_through():
    case = sim.load_case(BAY).with_text("floor.covering.0.thickness", "0.2 mm")
    under = underfoot(case, 0.1, 0.1)
    assert (under.material, under.thin) == ("plywood", ("oak",))
    assert layer_notes(under) == ["oak is too thin to be felt alone: plywood beneath it counts."]


def test_tile_is_felt_through_to_its_board():
    notes = foot_lines(sim.load_case("cases/demo/bathroom-tile.toml"), FLOOR | foot_values(sim.load_case(BAY), FLOOR))
    # 9 mm of 1.3 W/(m K), 2300 kg/m³, 840 J/(kg K): L²/(π a) = 38 s
    assert round(passing_time(0.009, 1.3, 2300.0, 840.0)) == 38
    assert notes[-1] == "After about 38 s the cement backer board beneath the ceramic tile is felt too."
    assert not any("shoes" in note for note in notes)  # the formula is not for bathrooms


def test_a_rug_counts_where_it_lies():
    case = sim.load_case("cases/demo/family-oak-rug.toml")
    (x0, x1), (y0, y1) = case.floor.rugs[0].x or (0.0, 0.4), case.floor.rugs[0].y
    assert underfoot(case, (x0 + x1) / 2, (y0 + y1) / 2).material == case.floor.rugs[0].material
    assert underfoot(case, (x0 + x1) / 2, y1 + 0.1).material == "oak"


def test_words():
    assert bare_range(100.0) == (21.0, 28.0)  # carpet and softer
    assert bare_range(5000.0) == (26.0, 28.5)
    between = (322.0 * 421.0) ** 0.5  # halfway between pine and oak over the logarithm: halfway from 22.5 to 24.5 °C
    np.testing.assert_allclose(bare_range(between), (23.5, 28.0), rtol=1e-12)
    low, _ = bare_range(365.0)
    assert 22.5 < low < 24.5  # between pine and oak
    words = [bare_word(celsius, 421.0) for celsius in (21.0, 24.0, 26.0, 28.5)]
    assert words == ["cold", "cool", "comfortable", "warm"]


def test_lines_name_both_spots_and_their_sources():
    case = sim.load_case(BAY)
    report = FLOOR | foot_values(case, FLOOR)
    bare, shod = foot_lines(case, report)
    assert bare.startswith("Bare feet on oak: cool to comfortable; a sole of 31.0 °C meets it at 29.1 °C to 29.9 °C.")
    # by hand from the formula: 5.53 % at 24 °C, 8.18 % at 27 °C
    assert "6 of 100 people mind the coolest spot, 8 the warmest" in shod
    assert "from memory" in bare
    assert "87.8 °F" in foot_lines(case, report, "ip")[0]
    assert [spot.name for spot in spots(case, report)] == ["warmest spot", "coolest spot"]
    assert foot_lines(case, {}) == []  # results stored before feet were asked
