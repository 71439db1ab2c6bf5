"""What tripped people who typed one command on a bay of their own: each stays mended."""

import re
from types import SimpleNamespace

import pytest

from sim.case.errors import CaseError
from sim.case.load import load_case, parse_case
from sim.cli.load import say_beyond
from sim.cli.main import main
from sim.cli.show import source_text
from sim.cli.spacing import _trial_rows, _trials_table
from sim.cli.water import _within
from sim.rules.cautions import bay_cautions
from sim.rules.limits import Limit, Verdict, limits_for
from sim.study.characteristic import fit_power
from sim.study.inputs import drawn, parse_inputs
from sim.study.sampling import reason
from sim.study.water import _more

OAK = "cases/demo/family-oak.toml"
BARE = """
[[floor.covering]]
material = "carpet"
thickness = "10 mm"
[water]
supply = "60 degC"
[room]
temperature = "20 degC"
"""


@pytest.fixture
def bare(tmp_path):
    path = tmp_path / "bare.toml"
    path.write_text(BARE, encoding="utf-8")
    return path


def test_spacing_of_plates_that_are_not_there_tells_how_to_add_them(bare, capsys):
    assert main(["compare", str(bare), "--spacing", "200mm,none"]) == 2
    assert 'e.g. [plates] with position = "fastened"' in capsys.readouterr().err


def test_a_heated_room_that_is_colder_than_any_is_doubted_before_anything_is_solved(tmp_path, capsys):
    path = tmp_path / "cold.toml"
    path.write_text(BARE + '[below]\nkind = "heated room"\ntemperature = "-10 degC"\n', encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert "taken as a heated room, at -10 °C" in " ".join(capsys.readouterr().out.split())


def test_hot_water_and_holes_are_told_before_anything_is_solved(tmp_path, capsys):
    """180 °F is over the 160 °F of a wood subfloor; a hole of 4 in is over a third of a 2x10 (IRC R502.8.1)."""
    path = tmp_path / "boiler.toml"
    hot = BARE.replace("60 degC", "180 degF")
    path.write_text(hot + '[tube]\ndirection = "across"\ndepth = "4 in"\nhole_diameter = "4 in"\n', encoding="utf-8")
    assert main(["check", str(path)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "! BROKEN: water under a wood subfloor: 82 °C (180 °F), at most 71 °C (160 °F)" in told
    assert "! BROKEN: holes too large" in told
    assert "! hot water: water of 82 °C (180 °F) burns skin" in told


def test_a_slice_without_plates_is_no_plate_pitch(bare, capsys):
    assert main(["check", str(bare)]) == 0
    out = capsys.readouterr().out
    assert "plate pitch" not in out and "a slice, alike along the joists" in out
    assert "plate pitch" in str(load_case(OAK))


def test_the_limit_of_oak_is_its_source_s_80_degrees():
    # 80 °F = 26.67 °C; 26.7 °C would read 80.1 °F beside "80 °F"
    (oak,) = (limit for limit in limits_for(load_case(OAK)) if limit.what.startswith("oak"))
    assert oak.highest * 1.8 + 32.0 == pytest.approx(80.0, abs=1e-3)


def test_a_covering_over_the_standard_s_reads_over_it():
    thick = parse_case(BARE, "thick").with_(**{"floor.covering.0.thickness": 0.0105})
    texts = [c.text for c in bay_cautions(thick, {}, "ip") if c.subject == "covering"]
    first, second = re.findall(r"(\d+\.\d+) h·ft²", texts[0])
    assert float(first) > float(second) == 0.85  # 0.15 m²K/W x 5.678


def test_hung_plates_are_told_by_the_key_that_their_writer_wrote():
    text = BARE + (
        '[plates]\nposition = "hung"\ndrop = "225 mm"\n[tube]\ndirection = "across"\n'
        '[bay]\njoist_depth = "235 mm"\n'
    )
    with pytest.raises(CaseError) as caught:
        parse_case(text, "across")
    keys = {problem.key for problem in caught.value.problems}
    assert "plates.drop" in keys and "tube.depth" not in keys


def test_an_end_of_a_range_that_breaks_a_rule_names_the_range_and_not_the_file_alone():
    case = load_case("cases/demo/kitchen-vinyl.toml")
    with pytest.raises(CaseError, match=re.escape('input "plates.drop=20..900 mm", at 900 mm')):
        parse_inputs(case, ["plates.drop=20..900 mm"])
    with pytest.raises(CaseError) as caught:
        drawn(case, {"plates.drop": 0.9})
    assert "the drawn values do not fit, narrow their ranges: plates.drop got 900 mm" in reason(caught.value)
    assert str(case.path) not in reason(caught.value)


@pytest.mark.parametrize(("units", "degree"), [("ip", "in"), ("si", "mm")])
def test_what_lies_beyond_the_learned_films_is_told_in_the_units_asked_for(units, degree, tmp_path, capsys):
    path = tmp_path / "wide.toml"
    path.write_text(BARE + '[plates]\nwidth = "260 mm"\nspacing = "0.5 m"\n[tube]\nruns = 1\n', encoding="utf-8")
    say_beyond(path, load_case(path), units)
    said = capsys.readouterr().err
    assert "beyond the learned films" in said
    assert re.search(rf"\d {degree}\b", said) and not re.search(rf"\d {'mm' if degree == 'in' else 'in'}\b", said)


def test_water_that_cannot_give_a_flux_says_what_would():
    flux = SimpleNamespace(key="heat_flux_up_W_m2")
    assert "closer or wider plates or a thinner covering would give more" in _more(load_case(OAK), flux)
    assert _more(load_case(OAK), SimpleNamespace(key="surface_peak_C")) == ""


def trial(spacing, flux=50.0, learned=True):
    values = {"heat_flux_up_W_m2": flux, "surface_peak_C": 25.0, "ripple_K": 2.0}
    band = {"air_band_up_percent": 2.0} if learned else {}
    report = type("Report", (dict,), {"values": values | band})(values)
    return SimpleNamespace(spacing=spacing, kept=True, margins={}, result=SimpleNamespace(report=report))


def test_bays_that_read_alike_are_listed_once_from_close_to_wide():
    found = trial(0.3)
    answer = SimpleNamespace(trials=(trial(0.6), trial(0.3), trial(None), found), found=found)
    rows = _trial_rows(answer, "si")
    assert [row[0] for row in rows] == ["plates every 300 mm", "plates every 600 mm", "no plates"]
    assert [row[-1] for row in rows] == ["found", "kept", "kept"]
    assert len(_trials_table(rows).columns) == 5


def test_bays_by_two_laws_of_the_air_say_which_is_whose():
    found = trial(0.3, learned=False)
    rows = _trial_rows(SimpleNamespace(trials=(trial(0.3), found), found=found), "si")
    assert {row[-2] for row in rows} == {"learned films", "correlations"}
    assert len(_trials_table(rows).columns) == 6


def findings(kept=True, supplies=(48.0, None)):
    limits = [Limit("surface_peak_C", 29.0, "floor", "a source"), Limit("joist_peak_C", 65.0, "joist", "a source")]
    report = {"water_mean_C": 44.0, "water_supply_C": 45.0}
    curve = fit_power("den", [10.0, 20.0, 30.0], [20.0, 40.0, 60.0])
    return SimpleNamespace(
        needed=SimpleNamespace(result=SimpleNamespace(report=report)), curve=curve,
        verdicts=[Verdict(limits[0], 28.0 if kept else 30.0)], reached=list(zip(limits, supplies, strict=True)),
    )  # fmt: skip


def test_needed_water_says_first_whether_it_is_within_limits_and_what_the_floor_gives_at_most():
    # water of 48 °C is 47 °C on average, 27 K over the room of 20 °C: 2 W/m²K of them are 54 W/m²
    case = load_case(OAK)
    told = _within(case, findings(), "si")
    assert told == "All limits are kept. Within all of them this floor takes water of at most 48.0 °C: about 54.0 W/m²."
    assert _within(case, findings(kept=False), "ip").startswith("BROKEN by this heat: floor. Within all of them")
    assert _within(case, findings(supplies=(80.0, None)), "si").endswith("at most 80.0 °C.")
    assert _within(case, findings(supplies=(None, None)), "si") == "All limits are kept."


@pytest.mark.parametrize("units", ["si", "ip"])
def test_sources_of_limits_and_cautions_speak_the_reader_s_units(units):
    """Beside °F stands °C for a reader of SI; a reader of inches and pounds meets no SI, and each number once."""
    thick = parse_case(BARE, "thick").with_(**{"floor.covering.0.thickness": 0.03})
    cases = [load_case(OAK), thick]
    found = [limit.source for case in cases for limit in limits_for(case)]
    found += [caution.source for case in cases for caution in bay_cautions(case, {}, units)]
    for text in (source_text(source, units) for source in found):
        if units == "ip":
            assert "°C" not in text and "m²K/W" not in text, text
        else:
            assert text.count("°F") <= text.count("°C"), text


@pytest.mark.parametrize(("height", "told"), [("60 mm", "at most 19.07 mm"), ("100 mm", "; insulation of at most 79")])
def test_plates_in_the_insulation_are_told_how_high_or_how_thin(height, told):
    # joists of 234.95 mm, 140 mm of batt: air of 94.95 mm; a fin of 60 mm with its tube of 15.875 mm leaves 19.07 mm
    text = BARE + f'[plates]\nposition = "hung"\norientation = "upright"\nwidth = "{height}"\ndrop = "40 mm"\n'
    with pytest.raises(CaseError) as caught:
        parse_case(text + '[cavity.insulation]\nthickness = "140 mm"\n', "fins")
    assert told in str(caught.value)


def test_a_warm_up_says_first_whether_its_limits_hold(tmp_path, capsys):
    path = tmp_path / "den.toml"
    coarse = '[mesh]\nfineness = "coarse"\n[time]\nduration = "10 min"\n[bay]\nlength = "1 m"\n'
    path.write_text(BARE + coarse, encoding="utf-8")
    out = tmp_path / "out"
    assert main(["warmup", str(path), "--no-pictures", "--no-page", "--out", str(out), "--units", "si"]) == 0
    told = capsys.readouterr().out
    places = [told.index(part) for part in ("At its warmest in that time:", "limits are kept", "Energy", "To mind")]
    assert places == sorted(places)
