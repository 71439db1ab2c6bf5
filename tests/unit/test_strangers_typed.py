"""What strangers typed, and the words that they got back: one system of units, plain names, no option in vain."""

from types import SimpleNamespace

import pytest

from sim.cli.compare_tables import out_of_reach
from sim.cli.house_tables import _print_remedies
from sim.cli.main import _in_typed_units, main
from sim.cli.pictures import save_each
from sim.cli.show import console

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
