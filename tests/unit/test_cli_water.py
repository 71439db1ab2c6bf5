"""`joistbay water`: the water for a flux, limits and curve; bad input."""

import json
from pathlib import Path

import numpy as np
import pytest

from sim.case.load import parse_case
from sim.cli.main import main
from sim.cli.water import curve_excess

CASE = "cases/demo/family-oak.toml"


def test_flux_is_met_and_the_first_limit_named(capsys, tmp_path):
    curve = tmp_path / "new" / "curve.json"
    asked = ["water", CASE, "--flux", "40 W/m^2", "--fineness", "coarse", "--curve", str(curve)]
    assert main([*asked, "--units", "si"]) == 0
    printed = capsys.readouterr().out
    assert "40.0 W/m²" in printed
    assert "First limit reached: oak at its surface" in printed
    assert "licensed professional" in printed
    kept = json.loads(curve.read_text("utf-8"))
    np.testing.assert_allclose(kept["exponent"], 1.05, rtol=0.0, atol=0.05)
    # the law as it is written gives the points again, within the misfit that is stated, over the range that is stated
    excess, flux = (np.array(kept[key]) for key in ("points_excess_K", "points_heat_flux_up_W_m2"))
    law = kept["coefficient"] * excess ** kept["exponent"]
    np.testing.assert_allclose(law, flux, rtol=kept["largest_misfit"] * 1.001, atol=0.0)
    assert kept["largest_misfit"] < 0.02
    assert [kept["lowest_excess_K"], kept["highest_excess_K"]] == [excess[0], excess[-1]]


def test_json_holds_limits_with_sources(capsys):
    assert main(["water", CASE, "--flux", "13 Btu/(h*ft^2)", "--fineness", "coarse", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    np.testing.assert_allclose(found["report"]["heat_flux_up_W_m2"], 13 * 3.15459, rtol=2e-4, atol=0.0)
    assert all(limit["source"] for limit in found["limits"])
    oak = next(limit for limit in found["limits"] if limit["what"].startswith("oak"))
    assert oak["reached_at_supply_C"] > found["report"]["water_supply_C"]
    assert oak["kept"]


def test_inches_and_pounds_leave_no_metric_numbers(capsys, monkeypatch):
    monkeypatch.setattr("sim.cli.water._reached", lambda *_: None)  # as where no water reaches a limit
    assert main(["water", CASE, "--flux", "13 Btu/(h*ft^2)", "--fineness", "coarse", "--units", "ip"]) == 0
    told = capsys.readouterr().out
    head, _, mind = told.partition("bored joists")
    assert " K " not in head and "W/m²" not in head and "°C" not in head
    assert "over 203.0 °F" in head and "No limit is reached below 203.0 °F" in head  # 95 °C
    assert "centers" in mind and "centres" not in mind


@pytest.mark.parametrize(("drop", "room", "lowest", "highest"), [(0, 20, 10, 45), (16, 20, 20, 55), (70, 20, 72.5, 75)])
def test_the_curve_leaves_room_for_the_drop(drop, room, lowest, highest):
    # 20 °F over a long circuit is usual: water 10 K above the room would have to leave colder than it
    flow = f'drop = "{drop} K"' if drop else 'flow = "1 l/min"'
    case = parse_case(f'[water]\nsupply = "94 degC"\n{flow}\n[room]\ntemperature = "{room} degC"\n')
    excess = curve_excess(case)
    np.testing.assert_allclose([excess[0], excess[-1]], [lowest, highest], rtol=1e-9, atol=0.0)
    assert all(case.with_(**{"water.supply": case.room.temperature + one}) for one in excess)


@pytest.mark.parametrize("flux", ["60", "-5 W/m^2", "60 degC"])
def test_a_flux_that_makes_no_sense_is_one_line(capsys, flux):
    assert main(["water", CASE, "--flux", flux]) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 1
    assert "flux" in told[0]


def test_a_flux_out_of_reach_fails_with_what_is_possible(capsys):
    assert main(["water", CASE, "--flux", "900 W/m^2", "--fineness", "coarse"]) == 1
    told = capsys.readouterr().err
    assert "water of 95.0 °C (203.0 °F) gives" in told
    assert "900.0 W/m² (285.3 Btu/h·ft²) is wanted" in told  # 1 W/m² is 0.31700 Btu/h·ft²


def test_a_floor_that_loses_heat_below_has_a_curve_with_an_offset(capsys, tmp_path):
    head, batt = Path(CASE).read_text("utf-8").split("[cavity.insulation]")
    head = head.replace('ceiling = "none"', 'ceiling = { material = "gypsum board", thickness = "1/2 in" }')
    head = head.replace('air_gap = "2 in"', 'insulation = "none"')
    tail = batt[batt.index("[water]") :].replace('"12 degC"', '"-40 degC"').replace("unheated space", "outdoors")
    cold = tmp_path / "cold.toml"
    cold.write_text(head + tail, "utf-8")
    assert main(["water", str(cold), "--flux", "20 W/m^2", "--fineness", "coarse", "--json"]) == 0
    curve = json.loads(capsys.readouterr().out)["characteristic"]
    excess, flux = (np.array(curve[key]) for key in ("points_excess_K", "points_heat_flux_up_W_m2"))
    assert flux[0] < 0.0 < curve["offset_W_m2"]
    law = curve["coefficient"] * excess ** curve["exponent"] - curve["offset_W_m2"]
    np.testing.assert_allclose(law + curve["offset_W_m2"], flux + curve["offset_W_m2"], rtol=0.02, atol=0.0)


def test_a_folder_is_no_file_for_the_curve(capsys, tmp_path):
    assert main(["water", CASE, "--flux", "40 W/m^2", "--curve", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert line.endswith(f"is a folder; name a file, such as {tmp_path / 'curve.json'}")
