"""The answer of a comparison: which choice meets the wish, by what margin, at what cost, and how sure that is."""

from types import SimpleNamespace

import pytest

from sim.case.load import load_case
from sim.study.answer import answer, supply_words
from sim.study.compare import AskedChoice, ComparedChoice, Comparison

CASE = load_case("cases/demo/family-oak.toml")


class Report(dict):
    """A report as results have it."""

    def as_dict(self):
        return dict(self)


def result(flux, plates, supply=50.0, peak=26.0, **more):
    report = {
        "heat_flux_up_W_m2": flux, "plates_per_m2": plates, "water_supply_C": supply, "ripple_K": 2.0,
        "surface_peak_C": peak, "covering_peak_C": peak,
    }  # fmt: skip
    return SimpleNamespace(report=Report(report | more))


def compared(*choices, case=CASE):
    """Choices as (name, at its own water, at equal heat)."""
    made = [
        ComparedChoice(AskedChoice(name, case), water, SimpleNamespace(result=heat) if heat else None)
        for name, water, heat in choices
    ]
    return Comparison(case, tuple(made), 50.0)


CLOSE = ("close", result(60.0, 20.0), result(50.0, 20.0, 45.0))
WIDE = ("wide", result(54.0, 10.0), result(50.0, 10.0, 47.0))


@pytest.mark.parametrize(("ripple", "hardly"), [(1.9, True), (1.5, False)])
def test_a_floor_more_even_by_less_than_the_air_leaves_open_is_no_surer_choice(ripple, hardly):
    # 20 % of 1.9 K are 0.38 K against 0.1 K less; of 1.5 K 0.30 K against 0.5 K
    even = result(50.0, 10.0, 47.0, ripple_K=ripple, air_band_ripple_percent=20.0)
    (line,) = [line for line in answer(compared(CLOSE, ("wide", result(54.0, 10.0), even)), None) if "even" in line]
    assert line.startswith("Most even floor within all limits: wide, 47.0 °C water")
    assert ("but by less than the ± 0.38 K that the model of the air leaves open." in line) == hardly


def test_an_even_floor_by_correlations_is_no_advice_beside_learned_ones():
    """They give floors up to three times too even, so that their ripple says nothing beside a learned one."""
    learned = {"air_band_up_percent": 3.0, "air_band_ripple_percent": 20.0, "cavity_air_C": 35.0}
    close = ("close", result(60.0, 20.0), result(50.0, 20.0, 45.0, **learned))
    wide = ("wide", result(54.0, 10.0), result(50.0, 10.0, 47.0, ripple_K=0.5, cavity_air_C=35.0))
    third = ("third", result(54.0, 8.0), result(50.0, 8.0, 48.0, ripple_K=1.2, **learned))
    (line,) = [line for line in answer(compared(close, wide, third), None) if "even floor" in line]
    assert line.startswith("Most even floor within all limits: third")
    assert not [line for line in answer(compared(close, wide), None) if "even floor" in line]


def test_the_fewest_plates_that_meet_the_wish():
    first, also, *_ = answer(compared(CLOSE, WIDE), 50.0)
    assert first.startswith("Wide gives the wished 50.0 W/m² with 4.0 W/m² (8.0 %) to spare and every limit kept:")
    assert "50.0 °C water, plates 10.00 per m², ripple 2.00 K" in first
    assert also == "So does close, with more plates or warmer water."


def test_plates_are_no_word_where_no_choice_has_any():
    bare = CASE.with_(plates="none")
    lines = answer(compared(("1 run", result(40.0, 0.0), None), ("2 runs", result(54.0, 0.0), None), case=bare), 50.0)
    assert lines[0].endswith("every limit kept: 50.0 °C water, ripple 2.00 K.")
    some = answer(compared(WIDE, ("bare", result(60.0, 0.0), None)), 50.0)
    assert "plates none" in some[0]


def test_who_falls_short_is_named():
    lines = answer(compared(CLOSE, WIDE), 58.0)
    assert lines[0].startswith("Close gives the wished 58.0 W/m² with 2.0 W/m² (3.4 %) to spare")
    assert lines[1] == "Too little heat: wide by 4.0 W/m²."


def test_none_meets_it_and_other_water_would():
    lines = answer(compared(CLOSE, WIDE), 70.0)
    assert lines[0] == "No choice gives the wished 70.0 W/m² with its own water and every limit kept."
    assert "With other water, the coolest that does: close, 45.0 °C water, plates 20.00 per m², ripple 2.00 K." in lines
    assert "With other water and the fewest plates: wide, 47.0 °C water, plates 10.00 per m², ripple 2.00 K." in lines


def test_heat_at_the_cost_of_a_limit_is_no_answer():
    hot = ("hot", result(60.0, 5.0, peak=30.0), None)  # 29 °C by EN 1264-2, oak 26.7 °C by trade guidance
    first, *others = answer(compared(hot, CLOSE), 50.0)
    assert first.startswith("Close gives")
    assert "Hot gives it but breaks a limit (occupied floor and oak at its surface)." in others
    assert answer(compared(hot), 50.0)[-1] == "No water makes any of them do so within the limits."


def test_what_breaks_at_both_waters_is_told_once():
    hot = ("hot", result(60.0, 5.0, peak=30.0), result(50.0, 5.0, 45.0, peak=29.5))
    cool = ("cool", result(40.0, 9.0), result(50.0, 9.0, 55.0, peak=27.0))
    lines = answer(compared(hot, cool), 50.0)
    assert [line for line in lines if "breaks" in line] == [
        "Hot gives it but breaks a limit (occupied floor and oak at its surface).",
        "With other water cool would, but breaks a limit (oak at its surface).",
    ]


def test_a_wish_met_exactly_is_met():
    assert answer(compared(CLOSE), 60.0)[0].startswith("Close gives the wished 60.0 W/m² with 0.0 W/m²")


def test_a_margin_within_the_band_of_the_air_is_not_called_certain():
    learned = ("hung", result(52.0, 8.0, air_band_up_percent=5.0), None)
    assert answer(compared(learned), 50.0)[-1].startswith("Not certain for hung: the margin is within ± 2.6 W/m²")
    assert len(answer(compared(learned), 40.0)) == 1


def test_of_several_that_are_not_certain_the_widest_band_is_told():
    """5 % of 52 W/m² are 2.6, 8 % of 49 W/m² are 3.9."""
    sure, unsure = (result(flux, 8.0, air_band_up_percent=share) for flux, share in ((52.0, 5.0), (49.0, 8.0)))
    told = answer(compared(("sure", sure, None), ("unsure", unsure, None)), 50.0)[-1]
    assert told.startswith("Not certain for sure and unsure: the margin is within ± 3.9 W/m²")


def test_one_key_that_every_choice_changes_names_the_comparison():
    asked = [AskedChoice(name, CASE, {"plates.spacing": name}) for name in ("0.3 m", "0.4 m")]
    other = AskedChoice("three runs", CASE, {"tube.runs": 3})
    one, two = (Comparison(CASE, tuple(ComparedChoice(each, result(50.0, 8.0), None) for each in choices), 50.0)
                for choices in (asked, [*asked, other]))  # fmt: skip
    assert (one.key, two.key) == ("plates.spacing", "")


def test_a_ripple_that_the_case_wishes_for_counts():
    picky = CASE.with_text("compare.ripple", "1.5 K")
    lines = answer(compared(CLOSE, case=picky), 50.0)
    assert lines[1] == "Close gives it but breaks a limit (the ripple wished for)."


def test_without_a_wish_it_is_said():
    lines = answer(compared(CLOSE, WIDE), None)
    assert lines[0] == "At the heat that close gives, 50.0 W/m² (none was asked for):"
    assert lines[1] == "Coolest water within all limits: close, 45.0 °C water, plates 20.00 per m², ripple 2.00 K."


def test_who_breaks_the_same_limit_is_told_once():
    warm = ("warm", result(50.0, 5.0, peak=27.0), result(50.0, 5.0, 45.0, peak=27.0))
    hotter = ("hotter", result(50.0, 4.0, peak=27.5), result(50.0, 4.0, 47.0, peak=27.5))
    assert answer(compared(CLOSE, warm, hotter), None)[-1] == (
        "A limit is broken there by warm and hotter (oak at its surface)."
    )
    assert answer(compared(warm, hotter), None)[1] == "No choice keeps all limits there."


@pytest.mark.parametrize(("second", "said"), [("50 degC", "At equal water"), ("60 degC", "Each with its own water")])
def test_titles_say_what_was_held(second, said):
    other = CASE.with_text("water.supply", second)
    both = Comparison(CASE, tuple(ComparedChoice(AskedChoice(c.name, c), None, None) for c in (CASE, other)), 50.0)
    assert supply_words(both, "si").startswith(said)


def test_choices_whose_air_follows_correlations_are_named_among_others():
    """Learned films beside correlations: the answer says which is which; alike, there is nothing to say."""
    learned = ("taught", result(60.0, 20.0, cavity_air_C=40.0, air_band_up_percent=3.0), None)
    plain = ("plain", result(54.0, 10.0, cavity_air_C=40.0), None)
    for wish in (None, 50.0):
        assert answer(compared(learned, plain), wish)[-1].startswith("Only plain: air by correlations, so not")
        assert not any("correlations" in line for line in answer(compared(plain, plain), wish))
