"""The widest spacing: a bay in closed form, the real bay against direct solves, cases that have no answer."""

from types import SimpleNamespace

import numpy as np
import pytest

import sim
from sim.case.errors import CaseError
from sim.case.load import load_case
from sim.case.taught import uses_learned_films
from sim.study.spacing import NoSpacingError, SpacingWish, law_edge, widest_spacing
from tests.tiny_bays import QUICK

OAK = "cases/demo/family-oak.toml"


def closed_form(case):
    """A bay of 30 W/m² and 30 W/m² more at full coverage; its ripple 4 K less 3 K times the coverage, 1.2 K without."""
    share = case.plates.length / case.plates.spacing if case.plates else 0.0
    ripple = 4.0 - 3.0 * share if case.plates else 1.2
    return SimpleNamespace(
        case=case, report={"heat_flux_up_W_m2": 30.0 + 30.0 * share, "surface_peak_C": 26.0, "ripple_K": ripple}
    )


@pytest.fixture
def oak():
    return load_case(OAK)  # plates 200 mm long


# By hand from the closed form: share = (q - 30)/30 or (4 - r)/3, spacing 200 mm / share.
@pytest.mark.parametrize(
    ("wish", "spacing", "key"),
    [
        (SpacingWish(45.0), 0.400, "heat"),
        (SpacingWish(50.0), 0.300, "heat"),
        (SpacingWish(40.0, ripple=2.0), 0.300, "ripple"),
        (SpacingWish(50.0, ripple=2.5), 0.300, "heat"),
    ],
)
def test_widest_by_hand(oak, wish, spacing, key):
    answer = widest_spacing(oak, wish, solve=closed_form)
    np.testing.assert_allclose(answer.found.spacing, spacing, rtol=0.02, atol=0.0)
    assert answer.found.spacing <= spacing
    assert answer.found.kept
    assert key in answer.note
    assert answer.solves <= 6


@pytest.mark.parametrize("wish", [SpacingWish(25.0), SpacingWish(29.9, ripple=1.25)])
def test_plates_that_are_not_needed(oak, wish):
    # 30 W/m² and 1.2 K of ripple without any
    answer = widest_spacing(oak, wish, solve=closed_form)
    assert answer.found.spacing is None


def test_as_wide_as_was_tried(oak):
    # at 800 mm: 37.5 W/m²; 30 W/m² without plates
    answer = widest_spacing(oak, SpacingWish(35.0), solve=closed_form)
    assert answer.found.spacing == 0.8
    assert answer.note == "as wide as was tried"


def test_too_much_heat_names_the_closest(oak):
    # 210 mm: 30 + 30/1.05 = 58.57 W/m²
    with pytest.raises(NoSpacingError, match=r"210 mm\).*58\.6 W/m², at least 65\.0 W/m² wanted; warmer water"):
        widest_spacing(oak, SpacingWish(65.0), solve=closed_form)


def test_what_binds_is_told_in_inches_and_pounds_where_those_are_asked_for(oak):
    # 58.57 and 65 W/m² over 3.15459 W/m² in a Btu/h·ft² (NIST SP 811); 25 °C is 77 °F
    with pytest.raises(NoSpacingError, match=r"18\.6 Btu/h·ft², at least 20\.6 Btu/h·ft² wanted") as refused:
        widest_spacing(oak, SpacingWish(65.0), solve=closed_form, units="ip")
    assert " in)" in str(refused.value) and " mm" not in str(refused.value)
    with pytest.raises(NoSpacingError, match=r"at most 77\.0 °F .* cooler"):
        widest_spacing(oak, SpacingWish(45.0, peak=25.0), solve=closed_form, units="ip")


def test_too_even_names_the_closest(oak):
    # 210 mm: 4 - 3/1.05 = 1.14 K, 1.2 K without
    with pytest.raises(NoSpacingError, match=r"with 58\.6 W/m² upwards: ripple 1\.14 K, at most 1\.00 K wanted"):
        widest_spacing(oak, SpacingWish(30.0, ripple=1.0), solve=closed_form)


def test_a_peak_is_not_mended_by_moving_plates(oak):
    with pytest.raises(NoSpacingError, match=r"warmest spot of the floor 26\.0 °C, at most 25\.0 °C .* cooler"):
        widest_spacing(oak, SpacingWish(45.0, peak=25.0), solve=closed_form)


def test_solves_are_told_one_by_one(oak):
    told = []

    def heard(number, spacing):
        told.append(number)

    answer = widest_spacing(oak, SpacingWish(45.0), solve=closed_form, listener=heard)
    assert told == list(range(1, answer.solves + 1))


@pytest.mark.parametrize(
    ("change", "key"), [({"plates": None}, "plates"), ({"span": "bay", "rim.outdoor_temperature": 260.0}, "span")]
)
def test_cases_without_a_spacing_to_seek(oak, change, key):
    with pytest.raises(CaseError) as caught:
        widest_spacing(oak.with_(**change), SpacingWish(45.0), solve=closed_form)
    assert key in [problem.key for problem in caught.value.problems]


def test_real_bay_against_direct_solves(oak):
    coarse = oak.with_(QUICK)
    answer = widest_spacing(coarse, SpacingWish(50.0, ripple=2.9))
    at = {}
    for factor in (0.9, 1.0, 1.1):
        report = sim.solve(coarse.with_(**{"plates.spacing": answer.found.spacing * factor})).report
        at[factor] = report["heat_flux_up_W_m2"], report["ripple_K"]
    np.testing.assert_allclose(at[1.0][0], answer.found.result.report["heat_flux_up_W_m2"], rtol=1e-5, atol=0.0)
    assert at[0.9][0] > at[1.0][0] >= 50.0
    assert at[0.9][1] < at[1.0][1] <= 2.9
    assert at[1.1][0] < 50.0 or at[1.1][1] > 2.9


@pytest.mark.parametrize(
    ("step", "spacing"),
    # by hand from the closed form: 47 W/m² up to 200/(17/30) = 352.9 mm; a step of 400 mm has nothing that close
    [(0.025, 0.350), (0.0254, 13 * 0.0254), (0.1, 0.3), (0.4, None)],
)
def test_a_buildable_spacing_is_solved_anew_with_the_exact_one_beside_it(oak, step, spacing):
    answer = widest_spacing(oak, SpacingWish(47.0), step=step, solve=closed_form)
    if spacing is None:
        assert answer.exact is None and "stays as it is" in answer.note
        return
    np.testing.assert_allclose(answer.found.spacing, spacing, rtol=1e-9)
    np.testing.assert_allclose(answer.exact.spacing, 6.0 / 17.0, rtol=0.02)
    assert answer.found in answer.trials and answer.found.kept
    assert answer.found.result.case.plates.spacing == pytest.approx(spacing)


def test_a_step_below_that_breaks_another_wish_is_passed(oak):
    """Closer plates may make a warmer spot: the next step is tried, and said when none keeps all."""

    def warm(case):
        found = closed_form(case)
        spacing = case.plates.spacing if case.plates else 9.0
        found.report["surface_peak_C"] = 26.0 if spacing < 0.326 or spacing > 0.351 else 30.0
        return found

    answer = widest_spacing(oak, SpacingWish(47.0, peak=29.0), step=0.025, solve=warm)
    np.testing.assert_allclose(answer.found.spacing, 0.325, rtol=1e-9)


def test_a_wish_met_exactly_is_met(oak):
    report = {"heat_flux_up_W_m2": 50.0 * (1 - 1e-9), "surface_peak_C": 30.0 + 1e-8, "ripple_K": 2.0 + 1e-9}
    wish = SpacingWish(50.0, 30.0, 2.0)
    from sim.study.spacing import TriedSpacing

    assert TriedSpacing(0.3, None, wish.margins(report)).kept


@pytest.mark.parametrize(("runs", "said"), [(1, "a second run"), (2, "wider plates")])
def test_what_the_case_has_is_not_proposed(oak, runs, said):
    narrow = oak.with_(**{"tube.runs": runs})
    with pytest.raises(NoSpacingError) as refused:
        widest_spacing(narrow, SpacingWish(30.0, ripple=0.5), solve=closed_form)
    assert said in str(refused.value)
    assert ("second run" in str(refused.value)) == (runs == 1)


def leaping(flux, ripple):
    """The closed form, multiplied by these where learned films do not hold: beyond 504.5 mm of the oak floor."""

    def solve(case):
        result = closed_form(case)
        if case.plates and not uses_learned_films(case):
            result.report["heat_flux_up_W_m2"] *= flux
            result.report["ripple_K"] *= ripple
        return result

    return solve


def test_stripes_that_correlations_miss_do_not_widen_the_plates(oak):
    # by learned films 2.5 K at 400 mm; correlations would give 1.6 K at 800 mm
    answer = widest_spacing(oak, SpacingWish(31.0, ripple=2.5), solve=leaping(1.0, 0.5))
    np.testing.assert_allclose(answer.found.spacing, 0.400, rtol=0.02, atol=0.0)
    assert all(uses_learned_films(trial.result.case) for trial in answer.trials)


def test_an_answer_at_the_edge_of_the_learned_films_says_so(oak):
    # learned films give 40 W/m² up to 600 mm, correlations 36.8 just past 504.5 mm: plates of 200 mm, and between them
    # 290 mm, as bays with fastened plates taught, with the 5 % that lengths may lie outside
    answer = widest_spacing(oak, SpacingWish(40.0), solve=leaping(0.88, 1.0))
    edge = 0.200 + 1.05 * 0.290
    assert answer.found.spacing == pytest.approx(law_edge(oak), abs=1e-6) == pytest.approx(edge, abs=2e-4)
    assert "as wide as the learned films hold" in answer.note


def test_beyond_the_edge_correlations_are_asked(oak):
    # 1.1 × (30 + 30 × 200 mm / s) = 40 at s = 943 mm: beyond what is tried; 43 at 660 mm
    answer = widest_spacing(oak, SpacingWish(41.0, ripple=3.2), solve=leaping(1.1, 1.0))
    np.testing.assert_allclose(answer.found.spacing, 0.750, rtol=0.02, atol=0.0)  # ripple: 4 - 3 × 200 mm / s = 3.2 K
    assert answer.found.spacing <= 0.750


def test_air_by_correlations_has_one_law(oak):
    assert law_edge(oak.with_(**{"air.model": "correlations"})) is None


def test_a_bay_without_plates_is_told_what_to_add(tmp_path, capsys):
    from sim.cli.main import main

    file = tmp_path / "bare.toml"
    file.write_text('[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n[tube]\ndepth = "20 mm"\n', "utf-8")
    assert main(["spacing", str(file), "--flux", "50 W/m^2"]) == 2
    said = capsys.readouterr().err
    assert "the case has no [plates]" in said and 'add e.g. [plates] with length = "200 mm"' in said
    assert '"none"' not in said
