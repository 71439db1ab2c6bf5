"""Energy audit of small bays of every kind, counted again by hand; and the ways in which a run must fail."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_bays import VARIANTS, changed, small_bay, solved

from sim.case.fluids import water_properties
from sim.results.levels import STEPS
from sim.run import NotConvergedError, prepare, solve_model
from sim.solver.balance import Balance, BalanceError, audit
from sim.solver.steady import DivergedError, SteadyOptions, first_guess, solve_steady
from sim.solver.worst import worst_place


def crossing(result, axis, plane):
    """Heat conducted through a plane of inner faces [W], from cell temperatures and half cells in series."""
    cells, grid = result.cells, result.grid
    k = cells.conductivity(axis, 0.0)
    low, high = np.take(k, plane - 1, axis), np.take(k, plane, axis)
    widths, temperature = grid.widths(axis), result.solution.temperature
    area = np.broadcast_to(grid.face_areas(axis), k.shape).take(plane, axis)
    both = (low > 0.0) & (high > 0.0)
    assert both.any(), "no face conducts there"
    series = 0.5 * widths[plane - 1] / low[both] + 0.5 * widths[plane] / high[both]
    drop = np.take(temperature, plane - 1, axis) - np.take(temperature, plane, axis)
    return float(np.sum((area * drop)[both] / series))


@pytest.mark.parametrize("variant", ["fastened", "hung", "upright", "i-joist"])
def test_subfloor_and_covering_have_their_layers_resistance_whatever_flows_below(variant):
    """All heat of a cut that comes up passes both layers, so the means of their faces differ by q t / k."""
    result = changed(variant, mesh={"layer_cells": 3})
    oak, plywood = result.case.floor.coverings[0], result.case.floor.sheathing
    for name, layer in (("covering", oak), ("sheathing", plywood)):
        told = result.report[f"resistance_{name}_m2K_W"]
        assert_allclose(told, layer.thickness / layer.solid.conductivity[2], rtol=1e-6)
    chain = sum(result.report[f"resistance_{step}_m2K_W"] for step in STEPS)
    assert_allclose(chain, 1.0 / result.report["output_per_kelvin_W_m2K"], rtol=1e-9)


def test_the_subfloor_gains_by_radiation_what_warmer_plates_send_it():
    """By the second law more than nothing, and more from dull plates than from bright; shares are of the whole."""
    shares = []
    for emissivity in (0.05, 0.9):
        told = changed("hung", plates={"emissivity_up": emissivity, "emissivity_down": emissivity}).report
        assert told["plate_mean_C"] > told["sheathing_peak_C"]
        kinds = ("radiant", "convective", "contact", "joist")
        assert_allclose(sum(told[f"{kind}_share_percent"] for kind in kinds), 100.0, rtol=1e-9)
        shares.append(told["radiant_share_percent"])
    assert 0.0 < shares[0] < shares[1] - 10.0 < 90.0


def test_the_waters_speed_is_its_flow_over_the_bore():
    """1.5 l/min in a bore of 0.485 in; water of 45 °C: 990.2 kg/m³, 0.596 mPa s (IAPWS)."""
    told, bore = solved("fastened").report, 0.485 * 0.0254
    speed = 1.5e-3 / 60.0 / (np.pi / 4.0 * bore**2)
    assert_allclose(told["water_velocity_m_s"], speed, rtol=2e-3)
    assert_allclose(told["reynolds"], 990.2 * speed * bore / 0.596e-3, rtol=5e-3)
    assert_allclose(told["water_flow_l_min"], 1.5, rtol=1e-9)


def test_water_goes_up_the_bay_in_the_first_run_and_comes_back_in_the_second():
    """Cooler from place to place in flow order, from where the first run begins to where the second ends: beside it."""
    fields = changed("whole bay", tube={"runs": 2}, plates={"width": "70 mm"}).fields
    there, back = fields["water_position"].values
    assert np.all(np.diff(there) > 0.0) and np.all(np.diff(back) < 0.0)
    assert_allclose(there, back[::-1], rtol=1e-12)
    assert np.all(np.diff(fields["water_temperature"].values.ravel()) < 0.0)


def given_by_water(result):
    """Σ ṁ c (T_in − T_out) over the runs [W]."""
    total = 0.0
    assert result.solution.system.runs, "no water to count"
    for run, water in zip(result.solution.system.runs, result.solution.flows.waters, strict=True):
        mean = np.average(water.temperature, weights=run.length)
        heat = water_properties(mean, run.feed.glycol).specific_heat
        total += water.flow * heat * (water.inlet - water.outlet)
    return total


@pytest.mark.parametrize("variant", VARIANTS)
def test_every_kind_of_bay_closes(variant):
    # Heat given up by the water = heat through a plane of the floor + heat through the underside and the rims;
    # the floor's part is counted from the temperatures of two cell layers, the water's from its own cooling.
    result = solved(variant)
    report, grid = result.report, result.grid
    supplied = report["heat_flow_supplied_W"]
    assert report["audit_residual"] <= 1e-6
    assert report["outer_iterations"] <= 15
    assert supplied > 1.0
    assert_allclose(given_by_water(result), supplied, rtol=1e-6, atol=0)
    parts = [report[f"heat_flow_{path}_W"] for path in ("up", "down", "edge")]
    assert_allclose(sum(parts), supplied, rtol=1e-6, atol=0)
    if variant != "rug":
        top = len(grid.z) - 2
        assert_allclose(crossing(result, 2, top), parts[0], rtol=0, atol=1e-5 * supplied)


@pytest.mark.parametrize("variant", VARIANTS)
def test_nothing_is_warmer_than_the_water_or_colder_than_the_surroundings(variant):
    # Maximum principle: conduction, films and radiation cannot create an extreme inside.
    result = solved(variant)
    case, temperature = result.case, result.solution.temperature
    cold = [case.room.temperature]
    if case.below.kind != "adiabatic":
        cold.append(case.below.temperature)
    if case.span == "bay":
        cold.append(case.rim.outdoor_temperature)
    slack = 1e-4
    assert np.nanmin(temperature) >= min(cold) - slack
    assert np.nanmax(temperature) <= case.water.supply + slack


@pytest.mark.parametrize(
    ("variant", "path"),
    [("no ceiling", "down"), ("fastened", "down"), ("outdoors", "down"), ("whole bay, two rims", "edge")],
)
def test_heat_through_films_by_hand(variant, path):
    # Film times what every face is warmer than the space beyond it; the film as ISO 6946 has it.
    result = solved(variant)
    case = result.case
    film = 1 / 0.17 if variant in ("no ceiling", "fastened") else 1 / 0.04
    beyond = case.below.temperature if path == "down" else case.rim.outdoor_temperature
    # Told by where the faces look, not by the path that the program books them under.
    looks = {"down": (0, 1, 4), "edge": (2, 3)}[path]
    lost = [
        film * float(np.sum(surface.area * (heat.temperature - beyond)))
        for surface, heat in zip(result.solution.system.surfaces, result.solution.flows.surfaces, strict=True)
        if surface.side in looks
    ]
    # No sum over nothing: as many surfaces as were built, each of which loses heat.
    assert len(lost) == {"no ceiling": 4, "whole bay, two rims": 2}.get(variant, 1) and min(lost) > 0.0
    assert_allclose(sum(lost), result.report[f"heat_flow_{path}_W"], rtol=1e-9, atol=0)


def test_runs_in_series_pass_the_water_on():
    waters = solved("three runs").solution.flows.waters
    assert [after.inlet for after in waters[1:]] == [before.outlet for before in waters[:-1]]
    assert waters[0].inlet > waters[1].inlet > waters[2].inlet > waters[2].outlet


def test_a_stated_drop_belongs_to_the_whole_circuit():
    # 5 K over 60 m; the bay holds 0.3 m of tube, so 5 · 0.3 / 60 K of it.
    report = solved("drop instead of flow").report
    assert_allclose(report["water_supply_C"] - report["water_return_C"], 5.0 * 0.3 / 60.0, rtol=1e-4, atol=0)


@pytest.fixture(scope="module")
def model():
    """A bay without cavity, ready to solve."""
    return prepare(small_bay("insulation full"))


def test_too_few_passes_are_not_converged(model):
    with pytest.raises(NotConvergedError, match="insulation full: pass limit.*\n.*\n.*residual"):
        solve_model(model, options=SteadyOptions(passes=1))


def test_what_did_not_settle_is_named_with_its_place(model):
    with pytest.raises(NotConvergedError, match=r"W are left over at \d+, \d+, -?\d+ mm \(across, along, up\), in \w+"):
        solve_model(model, options=SteadyOptions(passes=1))


@pytest.mark.parametrize("field", ["cells", "zones", "patches"])
def test_the_place_is_where_most_heat_is_left_over(field):
    """One watt is put where nothing else is left over; its cell, zone or patch must be the one that is named."""
    model = prepare(small_bay("no plates"))
    state = first_guess(model.system)
    found = solve_steady(model.system, SteadyOptions(passes=0), None, state)
    empty = {name: np.zeros_like(getattr(found.flows, name)) for name in ("cells", "zones", "patches")}
    tube = model.cells.of_kind("tube")
    number = int(np.flatnonzero(tube)[0]) if field == "cells" else 0
    empty[field][number] = -1.0
    told = worst_place(replace(found, flows=replace(found.flows, **empty)), model.cells)
    assert told.startswith("1 W of ")
    if field == "cells":
        x, y, z = (int(i[0]) for i in np.nonzero(tube))
        edges = model.grid.x[x : x + 2], model.grid.y[y : y + 2], model.grid.z[z : z + 2]
        assert "at {:.0f}, {:.0f}, {:.0f} mm".format(*(1e3 * edge.mean() for edge in edges)) in told
        assert told.endswith("in tube run 1")
    else:
        assert {"zones": "in the air zone", "patches": "in the radiation at"}[field] in told


def test_an_open_balance_stops_the_run_with_its_table(model):
    careless = SteadyOptions(residual=1e9, imbalance=1e9)
    with pytest.raises(BalanceError) as stopped:
        solve_model(model, options=careless)
    for word in ("does not close to 1e-06", "tube run 1", "up", "down", "of the heat supplied"):
        assert word in str(stopped.value)


def test_a_balance_is_audited_by_its_paths():
    closed = Balance({"tube": 10.0}, {"up": 9.0, "down": 1.0 - 9e-6})
    assert audit(closed) is closed
    with pytest.raises(BalanceError, match="difference 2"):
        audit(Balance({"tube": 10.0}, {"up": 9.0, "down": 1.0 - 2e-5}))
    with pytest.raises(BalanceError):
        audit(Balance({"tube": float("nan")}, {"up": 9.0}))


@pytest.mark.parametrize("name", ["temperature", "air", "irradiation"])
def test_a_value_that_is_no_number_stops_the_run(name):
    model = prepare(small_bay("no plates"))
    start = first_guess(model.system)
    values = getattr(start, name).copy()
    values[-1] = np.nan
    place = {
        "temperature": r"at \d+, \d+, \d+ mm \(across, along, up\), in [a-z]",
        "air": "in the air zone [a-z]",
        "irradiation": r"in the radiation at \d+, \d+, -?\d+ mm \(across, along, up\), on [a-z]",
    }[name]
    with pytest.raises(DivergedError, match=f"^.+: {name} is not a number at index .* after 0 passes, {place}"):
        solve_model(model, start=replace(start, **{name: values}))
