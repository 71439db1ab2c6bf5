"""`joistbay house`: tables, folder, variants, bad input."""

import csv
import json
from contextlib import redirect_stdout
from io import StringIO

import numpy as np
import pytest
from house_cases import SMALL

from sim.cli.main import main

COARSE = ["--fineness", "coarse"]
VARIANT = '\n[[variant]]\nname = "wide"\nchange = { "plates.spacing" = "400 mm" }\n'


@pytest.fixture(scope="module")
def solved(tmp_path_factory):
    """The small house without its heat pump, solved once: the folder of results and what was printed."""
    place = tmp_path_factory.mktemp("house")
    file, folder = place / "small.toml", place / "out"
    text = SMALL.replace('[[source]]\nname = "heat pump"\nsupply = "42 degC"\n', "")
    file.write_text(text.replace('drop = "5 K"', 'drop = "5 K"\nvalve_kvs = 1.0'))
    with redirect_stdout(StringIO()) as printed:
        assert main(["house", str(file), "--out", str(folder), "--units", "both", *COARSE]) == 0
    return folder, printed.getvalue()


def rows(folder, name):
    with (folder / f"{name}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_folder_holds_every_table(solved):
    from sim.house.save_house import HOUSE_ENTRIES

    folder, _ = solved
    assert {entry.name for entry in folder.iterdir()} == set(HOUSE_ENTRIES)
    assert sorted(entry.name for entry in folder.parent.iterdir()) == ["out", "out.bays", "small.toml"]


def test_totals_from_the_tables_add_up(solved):
    folder, _ = solved
    rooms, (source,) = rows(folder, "rooms"), rows(folder, "sources")
    heat = sum(float(row["output_W"]) + float(row["down_W"]) + float(row["edge_W"]) for row in rooms)
    np.testing.assert_allclose(float(source["heat_W"]), heat, rtol=1e-5, atol=0.0)
    energy = heat / float(source["efficiency_or_cop"])
    np.testing.assert_allclose(float(source["energy_W"]), energy, rtol=1e-5, atol=0.0)
    circuits, bays = rows(folder, "circuits"), rows(folder, "bays")
    tube = sum(float(row["tube_m"]) for row in bays) + sum(float(row["leaders_m"]) for row in circuits)
    np.testing.assert_allclose(float(source["tube_m"]), tube, rtol=1e-5, atol=0.0)
    plates = sum(int(row["plates"]) for row in bays)
    assert int(source["plates"]) == plates
    given = sum(float(row["heat_W"]) for row in circuits)
    np.testing.assert_allclose(sum(float(row["heat_W"]) for row in bays), given, rtol=1e-5, atol=0.0)


def test_bays_are_in_the_order_of_the_water_and_each_is_pulled_once(solved):
    folder, _ = solved
    for name in {row["circuit"] for row in rows(folder, "bays")}:
        own = [row for row in rows(folder, "bays") if row["circuit"] == name]
        assert [int(row["water_order"]) for row in own] == list(range(1, len(own) + 1))
        assert sorted(int(row["pull_order"]) for row in own) == list(range(1, len(own) + 1))
        means = [float(row["water_mean_C"]) for row in own]
        assert means == sorted(means, reverse=True)


def test_valves_are_set(solved):
    folder, _ = solved
    openings = [float(row["valve_opening_percent"]) for row in rows(folder, "circuits")]
    # the circuit that sets its pump has an open valve
    assert openings.count(100.0) == 2
    assert all(0.0 < opening <= 100.0 for opening in openings)


def test_curves_are_exported_with_their_range(solved):
    folder, _ = solved
    curve = json.loads((folder / "curves.json").read_text("utf-8"))["A"]
    assert 1.0 < curve["exponent"] < 1.1  # between resistances alone and the floor's own law, EN 1264-2
    assert curve["lowest_excess_K"] < 10.0 < 60.0 < curve["highest_excess_K"]


def test_tables_in_both_units(solved):
    _, printed = solved
    # 430 W = 1467 Btu/h; 5 K = 9 °F
    lines = [line.split() for line in printed.splitlines() if line.startswith("U ")]
    assert any("430" in line for line in lines) and any("1,467" in line for line in lines)
    assert " W " in printed and "Btu/h" in printed
    assert "5.0 K" in printed and "9.0 °F" in printed
    assert printed.count("sets the supply") == 2
    assert printed.count("licensed professional") == 1


def test_the_builders_questions_are_answered_first(solved):
    _, printed = solved
    order = ["Three rooms", "What to build, for condensing boiler", "Water: 5", "Circuits: ", "To buy: tube in ",
             "Beware: ", "supply, set by", "Circuits, condensing boiler", "Rooms as written", "Heat sources side by"]
    places = [printed.index(words) for words in order]
    assert places == sorted(places)


def test_variants_side_by_side(capsys, tmp_path):
    alone = SMALL[: SMALL.index("[[source]]")] + SMALL[SMALL.rindex("[[room]]") :]
    file = tmp_path / "one.toml"
    file.write_text(alone.replace('{ room = "A" }', '{ kind = "heated room" }') + VARIANT)
    assert main(["house", str(file), "--variants", "--out", str(tmp_path / "v"), *COARSE, "--workers", "1"]) == 0
    printed = capsys.readouterr().out
    head = next(line for line in printed.splitlines() if line.startswith("room"))
    assert "as written" in head and "wide" in head
    line = next(line for line in printed.splitlines() if line.startswith("U "))
    written, wide = (float(word) for word in line.split() if word.replace(".", "").isdigit())
    assert wide > written
    # nothing is written but the solved bays
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["one.toml", "v.bays"]


BAD = [
    (('load = "280 W"', 'load = "-280 W"'), [], 'room "A".load'),
    (("count = 6", "count = 9"), [], 'room "A".active_area'),
    (('x = "3 m"', 'x = "2 m"'), [], "overlap"),
    (('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "12 m"'), [], "longer than a circuit may be"),
    (("", ""), ["--source", "stove"], "the house is laid out for"),
    (("", ""), ["--variant", "thin"], "no variant of that name"),
    (('name = "heat pump"', 'name = "stove"'), [], "no such heat source"),
]


@pytest.mark.parametrize(("change", "options", "words"), BAD)
def test_bad_input_writes_nothing(change, options, words, capsys, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text(SMALL.replace(*change, 1))
    assert main(["house", str(file), "--out", str(tmp_path / "out"), *options]) == 2
    told = capsys.readouterr().err
    assert words in told
    assert "Traceback" not in told
    assert [entry.name for entry in tmp_path.iterdir()] == ["bad.toml"]


def test_a_bay_file_is_not_a_house(capsys):
    assert main(["house", "cases/demo/family-oak.toml"]) == 2
    assert "is not a house" in capsys.readouterr().err


def test_a_house_is_not_a_bay(capsys):
    assert main(["run", "cases/house/demo-house.toml"]) == 2
    assert "use joistbay house" in capsys.readouterr().err
