"""What flows in tubes of blocks, water or air: films and outlets in the report against books and property libraries."""

from pathlib import Path

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from ht.conv_internal import laminar_entry_thermal_Hausen, turbulent_Gnielinski

import sim
from sim.bay.blocks_geometry import build_blocks_geometry
from sim.case.errors import CaseError
from sim.case.fluids import air_in_tube, tube_fluid
from sim.case.house_load import parse_house
from sim.case.load import parse_case
from sim.results.people import quantity, report_rows
from sim.study.grid_convergence import with_uncertainty

CASES = Path(__file__).parents[2] / "cases"
CELSIUS = 273.15
# a block of one temperature all but everywhere, a tube of hardly any wall through its middle
TEXT = """
kind = "blocks"
[[box]]
name = "block"
x = ["0 m", "1 m"]
y = ["0 m", "{length} m"]
z = ["0 m", "1 m"]
conductivity = "5000 W/(m K)"
[[face]]
name = "left"
on = "x-"
temperature = "{around} degC"
[[face]]
name = "right"
on = "x+"
temperature = "{around} degC"
[mesh]
along = "1 m"
across = "250 mm"
through = "250 mm"
[[tube]]
name = "my coil"
axis = "y"
centre = ["0.5 m", "0.5 m"]
along = ["0 m", "{length} m"]
outer_diameter = "{outer} mm"
inner_diameter = "{bore} mm"
conductivity = "5000 W/(m K)"
supply = "{supply} degC"
flow = "{flow}"
{more}
"""
WARM = {"length": 4, "around": 44.9, "outer": 12.4, "bore": 12.3, "supply": 45, "flow": "2 l/min", "more": ""}
DUCT = {"length": 8, "around": 60, "outer": 202, "bore": 200, "supply": 80, "more": 'fluid = "air"',
        "flow": f"{0.15 * np.pi / 4:.7f} m3/s"}  # fmt: skip


def report(values, **changes):
    return sim.solve(parse_case(TEXT.format(**(values | changes)))).report


def test_the_film_of_a_tube_table():
    """2 l/min of water at 45 °C in 12.3 mm: Re 5735, Gnielinski 1942 W/m²K, by hand with CoolProp's water."""
    found = report(WARM)
    assert found["tube_my_coil_reynolds"] == pytest.approx(5735, rel=2e-3)
    assert found["tube_my_coil_film_W_m2K"] == pytest.approx(1942, rel=2e-3)
    assert found["tube_my_coil_mean_C"] == pytest.approx(45.0, abs=0.06)
    assert found["tube_my_coil_velocity_m_s"] == pytest.approx(2e-3 / 60 / (np.pi / 4 * 0.0123**2), rel=1e-4)
    assert found["tube_my_coil_turbulent_percent"] == 100.0


@pytest.mark.parametrize(("flow", "turbulent"), [(0.4, 0.0), (1.0, None), (2.0, 100.0)])
def test_the_film_is_that_at_the_mean_temperature(flow, turbulent):
    """Water from 15 °C in a tube at 65 °C; ht and CoolProp at the mean that is reported."""
    found = report(WARM, supply=15, around=65, flow=f"{flow} l/min")
    mean = found["tube_my_coil_mean_C"] + CELSIUS
    k, mu, prandtl = (PropsSI(name, "T", mean, "P", 2e5, "Water") for name in ("L", "V", "PRANDTL"))
    moved = flow / 6e4 * PropsSI("D", "T", 15 + CELSIUS, "P", 2e5, "Water")
    number = 4.0 * moved / (np.pi * 0.0123 * mu)
    share = min(max((number - 2300.0) / 1700.0, 0.0), 1.0)
    fast = max(number, 4000.0)
    ends = (
        laminar_entry_thermal_Hausen(Re=min(number, 2300.0), Pr=prandtl, L=4.0, Di=0.0123),
        turbulent_Gnielinski(Re=fast, Pr=prandtl, fd=(0.79 * np.log(fast) - 1.64) ** -2),
    )
    nusselt = ends[0] + share * (ends[1] - ends[0])
    assert found["tube_my_coil_reynolds"] == pytest.approx(number, rel=1e-3)
    assert found["tube_my_coil_film_W_m2K"] == pytest.approx(nusselt * k / 0.0123, rel=2e-3)
    assert found["tube_my_coil_turbulent_percent"] == pytest.approx(100.0 * share, abs=0.5)
    assert turbulent is None or found["tube_my_coil_turbulent_percent"] == turbulent


def test_hot_air_in_a_duct_through_an_attic():
    """Çengel, Heat Transfer, example 8-5 (from memory): air of 80 °C, 0.15 m³/s at 1 atm, 8 m of a duct of 0.2 m by
    0.2 m at 60 °C leaves with 71.3 °C; film 13.5 W/m²K by Dittus and Boelter, whom Gnielinski's law lies a tenth below
    here. A round duct of that diameter with the same speed has the same outlet, and π/4 of the 1313 W."""
    found = report(DUCT)
    assert 0.86 * 13.5 < found["tube_my_coil_film_W_m2K"] < 0.95 * 13.5
    assert found["outlet_my_coil_C"] == pytest.approx(71.3, abs=0.9)
    assert found["heat_flow_my_coil_W"] == pytest.approx(1313.0 * np.pi / 4, rel=0.1)
    # Kays and Crawford, for gases in long tubes: Nu = 0.021 Re^0.8 Pr^0.5 (from memory); films within a tenth of it
    number, k = found["tube_my_coil_reynolds"], PropsSI("L", "T", 349.0, "P", 101325, "Air")
    assert found["tube_my_coil_film_W_m2K"] == pytest.approx(0.021 * number**0.8 * 0.7**0.5 * k / 0.2, rel=0.1)


def test_the_outlet_of_air_is_that_of_its_own_film_and_heat_capacity():
    """T_out = T₀ + (T_in − T₀) exp(−h π d L / (ṁ c)), with air by CoolProp at the inlet and at the mean, film by ht."""
    found = report(DUCT, more='fluid = "air"\npressure = "2 bar"')
    moved = 0.15 * np.pi / 4 * PropsSI("D", "T", 80 + CELSIUS, "P", 2e5, "Air")
    mean = found["tube_my_coil_mean_C"] + CELSIUS
    k, mu, prandtl, c = (PropsSI(name, "T", mean, "P", 2e5, "Air") for name in ("L", "V", "PRANDTL", "C"))
    number = 4.0 * moved / (np.pi * 0.2 * mu)
    film = turbulent_Gnielinski(Re=number, Pr=prandtl, fd=(0.79 * np.log(number) - 1.64) ** -2) * k / 0.2
    assert found["tube_my_coil_film_W_m2K"] == pytest.approx(film, rel=5e-3)
    outlet = 60.0 + 20.0 * np.exp(-film * np.pi * 0.2 * 8.0 / (moved * c))
    assert found["outlet_my_coil_C"] == pytest.approx(outlet, abs=0.05)
    assert found["heat_flow_my_coil_W"] == pytest.approx(moved * c * (80.0 - outlet), rel=5e-3)


@pytest.mark.parametrize("pressure", [5e4, 1e5, 2e5, 5e5])
@pytest.mark.parametrize("celsius", [-40, 0, 20, 80, 120])
def test_air_in_a_tube_beside_the_library(celsius, pressure):
    air = air_in_tube(celsius + CELSIUS, pressure)
    told = {"D": air.density, "C": air.specific_heat, "L": air.conductivity, "V": air.viscosity}
    most = 0.008 if celsius >= 0 else 0.012
    for name, value in told.items():
        assert value == pytest.approx(PropsSI(name, "T", celsius + CELSIUS, "P", pressure, "Air"), rel=most)


def test_which_fluid():
    assert tube_fluid("water", 300.0, 0.3).density > 1000.0
    assert tube_fluid("air", 300.0).density < 1.2


def test_labels_of_tubes():
    rows = {row.label: (row.group, row.text) for row in report_rows(report(WARM).as_dict())}
    assert rows["tube my coil film inside"][0] == "Tubes"
    assert rows["tube my coil Reynolds number"][0] == rows["outlet my coil"][0] == "Tubes"
    assert quantity("tube_my_coil_turbulent_percent").label == "tube my coil turbulent (0 %: laminar)"


def test_an_isothermal_tube_has_no_film():
    text = TEXT.format(**WARM)
    plain = text[: text.index("inner_diameter")] + 'temperature = "40 degC"\n'
    assert not [key for key in sim.solve(parse_case(plain)).report if key.startswith(("tube_", "outlet_"))]


def test_the_film_has_a_band():
    found = with_uncertainty(parse_case(TEXT.format(**(WARM | {"supply": 15}))))
    assert found.estimates["outlet_my_coil_C"].uncertainty > 0.0


REFUSED = [
    ({"flow": "4 m3/s"}, r"tube\[0\].flow.*127 m/s.*0\.3[34] times the speed of sound.*give less flow"),
    ({"flow": "0.025 m3/s", "bore": 20}, r"tube\[0\].flow.*by friction.*a tenth"),
    ({"supply": 130}, r"tube\[0\].supply.*at most 120 °C"),
    ({"more": 'fluid = "air"\nglycol = 0.3'}, r"tube\[0\].glycol.*air holds none.*leave it out"),
    ({"more": 'pressure = "2 bar"', "flow": "1 kg/s"}, r"tube\[0\].pressure.*only air depends on it"),
    ({"more": 'fluid = "air"\npressure = "20 bar"'}, r"tube\[0\].pressure.*at most 500 kPa"),
    ({"more": 'fluid = "steam"', "flow": "1 kg/s"}, r'tube\[0\].fluid.*must be one of "water", "air"'),
    ({"more": "", "supply": 96, "flow": "1 kg/s"}, r"tube\[0\].supply.*at most 95 °C"),
]


@pytest.mark.parametrize(("changes", "told"), REFUSED)
def test_what_is_refused(changes, told):
    with pytest.raises(CaseError, match=told):
        build_blocks_geometry(parse_case(TEXT.format(**(DUCT | changes))))


def test_an_isothermal_cylinder_has_no_fluid():
    text = TEXT.format(**DUCT)
    plain = text[: text.index("inner_diameter")] + 'temperature = "40 degC"\nfluid = "air"\n'
    with pytest.raises(CaseError, match=r"tube\[0\].fluid.*only a tube with a bore uses it"):
        parse_case(plain)


def test_air_just_slow_enough_is_taken():
    """Speed of sound at 80 °C: 377 m/s (√(1.4 · 287 · 353)); 0.3 of it through 0.2 m is 3.55 m³/s."""
    assert build_blocks_geometry(parse_case(TEXT.format(**(DUCT | {"flow": "3.5 m3/s"})))).tubes
    with pytest.raises(CaseError, match="speed of sound"):
        build_blocks_geometry(parse_case(TEXT.format(**(DUCT | {"flow": "3.6 m3/s"}))))


@pytest.mark.parametrize(
    ("file", "section"), [("demo/kitchen-vinyl.toml", "water"), ("house/demo-house.toml", "design")]
)
def test_bays_and_houses_carry_water(file, section):
    text = (CASES / file).read_text("utf-8").replace(f"\n[{section}]", f'\n[{section}]\nfluid = "air"')
    with pytest.raises(CaseError, match=rf'{section}\.fluid.*tubes of bays and houses carry water.*"blocks" may carry'):
        (parse_case if section == "water" else parse_house)(text)


def test_two_tubes_of_one_name_are_refused():
    """Of two outlets the report would hold one."""
    text = TEXT.format(**WARM)
    tube = text[text.index("[[tube]]") :]
    with pytest.raises(CaseError, match=r'tube\[1\].name.*"my coil".*is used twice'):
        parse_case(text + tube)
    assert len(parse_case(text + tube.replace("my coil", "my other coil")).tubes) == 2
