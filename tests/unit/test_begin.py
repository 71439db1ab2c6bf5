"""A first case file: it runs as it is, what stands in it as a remark is true, and nothing of somebody's is lost."""

import re
import tomllib

import pytest

from sim.case.first_file import FirstBay, first_text, written_in
from sim.case.first_house import first_house
from sim.case.house_load import load_house
from sim.case.load import load_case, parse_case
from sim.case.taught import uses_learned_films
from sim.cli.main import main
from sim.house.solve_house import HouseWish, check_house
from sim.problems.at_rest import solve_at_rest
from sim.rules.limits import hold, limits_for

BAYS = [
    FirstBay(),
    FirstBay(plates="hung", covering="carpet", below="outdoors"),
    FirstBay(plates="none", depth="5 1/2 in", covering="none", below="unheated space", insulation="R-11"),
    FirstBay(plates="hung", depth="140 mm", below="adiabatic", covering="porcelain tile"),
    FirstBay(insulation="none", runs=1, tube="3/8", joists="24 in", below="heated room"),
]
LEFT_OUT = re.compile(r"^# (\w+ = .+?)(?:\s+#|$)")


@pytest.mark.parametrize("system", ["SI", "IP"])
@pytest.mark.parametrize("wish", BAYS, ids=range(len(BAYS)))
def test_every_key_that_is_left_out_has_the_value_that_is_told(wish, system):
    text = first_text(wish, system, "bay.toml")
    case, lines = parse_case(text, "bay"), text.splitlines()
    told = [(number, found[1]) for number, line in enumerate(lines) if (found := LEFT_OUT.match(line))]
    assert len(told) >= 5
    for number, key in told:
        counted = "\n".join([*lines[:number], key, *lines[number + 1 :]])
        assert len(counted) < len(text)
        assert parse_case(counted, "bay").resolved() == case.resolved(), key


@pytest.mark.parametrize("system", ["SI", "IP"])
def test_what_is_asked_for_stands_in_the_file_as_it_was_typed(system):
    wish = FirstBay(
        joists="19.2 in", depth="302 mm", length="5 m", covering="tile", plates="hung", tube="5/8", runs=1,
        insulation="R-19", supply="110 degF", room="21 degC", below="outdoors",
    )  # fmt: skip
    said = tomllib.loads(first_text(wish, system, "bay.toml"))
    assert said["bay"] | {"joist_width": ""} == {
        "joist_spacing": "19.2 in", "joist_depth": "302 mm", "length": "5 m", "joist_width": ""
    }  # fmt: skip
    assert said["floor"]["covering"][0]["material"] == "tile" and said["plates"]["position"] == "hung"
    assert said["tube"] == {"size": "5/8", "runs": 1} and said["cavity"]["insulation"]["thermal_resistance"] == "R-19"
    assert said["water"]["supply"] == "110 degF" and said["room"]["temperature"] == "21 degC"
    assert said["below"]["kind"] == "outdoors" and said["ceiling"] == "none"


@pytest.mark.parametrize(("typed", "system"), [
    ({"joists": "400 mm"}, "SI"), ({"room": "21 degC"}, "SI"), ({"tube": "16x2"}, "SI"), ({"length": "4m"}, "SI"),
    ({"joists": "16 in"}, "IP"), ({}, "IP"), ({"covering": "ceramic"}, "IP"), ({"plates": "none"}, "IP"),
])  # fmt: skip
def test_usual_values_are_in_the_units_that_were_typed(typed, system):
    assert written_in(FirstBay(**typed)) == system


def test_a_first_file_is_written_once_and_tells_what_comes_next(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["begin", "my first bay", "--covering", "tile", "--units", "si"]) == 0
    assert "joistbay run 'my first bay.toml' --units si" in capsys.readouterr().out
    assert load_case(tmp_path / "my first bay.toml").floor.coverings[0].material == "ceramic tile"
    before = (tmp_path / "my first bay.toml").read_text("utf-8")
    assert main(["begin", "my first bay.toml"]) == 2
    assert "is there already and is kept" in capsys.readouterr().err
    assert (tmp_path / "my first bay.toml").read_text("utf-8") == before


@pytest.mark.parametrize(("typed", "said"), [
    (["--joists", "16"], '--joists got "16"; the unit is missing'),
    (["--covering", "moon rock"], '--covering got "moon rock"; no such material'),
    (["--runs", "7"], "--runs got 7; must be at most 3"),
    (["--depth", "1 in"], '--depth got "1 in"; must be at least 50 mm'),
])  # fmt: skip
def test_what_does_not_fit_is_told_by_its_option_and_nothing_is_written(typed, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["begin", *typed]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("joists", ["12 in", "16 in", "600 mm", "4 ft"])
def test_a_first_house_fits_whatever_the_joists(joists, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["begin", "home.toml", "--house", "--joists", joists]) == 0
    house = load_house("home.toml")
    rooms, _ = check_house(house, HouseWish())
    assert [room.name for room in house.rooms] == ["R1", "R2"] and len(rooms) == 2
    assert (tmp_path / "home-bay.toml").exists()


@pytest.mark.parametrize("system", ["SI", "IP"])
def test_keys_that_a_first_house_leaves_out_have_the_value_that_is_told(system, tmp_path):
    (tmp_path / "bay.toml").write_text(first_text(FirstBay(), system, "bay.toml"), "utf-8")
    text = first_house(system, "house.toml", "bay.toml", 0.4)
    keys = [found[1] for line in text.splitlines() if (found := LEFT_OUT.match(line))]
    (tmp_path / "house.toml").write_text(text, "utf-8")
    for key in keys:
        (tmp_path / "counted.toml").write_text(text.replace(f"# {key}", key), "utf-8")
        assert load_house(tmp_path / "counted.toml").design == load_house(tmp_path / "house.toml").design
    assert len(keys) == 2


@pytest.mark.parametrize("system", ["SI", "IP"])
@pytest.mark.parametrize("plates", ["fastened", "hung", "none"])
def test_an_ordinary_bay_keeps_all_limits(system, plates):
    """It is the first that anybody sees: nothing in it is BROKEN."""
    case = parse_case(first_text(FirstBay(plates=plates), system, "bay.toml"), "bay")
    report = solve_at_rest(case.with_(**{"mesh.fineness": "coarse"})).report
    assert all(verdict.kept for verdict in hold(limits_for(case), report.values))
    assert report["heat_flux_up_W_m2"] > 20.0 and uses_learned_films(case)
