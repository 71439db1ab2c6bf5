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
