"""What strangers typed, and the words that they got back: one system of units, plain names, no option in vain."""

from types import SimpleNamespace

import pytest

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.cli.compare_tables import out_of_reach
from sim.cli.house_tables import _print_remedies
from sim.cli.main import _in_typed_units, main
from sim.cli.pictures import save_each
from sim.cli.show import console
from sim.cli.warnings import limit_lines
from sim.rules.limits import hold, limits_for
from sim.rules.ways_out import ways_out

KITCHEN = "cases/demo/kitchen-vinyl.toml"


def test_going_on_with_a_run_that_computes_no_air_is_refused(tmp_path, capsys):
    assert main(["run", KITCHEN, "--resume", "--out", str(tmp_path / "out")]) == 2
    assert "--resume goes on with computed air" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("units", "here", "gone"), [("ip", "203.0 °F", "°C"), ("si", "95.0 °C", "°F")])
def test_what_is_out_of_reach_is_told_in_the_units_asked_for_and_names_nothing_twice(units, here, gone):
    short = "no plates: water of 95.0 °C (203.0 °F) gives 40.1 W/m² (12.7 Btu/h·ft²), more is wanted"
    choice = SimpleNamespace(name="no plates", case=SimpleNamespace(name="no plates"), shortfall=short)
    kept = SimpleNamespace(name="plates every 9 in", case=SimpleNamespace(name="x"), shortfall="")
    (line,) = out_of_reach([kept, choice], units)
    assert line.startswith("no plates: out of reach; water of ") and line.count("no plates") == 1
    assert here in line and gone not in line


@pytest.mark.parametrize(("typed", "said"), [
    (["--units", "ip"], "gives 12.7 Btu/h·ft²"), (["--units=si"], "gives 40.1 W/m²"),
    ([], "gives 40.1 W/m² (12.7 Btu/h·ft²)"), (["--units", "both"], "gives 40.1 W/m² (12.7 Btu/h·ft²)"),
])  # fmt: skip
def test_a_failure_speaks_the_units_that_were_typed(typed, said):
    assert _in_typed_units("den: gives 40.1 W/m² (12.7 Btu/h·ft²)", ["water", "den.toml", *typed]) == f"den: {said}"


def test_a_room_that_falls_short_says_so_once(capsys):
    remedy = SimpleNamespace(told=lambda system: "closer plates", output=500.0, enough=True, note="", gain=120.0)
    need = SimpleNamespace(name="R5", supply=333.15, limit="")
    room = SimpleNamespace(need=need, remedies=(remedy,), shortfall=100.0)
    _print_remedies(console("si"), room, "si")
    told = capsys.readouterr().out
    assert told.startswith("R5: it would need 60.0 °C; what helps at this water:") and "short" not in told


def test_what_a_movie_left_half_written_goes_whatever_its_ending(tmp_path):
    (tmp_path / "pictures").mkdir()
    other = tmp_path / "pictures" / "floor_map.png"
    other.write_text("kept")

    def fails(path):
        path.with_suffix(".webm").write_text("half")
        raise OSError(28, "No space left on device")

    notes = []
    progress = SimpleNamespace(stage=lambda text: None, note=notes.append)
    assert save_each({"floor_movie": fails}, tmp_path, progress) == []
    assert notes == ["floor_movie was left out: No space left on device"]
    assert list((tmp_path / "pictures").iterdir()) == [other]


def test_a_case_file_with_a_space_is_named_as_it_is_typed(tmp_path, capsys):
    case = tmp_path / "my den.toml"
    case.write_text(WATER, "utf-8")
    assert main(["report", str(case)]) == 2
    assert f"joistbay run '{case}' makes a folder for joistbay report" in capsys.readouterr().err
    assert main(["report", str(tmp_path / "gone")]) == 2
    assert "joistbay run, compare, study or warmup has made" in capsys.readouterr().err


def test_one_published_number_is_no_range(capsys):
    """Carpet has one value in its source; plywood a range by density."""
    main(["materials", "carpet"])
    main(["materials", "plywood"])
    told = capsys.readouterr().out
    assert "conductivity from 0.06 to 0.06" not in told and "conductivity from 0.09 to 0.17 W/(m·K)" in told


WATER = '[water]\nsupply = "180 degF"\n[room]\ntemperature = "65 degF"\n'


@pytest.mark.parametrize(("text", "said"), [
    ('[[cavity.insulation]]\nthickness = "1 in"\n[[cavity.insulation]]\nthickness = "6 in"\n',
     "got a list of sections; is one section; write [cavity.insulation] once, in single square brackets; of several "
     "layers state the sum of thickness and of thermal_resistance"),
    ("[[tube]]\nruns = 1\n", "got a list of sections; is one section; write [tube] once, in single square brackets"),
    ('[control]\nthermostat = "room"\nsetback = "3 K"\n', 'control.setback   unknown key; did you mean "schedule"?'),
    ('[control]\nthermostat = "room"\nschedule = [{ at = "6:00", setpoint = "17 degC", temperature = "17 degC" }]\n',
     'control.schedule[0].setpoint   unknown key; did you mean "temperature"?'),
])  # fmt: skip
def test_what_strangers_wrote_leads_to_what_is_meant(text, said):
    with pytest.raises(CaseError) as caught:
        parse_case(WATER + text, "stranger")
    assert said in str(caught.value)


def test_a_floor_that_no_plates_help_is_not_told_to_get_some():
    """180 °F on a bare tube: the mean floor is over oak's limit, and the water over that of wood."""
    bay = parse_case(WATER + '[[floor.covering]]\nmaterial = "oak"\nthickness = "3/4 in"\n', "boiler")
    told = {"water_supply_C": 82.2, "heat_flux_up_W_m2": 95.6, "surface_mean_C": 27.0, "covering_peak_C": 27.6}
    lines = " ".join(ways_out(bay, told, hold(limits_for(bay), told), "si"))
    assert "No plates help at this heat" in lines and "the same heat needs" not in lines
    cool = told | {"surface_mean_C": 25.0}
    lines = " ".join(ways_out(bay, cool, hold(limits_for(bay), cool), "si"))
    assert "With cooler water the same heat needs plates" in lines


def test_the_nearest_limit_is_the_one_that_is_reached_first():
    """A room of 20 °C with oak: half the way to oak's 26.67 °C, against 0.39 of that to water of 71.1 °C."""
    oak = '[[floor.covering]]\nmaterial = "oak"\nthickness = "3/4 in"\n'
    bay = parse_case('[water]\nsupply = "40 degC"\n[room]\ntemperature = "20 degC"\n' + oak, "den")
    told = {"water_supply_C": 40.0, "heat_flux_up_W_m2": 30.0, "surface_mean_C": 22.9, "covering_peak_C": 23.34}
    verdicts = hold(limits_for(bay), told)
    shares = {verdict.limit.what: verdict.used for verdict in verdicts}
    assert shares["water under a wood subfloor"] == pytest.approx(20.0 / (640.0 / 9.0 - 20.0))  # 160 °F
    assert shares["oak at its surface"] == pytest.approx(3.34 / (60.0 / 9.0), rel=1e-3)
    (line,) = limit_lines(verdicts, "si")
    assert "nearest: oak at its surface" in line
    assert ways_out(bay, told, verdicts, "si")[0].startswith("The first limit reached is oak at its surface")
