"""Rest is steady only where nothing grows: small disturbances of layers, against linear stability."""

from dataclasses import replace

import numpy as np
import pytest

from sim.airflow.domain import build_domain
from sim.airflow.growth import disturbance
from sim.case import CaseError, parse_case
from sim.cli.main import main
from sim.problems import air_ending
from sim.problems.air_box import build_air_problem
from sim.problems.air_rest import HEIGHT
from sim.problems.air_run import solve_air, start_flow
from sim.results.air_motion import NEAR_ONSET, ending, is_still, motion_words
from tests.analytic.layer_stability import growth_rate

LAYER = """kind = "blocks"
[[box]]
name = "air"
x = ["0 m", "{width} m"]
y = ["0 m", "1 m"]
z = ["0 m", "1 m"]
air = true
[[face]]
name = "floor"
on = "z-"
temperature = "{floor} K"
[[face]]
name = "ceiling"
on = "z+"
temperature = "{ceiling} K"
[air]
model = "resolved"
two_dimensional = true
symmetry = ["x-", "x+"]
scheme = "central"
rayleigh = {rayleigh}
prandtl = 0.71
cell = "{cell} m"
wall_cell = "{cell} m"
longest = "{longest} s"
"""


def layer(rayleigh, width=1.00789, floor=1, ceiling=0, cell=0.05, longest=1.0, more=""):
    text = LAYER.format(
        rayleigh=rayleigh, width=width, floor=floor, ceiling=ceiling, cell=cell, longest=longest
    )
    return parse_case(text + more, "layer")


def test_linear_stability_has_the_published_onset():
    """Chandrasekhar 1961, table III: 1707.762 at 3.117."""
    assert abs(growth_rate(1707.762, 3.117, 0.71)) < 1e-4
    assert growth_rate(1707.762, 2.9, 0.71) < -0.01 > growth_rate(1707.762, 3.3, 0.71)


@pytest.mark.parametrize("rayleigh", [1500.0, 2000.0])
def test_a_disturbance_of_rest_grows_or_decays_as_linear_theory_says(rayleigh):
    """Half a wavelength of the critical roll; the onset of so coarse a mesh lies some 0.6 % low: 0.12."""
    run = solve_air(layer(rayleigh, cell=0.04, longest=1.0, more='start = "rest"\n'))
    expected = max(growth_rate(rayleigh, m * np.pi / 1.00789, 0.71) for m in (1, 2, 3))
    assert abs(run.unrest.rate - expected) < 0.12
    assert (run.now.stop_reason == "steady") == (expected < 0.0)
    assert run.report["disturbance_growth"] == run.unrest.rate


@pytest.mark.parametrize("rayleigh", [1e4, 2.5e4])
def test_a_disturbance_that_has_become_a_flow_is_not_taken_for_one_that_fades(rayleigh):
    """Far above onset it is a steady roll before it is looked at: its last rates are those of the roll, about nothing.

    Linear theory, and 20 cells across the layer.
    """
    run = solve_air(layer(rayleigh, longest=1.0, more='start = "rest"\n'))
    expected = max(growth_rate(rayleigh, m * np.pi / 1.00789, 0.71) for m in (1, 2, 3))
    assert run.unrest.rate == pytest.approx(expected, rel=0.1)
    assert run.report["nusselt_floor"] > 2.0
    told = ending(run.report.as_dict())
    assert "Rest does not last here" in told and "The flow at the end is steady" in told and "onset" not in told


def test_rest_whose_seeded_roll_dies_is_not_steady_while_another_roll_grows():
    """3.02 wide at Ra 1900: one roll decays at 6.1, three grow at 1.25 per L²/α; the end is rolls."""
    assert growth_rate(1900.0, np.pi / 3.02, 0.71) < -6.0
    expected = growth_rate(1900.0, 3.0 * np.pi / 3.02, 0.71)
    run = solve_air(layer(1900.0, width=3.02, cell=0.07, longest=1.0, more='start = "roll"\n'))
    assert run.now.stop_reason == "time"
    assert run.report["steady"] == 0.0
    assert abs(run.unrest.rate - expected) < 0.35
    assert "does not last here" in ending(run.report.as_dict())


@pytest.mark.slow
def test_the_layer_just_above_onset_ends_in_rolls():
    """Rolls carry more than conduction: Nu − 1 of some 1.4 (Ra / 1707.762 − 1) (Schlüter and others 1965)."""
    run = solve_air(layer(1900.0, width=3.02, cell=0.06, longest=12.0, more='start = "roll"\n'))
    assert run.now.stop_reason == "steady"
    assert 1.10 < run.report["nusselt_floor"] < 1.20


@pytest.mark.parametrize("start", ["roll", "noise"])
@pytest.mark.parametrize("rayleigh", [1600.0, 1750.0])
def test_near_onset_neither_dying_nor_lurking_patterns_are_taken_for_the_end(rayleigh, start):
    """3.02 wide: while coarse noise fades, changes are as small as those of a steady flow, on either side of onset."""
    run = solve_air(layer(rayleigh, width=3.02, cell=0.1, longest=3.0, more=f'start = "{start}"\n'))
    told, steady = ending(run.report.as_dict()), run.now.stop_reason == "steady"
    if growth_rate(rayleigh, 3.0 * np.pi / 3.02, 0.71) < 0.0:
        assert steady and run.unrest.rate < 0.0 and "at rest" in told and "decays" in told
    else:
        assert not (steady and run.report["nusselt_floor"] < 1.01)
        assert run.unrest is None or ("Rest does not last" in told and run.unrest.grows)


@pytest.mark.parametrize(("speed", "later"), [(100.0, 0.003), (1.0, 0.3)])
def test_a_strong_flow_that_still_decays_is_looked_at_again_soon_and_a_weak_one_late(speed, later, monkeypatch):
    """In L²/α: a strong one was followed as long as a weak one, which took a square at Ra 1e6 four times as long."""
    case = layer(1e4)
    problem, ends = build_air_problem(case), []
    start = start_flow(case, problem)
    flow = replace(start, velocity=tuple(np.full_like(u, speed) for u in start.velocity), time=0.05)
    monkeypatch.setattr(air_ending, "march", lambda box, now, until, **_: ends.append(until) or now)
    heard = air_ending._Held(lambda look, stepper: None)
    heard.last = 2.0 * case.air.steady + 1e-3
    air_ending._watched(problem, case.air, flow, heard)
    assert ends == [pytest.approx(0.05 + later)]
    heard.last = 0.5 * case.air.steady
    air_ending._watched(problem, case.air, flow, heard)
    assert len(ends) == (1 if speed == 100.0 else 2), "a strong flow that holds has ended"


def test_what_a_coarse_mesh_cannot_tell_is_said():
    told = {"disturbance_growth": 0.05, "disturbance_number": 1.0, "disturbance_height": 1e-3, "steady": 0.0}
    assert "cells may decide" in ending(told | {"air_mesh_error_percent": 0.7})
    assert "cells may decide" not in ending(told | {"air_mesh_error_percent": 0.3})
    slope = (growth_rate(1710.0, 3.117, 0.71) - growth_rate(1705.0, 3.117, 0.71)) / np.log(1710.0 / 1705.0)
    assert abs(slope / NEAR_ONSET - 1.0) < 0.02


def test_a_disturbance_that_grows_is_raised_and_that_is_said():
    run = solve_air(layer(2000.0, cell=0.1, longest=1.0, more='start = "rest"\n'))
    assert run.report["disturbance_raised"] == run.unrest.raised_by > 1.0
    assert "to save time" in ending(run.report.as_dict())
    energy = {row["time"]: row["kinetic_energy"] for row in run.history}
    before = max(time for time in energy if time <= run.unrest.raised_at)
    after = min(time for time in energy if time > before)
    assert energy[after] / energy[before] == pytest.approx(run.unrest.raised_by**2, rel=0.2)


def test_a_layer_heated_from_above_is_told_at_rest_and_steady():
    run = solve_air(layer(1e4, floor=0, ceiling=1, longest=3.0))
    assert run.now.stop_reason == "steady"
    assert run.unrest.rate < -1.0
    assert is_still(run.report.as_dict())
    assert "at rest" in ending(run.report.as_dict())


def test_a_roll_that_is_seeded_below_onset_is_not_told_as_a_flow():
    run = solve_air(layer(1600.0, longest=0.3, more='start = "roll"\nseed = 1e-3\nsteady = 0.0\n'))
    assert "decays" in motion_words(run.report.as_dict())
    assert run.history[-1]["growth"] < 0.0 < run.history[-1]["kinetic_energy"]


def test_noise_is_small_recorded_and_repeatable():
    case = layer(1900.0, more='start = "noise"\nseed = 1e-2\nnoise = 7\n')
    problem = build_air_problem(case)
    first, again = (start_flow(case, problem).temperature for _ in range(2))
    other = start_flow(layer(1900.0, more='start = "noise"\nseed = 1e-2\nnoise = 8\n'), problem).temperature
    np.testing.assert_array_equal(first, again)
    assert np.abs(first - other).max() > 1e-3
    layered = 1.0 - problem.box.domain.centres[2]
    np.testing.assert_allclose(np.abs(first - layered).max(), 1e-2, rtol=1e-6, atol=0.0)
    assert np.abs(disturbance(problem.box.domain, 7)).max() == 1.0 > HEIGHT


def test_a_disturbance_is_the_same_wherever_the_air_lies():
    edges = [np.linspace(0.0, length, 9) for length in (2.0, 1.5, 1.0)]
    places = ((0.0, 0.0, 0.0), (3.0, -2.0, 5.0))
    here, there = (build_domain([e + off for e, off in zip(edges, place, strict=True)]) for place in places)
    np.testing.assert_allclose(disturbance(there, 7), disturbance(here, 7), rtol=0.0, atol=1e-9)


def test_a_seed_without_a_start_that_uses_it_is_refused():
    with pytest.raises(CaseError, match="roll"):
        layer(1900.0, more="seed = 0.2\n")


def test_air_at_rest_is_drawn_and_told_at_rest(tmp_path, capsys):
    """Its streamlines ended in a traceback, and speeds of 3e-27 were drawn as a flow."""
    folder = tmp_path / "out"
    assert main(["run", "cases/verification/cube-heated-from-above/case.toml", "--out", str(folder)]) == 0
    assert "The air is at rest" in capsys.readouterr().out
    assert {file.name for file in (folder / "pictures").iterdir()} >= {"air_section.png", "air_history.png"}
