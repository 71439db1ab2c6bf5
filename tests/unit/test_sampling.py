"""Studies of inputs: draws, intervals, ranks and failures on small made-up models; one real study."""

import csv
import json
from dataclasses import dataclass
from functools import partial
from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from sim.case.load import load_case, parse_case
from sim.results.people import format_span
from sim.store.run_folder import StoreError
from sim.study.inputs import Input, parse_inputs
from sim.study.ranks import interval_of, rank_regression
from sim.study.sampling import (
    Draw,
    StudyError,
    TrialResult,
    draw_samples,
    end_trials,
    perform_trials_here,
    study,
)
from sim.study.sampling_jobs import TrialJobs
from sim.study.save_study import STUDY_ENTRIES, save_study
from tests.tiny_bays import HUNG

A, B, C = (Input(name, 0.0, 1.0, "fraction") for name in "abc")


@dataclass(frozen=True)
class MadeUp:
    """A case that holds nothing but the values of its inputs."""

    name: str = "made up"
    values: tuple = (("a", 0.5), ("b", 0.5), ("c", 0.5))
    room: ClassVar = SimpleNamespace(temperature=293.15)
    joist_bay: ClassVar = SimpleNamespace(room=room)

    def with_(self, **values):
        return MadeUp(self.name, tuple((dict(self.values) | values).items()))


def studied(model, inputs=(A, B, C), samples=200, seed=0, listener=None):
    """A study of a made-up model, a function of the inputs' values."""
    perform = partial(perform_trials_here, solver=lambda case: {"heat_flux_up_W_m2": model(**dict(case.values))})
    return study(MadeUp(), inputs, samples, seed, listener, perform=perform)


def test_every_part_of_every_range_is_drawn_from_once():
    # The definition of a Latin hypercube (McKay, Beckman and Conover 1979).
    log = Input("b", 0.01, 100.0, "fraction", "log")
    trials = draw_samples((A, log), 50, seed=3)
    a = np.array([trial.values["a"] for trial in trials])
    b = np.array([trial.values["b"] for trial in trials])
    assert sorted(np.floor(50 * a)) == list(range(50))
    assert sorted(np.floor(50 * (np.log10(b) + 2) / 4)) == list(range(50))


def test_a_seed_fixes_the_draw():
    first, same, other = (draw_samples((A, B), 10, seed) for seed in (1, 1, 2))
    assert first == same and first != other
    with pytest.raises(ValueError, match="at least 2"):
        draw_samples((A,), 1, seed=0)


def test_interval_of_a_uniform_result():
    # y = 10 + 4 a with a uniform on 0..1: 5, 50 and 95 % of y lie below 10.2, 12 and 13.8, exactly.
    found = studied(lambda a, **_: 10.0 + 4.0 * a).interval("heat_flux_up_W_m2")
    expected = [12.0, 12.0, 10.2, 13.8]
    assert_allclose([found.mean, found.median, found.low, found.high], expected, rtol=0.0, atol=4.0 / 200)
    assert found.count == 200


def test_interval_of_known_values():
    # 0, 1, ... 100: percentiles are the values themselves.
    found = interval_of([*range(101), np.nan])
    assert (found.mean, found.median, found.low, found.high, found.count) == (50.0, 50.0, 5.0, 95.0, 101)
    assert np.isnan(interval_of([np.nan]).mean) and interval_of([np.nan]).count == 0


def test_intervals_hold_the_error_of_learned_films():
    """Expected: a normal law with the stated band as 95 % half width has its 5 and 95 % at 1.645/1.960 of it."""
    report = {"heat_flux_up_W_m2": 50.0, "ripple_K": 2.0, "surface_mean_C": 24.0, "surface_peak_C": 25.2}
    report |= {"air_band_up_percent": 4.0, "air_band_ripple_percent": 20.0}
    perform = partial(perform_trials_here, solver=lambda case: report)
    found = study(MadeUp(), (A, B), 1500, 0, perform=perform)
    for key, band in (("heat_flux_up_W_m2", 0.04), ("ripple_K", 0.2)):
        interval, usual = found.interval(key), report[key]
        assert interval.high == pytest.approx(usual * (1.0 + band * 1.645 / 1.960), rel=2e-3)
        assert interval.low == pytest.approx(usual * (1.0 - band * 1.645 / 1.960), rel=2e-3)
        assert np.ptp(found.results(key)) == 0.0  # what moves a result is told without it
    # 4 % of the floor's 4 K above the room, and 0.8 of what the ripple may be off.
    peak = found.interval("surface_peak_C")
    assert peak.high - 25.2 == pytest.approx(np.hypot(0.16, 0.32) * 1.645 / 1.960, rel=2e-3)
    assert found.of_the_law() == ["intervals hold the learned films' own error too: heat up ±4 %, ripple ±20 %"]
    assert not studied(lambda a, b, c: a).of_the_law()


def test_linear_model_with_known_ranking():
    # y = 1 a − 4 b + 2 c with equal independent spreads: regression coefficients are c_i / √Σc², swings |c_i|.
    result = studied(lambda a, b, c: a - 4.0 * b + 2.0 * c, samples=400)
    found = result.influences("heat_flux_up_W_m2")
    assert [each.input.key for each in found] == ["b", "c", "a"]
    expected = np.array([-4.0, 2.0, 1.0]) / np.sqrt(21.0)
    assert_allclose([each.coefficient for each in found], expected, rtol=0.0, atol=0.05)
    ends = [(each.at_low, each.at_high) for each in found]
    # The others stay at 0.5: y = 1.5 − 4 b, −1.5 + 2 c, −1 + a.
    assert_allclose(ends, [(1.5, -2.5), (-1.5, 0.5), (-1.0, 0.0)], rtol=0.0, atol=1e-12)
    assert result.determination("heat_flux_up_W_m2") > 0.97


def test_one_monotone_input_has_coefficient_one_whatever_its_curve():
    result = studied(lambda a, **_: np.exp(-9.0 * a), inputs=(A,), samples=30)
    (found,) = result.influences("heat_flux_up_W_m2")
    assert_allclose([found.coefficient, result.determination("heat_flux_up_W_m2")], [-1.0, 1.0], rtol=1e-12, atol=0.0)


def test_with_one_input_the_coefficient_is_spearmans(rng):
    x = rng.random(25)
    y = x + 0.5 * rng.random(25)
    coefficients, determination = rank_regression(x[:, None], y)
    expected = stats.spearmanr(x, y).statistic
    assert_allclose([coefficients[0], determination], [expected, expected**2], rtol=1e-12, atol=0.0)


def test_ranks_that_say_nothing():
    few = rank_regression(np.eye(3), [1.0, 2.0, 3.0])
    flat = rank_regression(np.arange(10.0)[:, None], np.ones(10))
    assert np.isnan(few[0]).all() and np.isnan(flat[0]).all() and np.isnan(flat[1])
    still = rank_regression(np.column_stack([np.arange(10.0), np.ones(10)]), np.arange(10.0))
    assert_allclose(still[0], [1.0, 0.0], rtol=0.0, atol=1e-12)


def test_swing_of_an_influence_with_its_extreme_inside():
    # y = (a − 0.5)²: both ends give 0.25, the case itself 0; the swing is not nothing.
    result = studied(lambda a, **_: (a - 0.5) ** 2, inputs=(A,))
    (found,) = result.influences("heat_flux_up_W_m2")
    assert_allclose(found.swing(result.usual.get("heat_flux_up_W_m2")), 0.25, rtol=1e-12, atol=0.0)


def test_failed_samples_are_kept_with_their_reason_and_the_rest_stands():
    def model(a, **_):
        if a > 0.8:
            raise ValueError("too warm")
        return a

    result = studied(model, inputs=(A,), samples=100)
    failed = [done for done in result.samples if done.failure]
    assert len(failed) == 20 and {done.failure for done in failed} == {"ValueError: too warm"}
    assert result.interval("heat_flux_up_W_m2").count == 80
    # The rest is uniform on 0..0.8.
    assert_allclose(result.interval("heat_flux_up_W_m2").median, 0.4, rtol=0.0, atol=0.01)
    assert result.ends[0][1].failure and np.isnan(result.influences("heat_flux_up_W_m2")[0].at_high)
    assert "21 solves failed" in str(result) and "a high failed: ValueError: too warm" in str(result)
    assert len(result.as_dict()["failures"]) == 21


def test_a_study_in_which_everything_fails_says_why():
    def model(**_):
        raise ArithmeticError("no way")

    with pytest.raises(StudyError, match="no sample could be solved.*no way"):
        studied(model, samples=5)


def test_a_fault_of_the_program_is_no_failed_sample():
    with pytest.raises(KeyError):
        studied(lambda **_: {}["missing"], samples=5)


def test_trials_may_be_done_in_any_order_by_anyone():
    def backwards(case, trials):
        for trial in reversed(trials):
            yield TrialResult(trial, {"ripple_K": trial.values.get("a", 0.5)})

    steps = []
    result = study(MadeUp(), (A,), 10, listener=steps.append, perform=backwards)
    assert [step.number for step in steps] == list(range(1, 14)) and steps[-1].text == "the case itself"
    assert [done.trial.name for done in result.samples] == [f"sample {n}" for n in range(1, 11)]
    assert result.usual.get("ripple_K") == 0.5
    assert [done.get("ripple_K") for done in result.ends[0]] == [0.0, 1.0]


def test_ends_vary_one_input_at_a_time():
    pairs = end_trials((A, B))
    assert [dict(trial.values) for pair in pairs for trial in pair] == [{"a": 0.0}, {"a": 1.0}, {"b": 0.0}, {"b": 1.0}]


def test_values_side_by_side_share_their_places():
    assert format_span("heat_flow_down_W", [1.14, 1.1532, np.nan]) == (["1.1400", "1.1532", "n/a"], "W")
    # 20 °C is 68 °F, 25 °C is 77 °F.
    assert format_span("surface_mean_C", [20.0, 25.0], "ip") == (["68.00", "77.00"], "°F")




def fit_and_misfit():
    """A bay, two inputs whose high ends do not go together, and a study with a made-up solver."""
    case = parse_case(HUNG)
    # A plate hung 70 mm deep and 85 mm of insulation fit each alone, not both under a 150 mm joist.
    inputs = parse_inputs(case, ["plates.drop=20..70 mm", "cavity.insulation.thickness=20..85 mm"])
    perform = partial(perform_trials_here, solver=lambda varied: {"ripple_K": 10.0 * varied.plates.drop, "cells": 8.0})
    return study(case, inputs, 40, perform=perform)


def by_spacing(case):
    """Made-up numbers of a bay, the heat of its pitch among them, and its air: plates up to 440 mm apart taught."""
    apart, learned = case.plates.spacing, {"air_band_up_percent": 3.0, "air_band_ripple_percent": 20.0}
    report = {"heat_flux_up_W_m2": 50.0, "heat_flow_down_W": apart, "share_down_percent": 12.0, "cavity_air_C": 40.0}
    report |= {"ripple_K": 1.0}
    return report | {"floor_area_m2": 0.3 * apart} | (learned if apart - case.plates.length < 0.44 * 1.05 else {})


def test_a_study_says_which_solves_lie_outside_what_taught_and_no_heat_of_a_part_that_grows():
    case = parse_case(HUNG)
    perform = partial(perform_trials_here, solver=by_spacing)
    wide = study(case, parse_inputs(case, ["plates.spacing=200..900 mm"]), 7, perform=perform)
    plain = sum(done.get("floor_area_m2") > 0.3 * 0.612 for done in wide.everything)
    assert 0 < plain < len(wide.everything) == 10
    (line,) = [line for line in wide.of_the_law() if "correlations" in line]
    assert line.startswith(f"in {plain} of 10 solves the air follows correlations, as it lies outside what was")
    assert "share_down_percent" in wide.keys and "heat_flow_down_W" not in wide.keys
    near = study(case, parse_inputs(case, ["plates.drop=20..40 mm"]), 3, perform=perform)
    assert not any("correlations" in line for line in near.of_the_law())
    assert "heat_flow_down_W" in near.keys


def test_a_sample_that_breaks_a_rule_of_the_case_fails_alone():
    result = fit_and_misfit()
    failed = [done.failure for done in result.samples if done.failure]
    assert 0 < len(failed) < 20
    assert all("reaches into the insulation" in reason and "\n" not in reason for reason in failed)


def test_a_study_becomes_a_folder_with_units_in_every_column(tmp_path):
    result = fit_and_misfit()
    folder = save_study(result, tmp_path / "study")
    by_commands = {"written.toml", "report.html", "report.pdf"}
    assert {path.name for path in folder.iterdir()} == set(STUDY_ENTRIES) - by_commands
    with (folder / "samples.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == [
        "solve", "plates.drop [mm]", "cavity.insulation.thickness [mm]", "ripple_K", "cells", "failure"
    ]  # fmt: skip
    assert len(rows) == 40
    for row, done in zip(rows, result.samples, strict=True):
        assert_allclose(float(row["plates.drop [mm]"]), 1000 * done.trial.values["plates.drop"], rtol=1e-6, atol=0.0)
        assert bool(row["failure"]) == bool(done.failure) == (row["ripple_K"] == "")
    with (folder / "ends.csv").open(encoding="utf-8") as file:
        ends = {row["solve"]: row for row in csv.DictReader(file)}
    assert ends["plates.drop low"]["plates.drop [mm]"] == "20"
    assert ends["plates.drop low"]["cavity.insulation.thickness [mm]"] == "60"
    kept = json.loads((folder / "study.json").read_text(encoding="utf-8"))
    assert kept["numbers"]["ripple_K"]["count"] == 40 - len([done for done in result.samples if done.failure])
    assert load_case(folder / "case.toml").plates.drop == 0.04
    save_study(result, folder)
    (folder / "notes.txt").write_text("mine")
    with pytest.raises(StoreError, match="notes.txt"):
        save_study(result, folder)


def test_trials_as_jobs_are_taken_up_again(tmp_path):
    case = parse_case(HUNG)
    inputs = parse_inputs(case, ["plates.drop=20..70 mm", "cavity.insulation.thickness=20..85 mm"])
    misfit = Draw("misfit", {each.key: each.high for each in inputs})
    heard = []
    perform = TrialJobs(tmp_path, listener=heard.append)
    first = {done.trial.name: done for done in perform(case, [Draw("the case itself"), misfit])}
    again = {done.trial.name: done for done in perform(case, [Draw("the case itself")])}
    assert "reaches into the insulation" in first["misfit"].failure
    assert [outcome.reused for outcome in heard] == [False, True]
    report = again["the case itself"].report
    assert report == first["the case itself"].report and report["heat_flux_up_W_m2"] > 10.0


def test_quick_study_of_a_bay():
    # Both inputs only add paths from the hung plate to the floor, so more of either gives more heat.
    case = parse_case(HUNG)
    inputs = parse_inputs(case, ["air.film_factor=0.5..2 log", "plates.emissivity_up=0.05..0.9"])
    result = study(case, inputs, 5, seed=1)
    assert not result.failed and len(result.keys) == 7
    for found in result.influences("heat_flux_up_W_m2"):
        assert found.at_low < result.usual.get("heat_flux_up_W_m2") < found.at_high
        assert found.coefficient > 0.0
    spread = result.interval("heat_flux_up_W_m2")
    assert spread.low < spread.median < spread.high and spread.count == 5
