"""Keys that nothing in a case reads: refused, or kept for comparisons and named."""

import pytest
import tomli_w

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.unused import AIR, BAY, kept_unused
from sim.cli.main import main

BASE = '[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n'


def bay(text):
    return parse_case(BASE + text)


REFUSED = {
    'ramp_time = "3 h"': 'only water "ramp" reads it',
    'ramp_from = "30 degC"': 'only water "ramp", or rise_limit after time.start "uniform", reads it',
    'lowest = "25 degC"': 'only water "reset" without a curve reads it',
    'highest = "60 degC"': 'only water "heat", or "reset" without a curve, reads it',
    'setpoint = "22 degC"': "only a thermostat without a schedule reads it",
}


@pytest.mark.parametrize(("line", "rule"), REFUSED.items())
def test_control_that_nothing_reads_is_refused(line, rule):
    with pytest.raises(CaseError) as refused:
        bay(f"[control]\n{line}\n")
    (problem,) = refused.value.problems
    key, value = (part.strip().strip('"') for part in line.split("="))
    assert problem.key == f"control.{key}"
    assert problem.rule == rule
    assert problem.given.split()[0].startswith(value.split()[0])
    assert problem.way_out == "leave it out"


@pytest.mark.parametrize(("text", "key"), [
    ('[control]\nwater = "heat"\nheat = "50 W/m^2"\nrise_limit = "5 K/day"\n', "control.rise_limit"),
    ('[control]\nthermostat = "room"\nsetpoint = "22 degC"\n'
     '[[control.schedule]]\nat = "6:00"\ntemperature = "21 degC"\n', "control.setpoint"),
    ('[time]\nstart = "steady"\nstart_temperature = "10 degC"\n', "time.start_temperature"),
    ('[room]\nemissivity = 0.8\n', "room.emissivity"),
    ('[room]\nradiant_temperature = "18 degC"\n', "room.radiant_temperature"),
])  # fmt: skip
def test_what_another_choice_would_read_is_refused(text, key):
    text = text.replace("[room]\n", '[room]\ntemperature = "20 degC"\n')
    base = BASE if "[room]" not in text else BASE.split("[room]")[0]
    with pytest.raises(CaseError) as refused:
        parse_case(base + text)
    assert [problem.key for problem in refused.value.problems] == [key]


@pytest.mark.parametrize("text", [
    '[control]\nwater = "ramp"\nramp_from = "30 degC"\nramp_time = "3 h"\n',
    '[control]\nramp_from = "30 degC"\nrise_limit = "5 K/day"\n',
    '[control]\nthermostat = "room"\nsetpoint = "22 degC"\n',
    '[control]\nwater = "heat"\nheat = "50 W/m^2"\nhighest = "60 degC"\n',
    '[control]\nwater = "reset"\ndesign_outdoor = "-10 degC"\nlowest = "25 degC"\n[weather]\ntemperature = "0 degC"\n',
    '[time]\nstart = "steady"\nstart_temperature = "30 degC"\n[control]\nwater = "ramp"\n',
])  # fmt: skip
def test_what_is_read_is_welcome(text):
    case = bay(text)
    assert kept_unused(case) == []
    assert parse_case(tomli_w.dumps(case.resolved())) == case


KEPT = {
    '[bay]\njoist_kind = "i-joist"\njoist_width = "2 in"\n': ["bay.joist_width"],
    '[bay]\nflange_width = "3 in"\n': ["bay.flange_width"],
    '[bay]\nfar_end = "rim"\n': ["bay.far_end"],
    '[rim]\noutdoor_temperature = "-5 degC"\n': ["rim.outdoor_temperature"],
    '[plates]\nposition = "hung"\ncontact = "fair"\n': ["plates.contact"],
    '[tube]\nplacement = "above"\n': ["tube.placement"],
    '[tube]\nacross_spacing = "200 mm"\n': ["tube.across_spacing"],
    '[tube]\ndirection = "across"\nruns = 1\n': ["tube.runs"],
    '[plates]\n[tube]\ndepth = "40 mm"\n': ["tube.depth"],
    '[cavity]\nair_gap = 0\n[cavity.insulation]\nthickness = "90 mm"\nfacing_emissivity = 0.05\n': [
        "cavity.insulation.facing_emissivity"
    ],
    '[below]\nkind = "adiabatic"\ntemperature = "10 degC"\n': ["below.temperature"],
    '[weather]\ntemperature = "-5 degC"\n': ["weather.temperature"],
    '[air]\nmodel = "still"\nfilm_factor = 2\n': ["air.film_factor"],
    '[air]\nmodel = "resolved"\nfilm_factor = 2\nframes_until = "5 s"\n': ["air.film_factor", "air.frames_until"],
    '[air]\ncell = "5 mm"\nsubgrid = false\n': ["air.cell", "air.subgrid"],
}


@pytest.mark.parametrize(("text", "keys"), KEPT.items())
def test_what_a_comparison_may_bring_back_stays_and_is_named(text, keys):
    found = kept_unused(bay(text))
    assert [problem.key for problem in found] == keys
    assert all(problem.given and problem.rule.startswith("only ") for problem in found)


def test_the_model_of_the_air_can_be_varied_whatever_its_keys():
    case = bay('[air]\nmodel = "resolved"\ncell = "5 mm"\nfilm_factor = 2\n')
    assert case.with_text("air.model", "films").air.film_factor == 2.0


def test_varying_what_nothing_reads_is_refused():
    with pytest.raises(CaseError, match='only joist_kind "i-joist" reads it'):
        bay("").with_text("bay.flange_width", "3 in")
    with pytest.raises(CaseError, match="only a thermostat without a schedule reads it"):
        bay("").with_text("control.setpoint", "22 degC")


def test_a_key_may_be_left_over_when_others_replace_it():
    case = bay("[plates]\n").with_(**{"plates.contact": 0.01, "plates.position": "hung"})
    assert [problem.key for problem in kept_unused(case)] == ["plates.contact"]


def test_a_written_case_can_be_varied_although_it_holds_every_key():
    again = parse_case(tomli_w.dumps(bay("").resolved()))
    warmer = again.with_text("room.temperature", "22 degC")
    assert warmer.control.setpoint == pytest.approx(295.15)


def test_every_row_names_keys_that_exist():
    case = bay("[plates]\n[cavity.insulation]\nthickness = '90 mm'\n")
    for reader in (*BAY, *AIR):
        section = case
        for part in reader.section.split("."):
            section = getattr(section, part)
        assert set(reader.keys) <= set(type(section).model_fields), reader.section


def test_a_command_says_in_one_line_what_is_not_used(tmp_path, capsys):
    path = tmp_path / "rim.toml"
    path.write_text(BASE + '[rim]\nthickness = "2 in"\noutdoor_temperature = "-5 degC"\n[mesh]\nfineness = "coarse"\n')
    assert main(["check", str(path)]) == 0
    told = [line for line in capsys.readouterr().err.splitlines() if "not used" in line]
    want = 'not used here: rim.thickness, rim.outdoor_temperature (only span "bay" reads them)'
    assert told == [f"{path}: {want}"]


BLOCKS = """kind = "blocks"
[[box]]
x = ["0 m", "1 m"]
y = ["0 m", "1 m"]
z = ["0 m", "1 m"]
conductivity = "1 W/(m*K)"
[[tube]]
axis = "y"
centre = ["0.5 m", "0.5 m"]
along = ["0 m", "1 m"]
outer_diameter = "20 mm"
temperature = "40 degC"
"""


@pytest.mark.parametrize("line", ['conductivity = "0.4 W/(m*K)"', "glycol = 0.3"])
def test_a_tube_without_bore_has_no_wall_and_no_water(line):
    assert parse_case(BLOCKS).tubes[0].temperature == pytest.approx(313.15)
    with pytest.raises(CaseError) as refused:
        parse_case(BLOCKS + line)
    (problem,) = refused.value.problems
    assert (problem.key, problem.rule) == (f"tube[0].{line.split()[0]}", "only a tube with a bore uses it")
