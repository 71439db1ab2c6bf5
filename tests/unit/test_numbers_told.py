"""Numbers that are told beside those of a solve, each by a sum of a few lines."""

import json
from types import SimpleNamespace

import numpy as np
import pytest
import xarray

from sim.airflow.domain import build_domain
from sim.airflow.flow import Flow
from sim.bay.geometry import Box
from sim.case.load import parse_case
from sim.jobs.job import Outcome
from sim.problems.air_numbers import _air
from sim.results import air_report, bay_report
from sim.results.air_fields import frames_dataset
from sim.results.downwards import downward_chain
from sim.results.floor import SurfaceMap
from sim.results.in_time import _ENERGIES, _is_wood, series_rows, warm_up_values
from sim.rules.caution import Caution
from sim.rules.cautions import bay_cautions
from sim.solver.march import History
from sim.store.tables import number_cells
from sim.study import compare_jobs, together
from sim.study.compare import AskedChoice
from sim.study.compare_jobs import NEEDED_FILE

THIN = """
[water]
supply = "50 degC"
[room]
temperature = "20 degC"
[[floor.covering]]
material = "oak"
thickness = "10 mm"
[floor.sheathing]
material = "plywood"
thickness = "18 mm"
"""


def test_nails_are_told_by_the_millimetres_above_what_they_would_hit():
    """10 mm of oak on 18 mm of plywood over a tube or plate that lies against it; nails of 2 in."""
    (found,) = [each for each in bay_cautions(parse_case(THIN), {}) if each.subject == "nails and screws"]
    assert (found.value, found.limit) == (pytest.approx(28.0), pytest.approx(50.8, abs=0.3))


def test_the_same_caution_is_worse_the_farther_it_lies_from_its_limit():
    hot, tepid = (Caution("s", "t", "none", "x_C", value, 60.0) for value in (75.0, 61.0))
    cold = Caution("s", "t", "none", "x_C", 40.0, 60.0)
    assert (hot.badness, tepid.badness, cold.badness) == (15.0, 1.0, 20.0)


@pytest.mark.parametrize(("kind", "material", "wood"), [
    ("covering", "oak", True), ("covering", "tile", False), ("sheathing", "plywood", True), ("joist", "spruce", True),
    ("plate", "aluminium", False), ("insulation", "mineral wool", False),
])  # fmt: skip
def test_wood_is_what_is_sawn_or_laid_of_wood(kind, material, wood):
    body = Box("part", kind, (0.0, 0.0, 0.0), (1.0, 1.0, 0.1), SimpleNamespace(name=material))
    assert _is_wood(body) is wood
    assert not _is_wood(Box("gap", kind, (0.0, 0.0, 0.0), (1.0, 1.0, 0.1))), "air is none"


def test_downwards_all_that_is_known_is_one_step_from_the_water_to_the_space_below():
    """30 K at 2 W/m² are 15 m²K/W."""
    report = {"floor_area_m2": 2.0, "heat_flow_down_W": 4.0, "water_mean_C": 40.0}
    ((words, resistance, fall),) = downward_chain(report, xarray.Dataset(), 283.15)
    assert words == "underside to space below"
    assert (resistance, fall) == (pytest.approx(15.0), pytest.approx(30.0))


def test_a_warm_up_is_measured_by_its_way_from_the_start_to_the_steady_state():
    """Heat of 0, 50, 80 of 100 W/m² after 0, 1, 2 h; the surface at 20, 24, 25 of 25 °C, wood at 20, 30, 40 °C."""
    celsius = {"surface_mean": [20, 24, 25], "surface_peak": [20, 26, 27], "wood_peak": [20, 30, 40]}
    celsius |= {"room": [20, 20, 21], "water_supply": [50, 50, 50]}
    columns = {name: np.array(values) + 273.15 for name, values in celsius.items()}
    columns |= {"heat_up": np.array([0.0, 50.0, 80.0])}
    columns |= {f"energy_{kind}": np.array([0.0, 1.0, 7200.0]) for kind in _ENERGIES}
    times = {"time": [0.0, 3600.0, 7200.0]}
    series = xarray.Dataset({name: ("time", values) for name, values in columns.items()}, times)
    found = warm_up_values(series, {"heat_flux_up_W_m2": 100.0, "surface_mean_C": 25.0})
    told = {
        "flux_end_percent": 80.0, "flux_overshoot_percent": 0.0, "surface_end_percent": 100.0, "energy_in_Wh_m2": 2.0,
        "wood_above_38C_h": 0.2, "wood_highest_C": 40.0, "surface_highest_C": 27.0, "room_end_C": 21.0,
    }  # fmt: skip
    assert {key: found[key] for key in told} == pytest.approx(told)
    assert 1.0 < found["flux_63_h"] < 2.0 and np.isnan(found["flux_90_h"]), "it never gets to nine tenths"


def test_rows_of_a_warm_up_have_hours_celsius_and_watt_hours():
    """Half an hour is 1800 s; 30 °C are 303.15 K; 1 Wh is 3600 J, so that 7.2 MJ/m² are 2 kWh/m²."""
    columns = {"surface_mean": [303.15], "heat_up": [50.0], "water_flow": [0.03], "energy_up": [7.2e6]}
    series = xarray.Dataset({name: ("time", values) for name, values in columns.items()}, {"time": [1800.0]})
    (row,) = series_rows(series)
    told = {
        "time_h": 0.5, "surface_mean_C": 30.0, "heat_up_W_m2": 50.0, "water_flow_kg_s": 0.03, "energy_up_Wh_m2": 2000.0
    }  # fmt: skip
    assert row == pytest.approx(told)


def test_tables_keep_seven_digits_and_leave_out_what_is_no_number():
    assert number_cells({"a": 1234567.8, "b": 0.0012345678, "c": float("nan")}) == {
        "a": "1234568", "b": "0.001234568", "c": ""
    }  # fmt: skip


def test_where_computed_air_rises_fastest_is_told_by_the_middle_of_its_cell(monkeypatch):
    monkeypatch.setattr(air_report, "_rayleigh", lambda air: 0.0)
    edges = np.linspace(0.0, 0.4, 5), np.linspace(0.0, 0.3, 4), np.linspace(0.0, 0.2, 3)
    rise = np.zeros((4, 3, 3))
    rise[2, 1, 1] = 0.05
    speeds = (np.zeros((5, 3, 2)), np.zeros((4, 4, 2)), rise)
    domain, mean = build_domain(edges), Flow(speeds, np.full((4, 3, 2), 300.0))
    coarser = SimpleNamespace(air=SimpleNamespace(domain=domain, mean=mean))
    found = air_report._motion(SimpleNamespace(domain=domain, mean=mean, mean_temperature=300.0, coarser=coarser))
    assert [found[f"air_plume_{axis}_mm"] for axis in "xyz"] == pytest.approx([250.0, 150.0, 50.0])
    assert found["air_mean_C"] == pytest.approx(26.85)
    assert found["air_plumes"] == found["air_plumes_coarser"] == 1.0


def test_warm_and_cool_upright_walls_have_films_of_their_own():
    """0.5 m² each at 310 and 290 K beside air of 300 K, 20 W in and 10 W out: 4 and 2 W/(m² K).

    One film of 10 W over no difference would mean nothing. A wall that is alone keeps its name.
    """
    walls = SimpleNamespace(area=np.full(3, 0.5), side=np.array([0, 1, 5]), group=np.zeros(3, int))
    air = SimpleNamespace(walls=walls, wall=np.array([310.0, 290.0, 295.0]), heat=np.array([20.0, -10.0, -10.0]),
                          mean_temperature=300.0)  # fmt: skip
    found = air_report._walls(air)
    assert found["air_film_beside_warm_W_m2K"] == pytest.approx(4.0)
    assert found["air_film_beside_cool_W_m2K"] == pytest.approx(2.0)
    assert (found["air_heat_beside_W"], found["air_heat_beside_cool_W"]) == pytest.approx((10.0, -10.0))
    assert found["air_film_above_W_m2K"] == pytest.approx(4.0)
    assert "air_film_beside_W_m2K" not in found and "air_film_above_cool_W_m2K" not in found


@pytest.mark.parametrize(("heat", "film"), [(0.9, 3.0), (-0.9, None)])
def test_a_film_is_told_where_heat_goes_the_way_of_the_difference(heat, film):
    """0.9 W on 0.1 m² with 3 K; between layers of air it may pass into a wall that is warmer than their mean."""
    air = SimpleNamespace(walls=SimpleNamespace(area=np.array([0.04, 0.06])), wall=np.full(2, 303.0),
                          heat=np.array([0.4, 0.6]) * heat, mean_temperature=300.0)  # fmt: skip
    found = air_report._wall(air, "above", np.array([True, True]))
    assert found["air_heat_above_W"] == pytest.approx(heat)
    assert found.get("air_film_above_W_m2K") == (film if film is None else pytest.approx(film))


def test_a_stream_function_that_symmetry_makes_zero_is_not_told():
    """Two rolls side by side that turn against each other: in the middle between them stands the air."""
    x, z = np.linspace(0.0, 2.0, 9), np.linspace(0.0, 1.0, 5)
    domain = build_domain([x, np.array([0.0, 1.0]), z])
    psi = {name: np.sin(k * np.pi * x / 2.0)[:, None] * np.sin(np.pi * z) for name, k in (("one", 1), ("two", 2))}
    for name, told in (("one", True), ("two", False)):
        u, w = -np.diff(psi[name], axis=1)[:, None] / 0.25, np.diff(psi[name], axis=0)[:, None] / 0.25
        mean = Flow((u, np.zeros((8, 2, 4)), w), np.full((8, 1, 4), 300.0))
        box = SimpleNamespace(domain=domain, air=SimpleNamespace(diffusivity=1.0))
        found = dict(_air(SimpleNamespace(box=box, dimensionless=True, length=1.0), mean))
        assert ("air_stream_function_centre" in found) == told


def test_a_ripple_is_told_as_a_share_of_how_warm_the_floor_is():
    """26 °C less 23 °C on a floor of 25 °C in a room of 20 °C: 3 K of 5 K; spots lie at the middle of their cells."""
    floor = SimpleNamespace(
        mean=298.15, share_above=lambda celsius: 0.25,
        extreme=lambda highest: (299.15, 1, 0) if highest else (296.15, 0, 1),
    )  # fmt: skip
    cells = SimpleNamespace(grid=SimpleNamespace(centres=lambda axis: np.array([0.1, 0.3]) + axis))
    case = SimpleNamespace(room=SimpleNamespace(temperature=293.15))
    found = bay_report._floor(case, cells, floor)
    assert found["ripple_ratio"] == pytest.approx(0.6) and found["area_above_29C_percent"] == 25.0
    assert (found["peak_x_mm"], found["peak_y_mm"]) == pytest.approx((300.0, 1100.0))
    assert (found["trough_x_mm"], found["trough_y_mm"]) == pytest.approx((100.0, 1300.0))
    floor.mean = 292.15
    assert np.isnan(bay_report._floor(case, cells, floor)["ripple_ratio"]), "of a floor colder than its room"


def test_a_floors_mean_and_its_share_above_a_limit_are_by_area():
    """Faces of 1 and 3 m² at 30 and 26 °C, and one where there is no floor: 27 °C on the mean, a quarter above 29."""
    kelvin = 273.15 + np.array([[30.0, 26.0, np.nan]])
    floor = SurfaceMap(kelvin, np.zeros_like(kelvin), np.array([[1.0, 3.0, 5.0]]))
    assert floor.mean == pytest.approx(300.15) and floor.share_above(302.15) == pytest.approx(0.25)
    assert floor.extreme(True) == (pytest.approx(303.15), 0, 0) and floor.extreme(False)[1:] == (0, 1)


def test_a_march_that_goes_on_counts_time_and_heat_from_where_it_began():
    steps = tuple(SimpleNamespace(time=time, stored=heat) for time, heat in ((150.0, 20.0), (250.0, 30.0)))
    history = History(steps, ({}, {}, {}), SimpleNamespace(time=250.0), 0, 1.0, begin=100.0)
    assert history.time.tolist() == [100.0, 150.0, 250.0] and history.stored().tolist() == [0.0, 20.0, 50.0]


def test_errors_and_imbalance_of_computed_air_are_told_in_percent(monkeypatch):
    monkeypatch.setattr(air_report, "layer_cells", lambda shares, heat: 3.0)
    evidence = SimpleNamespace(
        imbalance=0.004, largest_error=0.02, error={"up": 0.02}, known={}, samples=1.0, averaged=60.0, time=90.0,
        starts=2,
    )  # fmt: skip
    air = SimpleNamespace(
        evidence=evidence, coarser=None, cell_shares=None, heat=None, domain=SimpleNamespace(cells=8),
        now=SimpleNamespace(steps=9), seconds=2.0,
    )  # fmt: skip
    found = air_report._evidence(air)
    assert (found["air_error_percent"], found["air_imbalance_percent"]) == pytest.approx((2.0, 0.4))
    assert (found["air_averaged_s"], found["air_time_s"], found["air_companion_cells"]) == (60.0, 90.0, 0.0)
    assert found["air_starts"] == 2.0
    evidence.starts = 1
    assert "air_starts" not in air_report._evidence(air), "of one there is nothing to say"


def test_pictures_of_a_section_have_its_own_axes_and_say_where_it_lies():
    domain = build_domain((np.linspace(0.0, 0.4, 5), np.linspace(0.0, 0.3, 4), np.linspace(0.0, 0.2, 3)))
    picture = (np.full((4, 2), 300.0), np.zeros((4, 2)), np.zeros((4, 2)))
    made = frames_dataset(domain, [0.0], [picture], outlines=[])
    assert set(made.coords) >= {"time", "air_x", "air_z"} and not [name for name in made.coords if "_y" in str(name)]
    assert made.attrs["section_y"] == pytest.approx(0.15)


def test_what_a_job_of_a_comparison_left_is_read_with_its_water_or_its_shortfall(tmp_path):
    asked = AskedChoice("near", parse_case(THIN))
    done = Outcome("near", tmp_path)
    (tmp_path / NEEDED_FILE).write_text(json.dumps({"supply_K": None, "solves": 0, "shortfall": "too little"}))
    short = compare_jobs._choice(asked, done)
    assert short.at_heat is None and short.shortfall == "too little"
    (tmp_path / NEEDED_FILE).write_text(json.dumps({"supply_K": 320.0, "solves": 3, "shortfall": ""}))
    met = compare_jobs._choice(asked, done).at_heat
    assert (met.supply, met.solves) == (320.0, 3)


def test_cases_solved_together_are_counted_from_one(monkeypatch):
    def solve_many(cases, *, device, listener, hands):
        listener(1, "a result")
        listener(0, ValueError("no flow"))

    told, cases = [], [SimpleNamespace(name=name) for name in ("a", "b")]
    monkeypatch.setattr(together, "solve_many", solve_many)
    together._solved({0: cases[:1], 1: cases[1:]}, "gpu", told.append, None)
    assert told[0] == "1 of 2, b done" and told[1].startswith("2 of 2, a failed")
