"""Words that misled: a rug where there is none, films for computed air in time, going on where nothing was kept."""

from pathlib import Path

import pytest

from sim.cli.main import main
from sim.results.people import QUANTITIES
from tests.verification.small_bays import solved


@pytest.mark.parametrize("name", ["whole bay", "rug"])
def test_a_rug_is_spoken_of_only_where_there_is_one(name):
    report = solved(name).report
    assert ("covering_under_rug_peak_C" in report.values) == (name == "rug")
    assert "rug" not in QUANTITIES["covering_peak_C"].label
    if name == "rug":
        assert report["covering_peak_C"] >= report["covering_under_rug_peak_C"] > report["surface_mean_C"]


def test_a_warm_up_with_computed_air_points_to_learned_films(tmp_path, capsys):
    case = tmp_path / "hung.toml"
    text = Path("cases/demo/kitchen-vinyl.toml").read_text("utf-8")
    case.write_text(text + '\n[air]\nmodel = "resolved"\n', "utf-8")
    assert main(["warmup", str(case)]) == 2
    told = capsys.readouterr().err
    assert "films learned from computed air follow in time" in told
    assert "calibration =" in told


def test_air_alone_has_nothing_to_go_on_from(capsys):
    assert main(["run", "cases/air/plate-and-tube.toml", "--resume"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "--resume has nothing to go on from" in line and "air.start_from" in line


@pytest.mark.parametrize(
    ("command", "option"),
    [(["study", "x"], "samples"), (["study", "x"], "seed"), (["house", "x"], "workers"), (["explore"], "port")],
)
@pytest.mark.parametrize("given", ["2.5", "1e3", "", "[/x]"])
def test_a_count_with_a_fraction_is_refused_and_not_rounded(command, option, given, capsys):
    assert main([*command, f"--{option}", given]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert f'--{option}: got "{given}"; must be a whole number' in line


@pytest.mark.parametrize("option", ["variant", "source"])
def test_a_variant_or_source_without_a_name_is_not_the_house_as_written(option, capsys):
    assert main(["house", "cases/house/demo-house.toml", f"--{option}", "", "--layout-only"]) == 2
    assert f"--{option} is empty; give a name" in capsys.readouterr().err


def test_the_folder_of_a_run_in_place_of_a_case_is_told_where_its_case_is(tmp_path, capsys):
    (tmp_path / "case.toml").touch()
    assert main(["run", str(tmp_path)]) == 2
    assert f"is a folder; name its case, {tmp_path / 'case.toml'}" in capsys.readouterr().err
