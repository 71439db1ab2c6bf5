"""The materials library: complete rows with a source, found by any usual spelling."""

import pytest
from numpy.testing import assert_allclose
from pydantic import BaseModel, ValidationError

from sim.case.materials import (
    LIMITED,
    NEAREST,
    TRADE_WORDS,
    MaterialName,
    find_material,
    load_materials,
    read_row,
)

LIBRARY = load_materials()


@pytest.mark.parametrize("material", LIBRARY.values(), ids=list(LIBRARY))
def test_row_is_complete_and_sane(material):
    assert material.source and material.family
    assert all(0.01 < k < 500.0 for k in material.conductivity) and len(material.conductivity) == 3
    assert 5.0 <= material.density <= 9000.0
    assert 300.0 <= material.specific_heat <= 2500.0
    assert 0.0 < material.emissivity < 1.0
    if material.conductivity_range:
        low, high = material.conductivity_range
        assert low <= material.conductivity[2] <= high


@pytest.mark.parametrize("name", [row.name for row in LIBRARY.values() if row.family in LIMITED])
def test_a_highest_temperature_names_its_source(name):
    row = LIBRARY[name]
    assert (row.highest_C is None) == (row.highest_source == "")
    assert row.highest_C is None or 20.0 < row.highest_C < 100.0


@pytest.mark.parametrize("family", LIMITED)
def test_a_new_covering_or_tube_must_say_how_warm_it_may_get(family):
    row = {"name": "new", "family": family, "conductivity": 0.1, "density": 500, "specific_heat": 1500}
    row |= {"emissivity": 0.9, "source": "a data sheet"}
    with pytest.raises(ValueError, match='new: highest_C is missing; give it in °C, or "none"'):
        read_row(row)
    assert read_row(row | {"highest_C": "none"}).highest_C is None
    assert read_row(row | {"highest_C": 30}).highest_C == 30.0
    with pytest.raises(ValueError, match="new: emisivity is not known"):
        read_row(row | {"highest_C": 30, "emisivity": 0.5})


def test_library_covers_the_trade():
    assert len(LIBRARY) >= 45
    families = {material.family for material in LIBRARY.values()}
    assert {
        "wood panels",
        "timber",
        "floor coverings",
        "underlays",
        "mineral",
        "insulation",
        "metals",
        "tube",
    } == families


# From the publications named in each row, written here a second time by hand.
PUBLISHED = [
    ("plywood", 0.12, 540, 1210),  # ASHRAE HoF 2005 ch. 25
    ("softwood joist", 0.13, 500, 1600),  # ISO 10456:2007 table 3
    ("XPS", 0.029, 29, 1210),  # ASHRAE HoF 2005 ch. 25
    ("gypsum board", 0.16, 800, 1090),  # ASHRAE HoF 2005 ch. 25
    ("terrazzo", 1.8, 2560, 790),  # ASHRAE HoF 2005 ch. 25
    ("aluminium, design value", 160, 2800, 880),  # ISO 10456:2007 table 3
    ("aluminium", 237, 2702, 903),  # Incropera table A.1
    ("copper", 380, 8900, 380),  # ISO 10456:2007 table 3
    ("marble", 3.5, 2800, 1000),  # EN 12524:2000 table 1, this and the next four
    ("granite", 2.8, 2600, 1000),
    ("slate", 2.2, 2400, 1000),
    ("limestone", 1.7, 2200, 1000),  # hard
    ("sandstone", 2.3, 2600, 1000),
    ("cement screed", 1.4, 2000, 1000),  # DIN 4108-4 table 1, from memory
    ("anhydrite screed", 1.2, 2100, 1000),  # DIN 4108-4 table 1, from memory
]


@pytest.mark.parametrize(("name", "conductivity", "density", "specific_heat"), PUBLISHED)
def test_published_values(name, conductivity, density, specific_heat):
    material = LIBRARY[name]
    assert_allclose(material.conductivity, 3 * [conductivity], rtol=1e-12, atol=0.0)
    assert (material.density, material.specific_heat) == (density, specific_heat)


def test_oak_strip_has_the_resistance_of_the_table():
    # ASHRAE HoF 2005 ch. 25: 19 mm hardwood finish, R 0.12 m2K/W.
    assert_allclose(0.019 / LIBRARY["oak"].conductivity[2], 0.12, rtol=0.0, atol=0.005)


def test_grain_raises_the_conductivity_along_the_joists_only():
    x, y, z = find_material("softwood joist, grain along").conductivity
    assert x == z < y


def test_bright_foil_and_paint_differ_in_emissivity():
    # ASHRAE HoF ch. 26 table 2, from memory: bright foil 0.05, non-metallic paint 0.90.
    assert find_material("aluminium foil, bright").emissivity == 0.05
    assert find_material("aluminium, painted").emissivity == 0.90


@pytest.mark.parametrize("spelling", ["PEX", "pex", "Aluminum 3003", "aluminium-3003", "GYPSUM  board"])
def test_spelling_is_forgiven(spelling):
    assert find_material(spelling).name in LIBRARY


class Named(BaseModel):
    material: MaterialName


def test_unknown_name_gets_the_nearest():
    with pytest.raises(ValidationError) as caught:
        Named(material="plywod")
    assert caught.value.errors()[0]["ctx"]["way_out"] == 'did you mean "plywood"?'


def test_a_material_of_ones_own_is_told_how_it_is_written():
    """A cork mat is no slip for cork underlay: its conductivity may be another."""
    with pytest.raises(ValidationError) as caught:
        Named(material="cork mat")
    way_out = caught.value.errors()[0]["ctx"]["way_out"]
    assert '"cork underlay"' in way_out and way_out.endswith("name the nearest and state its conductivity")


def test_material_prints_on_one_line():
    # 6.933 Btu in/(h ft2 degF), 0.06243 lb/ft3 and 1/4186.8 Btu/(lb degF) to one of SI each
    assert str(find_material("plywood")) == (
        "plywood: 0.12 W/(m·K) (0.832 Btu·in/(h·ft²·°F)), 540 kg/m³ (33.71 lb/ft³), "
        "1210 J/(kg·K) (0.289 Btu/(lb·°F)), emissivity 0.9"
    )


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("drywall", "gypsum board"), ("Subfloor", "plywood"), ("LVP", "vinyl plank"), ("hardwood", "oak"),
        ("engineered oak", "engineered wood"), ("cork", "cork flooring"), ("bamboo flooring", "bamboo"),
        ("screed", "cement screed"), ("travertine", "limestone"), ("porcelain", "ceramic tile"),
    ],  # fmt: skip
)
def test_words_of_the_trade_are_understood(word, name):
    assert find_material(word) is LIBRARY[name]


def test_every_word_of_the_trade_names_a_row_and_hides_none():
    assert set(TRADE_WORDS.values()) <= set(LIBRARY)
    assert not {word.lower() for word in TRADE_WORDS} & {name.lower() for name in LIBRARY}


@pytest.mark.parametrize(
    ("laid", "nearest"), [("maple", "oak"), ("American walnut", "oak"), ("Larch", "softwood flooring")]
)
def test_a_wood_that_is_not_there_names_the_nearest_in_kind(laid, nearest):
    """By letters maple is nearest to marble."""
    with pytest.raises(ValidationError) as caught:
        Named(material=laid)
    way = caught.value.errors()[0]["ctx"]["way_out"]
    assert way.startswith(f'nearest in kind is "{nearest}"') and "state its conductivity" in way


def test_every_nearest_is_a_row_and_no_row_is_proposed_for_itself():
    assert set(NEAREST.values()) <= set(load_materials())
    for word in NEAREST:
        with pytest.raises(KeyError):
            find_material(word)
