"""Sixty house files, each broken in one way: all are refused before a solve, in clear lines, nothing left behind."""

import pytest
from house_cases import SMALL

from sim.case.errors import Problem
from sim.cli.main import main
from sim.house.bay_solver import BaySolver

A, B, U = (SMALL.index(f'name = "{name}"\n') for name in "ABU")
COLD = 'below = { kind = "unheated space", temperature = "12 degC" }'
GROUP_A = 'x = "0 m"\ny = "0 m"'
BOX = 'x = "{}"\ny = "0 m"\nwidth = "{}"\ndepth = "3 m"\n'
RIM = '"rim.outdoor_temperature" = "0 degC"'
VARIANT = '\n[[variant]]\nname = "v"\nchange = {{ {} }}\n'
LOSSES = '[room.losses]\n[[room.losses.surface]]\narea = "10 m^2"\nu_value = "1 W/(m^2*K)"\ntemperature = "30 degC"\n'


def room(name, old, new):
    """The first text after a room's name put in place of another."""
    start = {"A": A, "B": B, "U": U}[name]
    return SMALL[:start] + changed(SMALL[start:], old, new)


def changed(text, old, new):
    assert old in text, old
    return text.replace(old, new, 1)


def small(old, new):
    return changed(SMALL, old, new)


def blocked(text):
    """An obstacle in room A."""
    return room("A", "[[room.bays]]", f"[[room.blocked]]\n{text}\n[[room.bays]]")


def outlined(a, b):
    """Rooms A and B with outlines: x and width of each."""
    text = changed(SMALL[:B], 'load = "280 W"', BOX.format(*a) + 'load = "280 W"')
    return text + changed(SMALL[B:], 'load = "270 W"', BOX.format(*b) + 'load = "270 W"')


BROKEN = {
    # the file
    "empty": ("", "is not a house"),
    "not TOML": (small("[design]", "[design"), "not valid TOML"),
    "a bay": ('[water]\nsupply = "50 degC"\n', "is not a house"),
    "unknown section": (SMALL + "\n[roof]\n", "unknown"),
    "a name of its own": ('name = "x"\n' + SMALL, "named by its file"),
    # the design day
    "no design day": (small('outdoor = "-18 degC"\n', ""), "missing"),
    "no unit": (small('"-18 degC"', '"-18"'), "unit is missing"),
    "wrong unit": (small('drop = "5 K"', 'drop = "5 W"'), "not the unit"),
    "no drop": (small('drop = "5 K"', 'drop = "0 K"'), "greater than 0"),
    "far too cold": (small('outdoor = "-18 degC"', 'outdoor = "-80 degC"'), "at least"),
    "warm design day": (small('outdoor = "-18 degC"', 'outdoor = "22 degC"'), "warmer than the design day"),
    "colder than the design day": (small('["-18 degC"', '["-30 degC"'), "colder than the design day"),
    "shut down always": (small('drop = "5 K"', 'drop = "5 K"\nshutdown = "-20 degC"'), "never run"),
    "too much glycol": (small('drop = "5 K"', 'drop = "5 K"\nglycol = 0.9'), "at most"),
    "circuits of nothing": (small('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "0 m"'), "greater than 0"),
    "circuits too short": (small('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "12 m"'), "longer than a circuit"),
    "a misspelt key": (small('drop = "5 K"', 'drop = "5 K"\nshutdwon = "18 degC"'), "did you mean"),
    "plates over each other": (small('["235 mm", "none"]', '["150 mm", "none"]'), "overlap"),
    "a valve that passes nothing": (small('drop = "5 K"', 'drop = "5 K"\nvalve_kvs = 0'), "greater than 0"),
    "no profiles there": (small('drop = "5 K"', 'drop = "5 K"\nprofiles = "nowhere.toml"'), "no such file"),
    "coils too short": (small('drop = "5 K"', 'drop = "5 K"\ncoils = ["30 m"]'), "longer than every coil"),
    "a vessel too deep": (small('drop = "5 K"', 'drop = "5 K"\nstatic_height = "20 m"'), "relief valve"),
    "warmer than the rooms": (small('"1 degC"]', '"25 degC"]'), "as warm as every room"),
    "no spacing": (small('["235 mm", "none"]', "[]"), "names none"),
    "no outdoor temperature": (small('["-18 degC", "1 degC"]', "[]"), "names none"),
    "no coil": (small('drop = "5 K"', 'drop = "5 K"\ncoils = []'), "names none"),
    # sources
    "a price without end": (small('supply = "58 degC"', 'supply = "58 degC"\nprice = inf'), "finite"),
    "unknown source": (small('"heat pump"', '"stove"'), "no such heat source"),
    "source twice": (small('"heat pump"', '"condensing boiler"'), "given twice"),
    "source too cool": (small('"42 degC"', '"24 degC"'), "cannot fall by"),
    "source beyond boiling": (small('"58 degC"', '"99 degC"'), "at most"),
    "water limit too cool": (small('drop = "5 K"', 'drop = "5 K"\nwater_limit = "22 degC"'), "cannot fall by"),
    # manifolds
    "manifold twice": (small('name = "N"', 'name = "M"'), "given twice"),
    "manifold for nobody": (small('storey = "upper"\nx = "1 m"', 'storey = "attic"\nx = "1 m"'), "manifold"),
    "manifold of two words": (small('name = "N"', 'name = "N 2"'), "one word"),
    "manifold unknown": (room("A", "load =", 'manifold = "Q"\nload ='), "no manifold of that name"),
    "no manifold": (SMALL[: SMALL.index("[[manifold]]")] + SMALL[SMALL.index("[[source]]") :], "no manifold"),
    # rooms
    "no rooms": (SMALL[: SMALL.index("[[room]]")], "no room"),
    "room twice": (room("B", 'name = "B"', 'name = "A"'), "given twice"),
    "room of two words": (room("B", 'name = "B"', 'name = "B 2"'), "one word"),
    "room called total": (room("B", 'name = "B"', 'name = "total"'), "sum of all rooms"),
    "negative load": (room("A", '"280 W"', '"-72 W"'), "at least 0"),
    "no load": (room("A", 'load = "280 W"\n', ""), "no heat load"),
    "two loads": (room("A", "[room.change]", LOSSES + "[room.change]"), "exclude each other"),
    "a load below nothing": (room("A", 'load = "280 W"\n', "").replace("[room.change]", LOSSES + "[room.change]", 1),
                             "at least 0"),
    "nobody loses heat": (SMALL.replace('"280 W"', '"0 W"').replace('"270 W"', '"0 W"').replace('"430 W"', '"0 W"'),
                          "no room loses heat"),
    "room colder than water": (room("A", "load =", 'temperature = "-5 degC"\nload ='), "freezing"),
    "room like an oven": (room("A", "load =", 'temperature = "45 degC"\nload ='), "boiling"),
    "area that does not fit": (room("A", '"7.32 m^2"', '"9 m^2"'), "must agree within 5%"),
    "no bay file": (room("A", "load =", 'case = "nowhere.toml"\nload ='), "no such file"),
    "bay breaks a rule": (room("A", 'length = "200 mm"', 'length = "300 mm"'), "plates.spacing"),
    "bay's own room": (room("A", '"air.model"', '"room.temperature" = "9 degC"\n"air.model"'), "house file"),
    # what lies below
    "below nobody": (small('{ room = "A" }', '{ room = "C" }'), "no other room of that name"),
    "below itself": (small('{ room = "A" }', '{ room = "U" }'), "no other room"),
    "below on its own storey": (room("B", COLD, 'below = { room = "A" }'), "both on the storey ground"),
    "below but elsewhere": (small('{ room = "A" }', '{ room = "B" }'), "does not lie beneath room U"),
    "below at another temperature": (small('{ room = "A" }', '{ room = "A", temperature = "12 degC" }'),
                                     "below is set to 20 °C"),
    "cold below without a temperature": (room("A", ', temperature = "12 degC"', ""), "missing"),
    # bays
    "no bays": (SMALL[:B] + room("B", "", "")[B : SMALL.index("[[room.bays]]", B)], "has no bays"),
    "bays over each other": (room("B", 'x = "3 m"', 'x = "2 m"'), "overlap on the storey"),
    "bays outside the outline": (outlined(("0 m", "2.5 m"), ("3 m", "2 m")), "outside the outline of room B"),
    "outlines over each other": (outlined(("0 m", "3.2 m"), ("2.9 m", "3 m")), "outlines of rooms A and B overlap"),
    "bay unlike its case": (room("A", '"air.model"', '"span" = "bay"\n"bay.length" = "4 m"\n' + RIM + '\n"air.model"'),
                            "whole bay of 4 m"),
    # what no number or word of its kind is
    "a load of no number": (small('"280 W"', "nan"), "unit is missing"),
    "a load in a list": (small('"280 W"', '["280 W"]'), "not a heat flow"),
    "half a bay": (small("count = 6", "count = 5.5"), "whole number"),
    "bays without end": (small("count = 6", "count = 100000"), "at most 200"),
    "joists that stand": (small('along = "y"', 'along = "z"'), 'one of "x", "y"'),
    "an entry in the middle": (small('along = "y"', 'along = "y"\nentry = "middle"'), 'one of "low", "high"'),
    "a price in words": (SMALL + '\n[prices]\ntube = "cheap"\n', "not a price"),
    "a climate of its own": (SMALL + '\n[season]\nclimate = "tropical"\n', 'one of "average", "colder"'),
    "no bins there": (SMALL + '\n[season]\nbins = "nowhere.csv"\n', "must be a CSV file"),
    "north in words": (small('drop = "5 K"', 'drop = "5 K"\nnorth = "up"'), "must be a number"),
    "a source that falls too far": (small('name = "heat pump"', 'name = "heat pump"\ndrop = "60 K"'), "cannot fall by"),
    "an obstacle for no reason": (blocked('bays = ["1"]\nfrom = "1 m"\nto = "2 m"'), "give what is in the way"),
    # variants, though nobody asked for one
    "a variant of no key": (SMALL + VARIANT.format('"plates.spacign" = "300 mm"'), 'variant "v".change'),
    "a variant that does not fit": (SMALL + VARIANT.format('"plates.length" = "300 mm"'), 'variant "v".change'),
    "a variant of the water": (SMALL + VARIANT.format('"water.supply" = "50 degC"'), 'variant "v".change'),
    "a variant that nothing reads": (SMALL + VARIANT.format('"tube.across_spacing" = "200 mm"'), 'variant "v".change'),
    # obstacles
    "obstacle nowhere": (blocked('bays = ["9"]\nfrom = "1 m"\nto = "2 m"\nwhy = "duct"'), "no such bay"),
    "obstacle of no bay": (blocked('bays = []\nfrom = "1 m"\nto = "2 m"\nwhy = "duct"'), "names no bay"),
    "obstacle backwards": (blocked('bays = ["1"]\nfrom = "2 m"\nto = "1 m"\nwhy = "duct"'), "greater than from"),
    "obstacle beyond the bay": (blocked('bays = ["1"]\nfrom = "2 m"\nto = "4 m"\nwhy = "duct"'), "only 3 m"),
    "obstacle that fills its bay": (blocked('bays = ["1"]\nfrom = "0 m"\nto = "3 m"\nwhy = "tub"'), "is heated"),
    "obstacle that cuts floor off": (
        blocked('bays = ["1", "2"]\nfrom = "0.5 m"\nto = "0.8 m"\nwhy = "flue"\npasses = false'), "does not reach"),
}  # fmt: skip


def test_there_are_sixty():
    assert len(BROKEN) >= 60


@pytest.mark.parametrize("name", BROKEN)
def test_refused_at_the_door(name, capsys, tmp_path, monkeypatch):
    def solved(*_, **__):
        raise AssertionError("a bay was solved")

    monkeypatch.setattr(BaySolver, "_answers", solved)
    text, words = BROKEN[name]
    file = tmp_path / "house.toml"
    file.write_text(text)
    assert main(["house", str(file), "--out", str(tmp_path / "out"), "--fineness", "coarse"]) == 2
    told = capsys.readouterr()
    assert words in told.err, told.err
    assert "Traceback" not in told.err and told.out == ""
    # the file, a line a cause, how many there are
    first, *causes, last = told.err.splitlines()
    assert first.endswith(("house.toml", "nowhere.toml")) and last.endswith("Nothing was run."), told.err
    assert len(causes) == int(last.split()[0]), told.err
    assert [entry.name for entry in tmp_path.iterdir()] == ["house.toml"]


def test_the_house_they_are_made_from_is_sound(capsys, tmp_path):
    file = tmp_path / "house.toml"
    file.write_text(outlined(("0 m", "2.5 m"), ("3 m", "2.5 m")))
    assert main(["check", str(file)]) == 0
    told = capsys.readouterr().out
    assert "is sound" in told and "A.1" in told


def test_check_refuses_as_house_does(capsys, tmp_path):
    file = tmp_path / "house.toml"
    file.write_text(BROKEN["below but elsewhere"][0])
    assert main(["check", str(file)]) == 2
    assert "does not lie beneath" in capsys.readouterr().err


def test_layout_only_counts_without_solving(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(BaySolver, "_answers", lambda *_: pytest.fail("a bay was solved"))
    file = tmp_path / "house.toml"
    file.write_text(SMALL)
    assert main(["house", str(file), "--layout-only", "--json"]) == 0
    import json

    (first, *_) = json.loads(capsys.readouterr().out)["rooms"]
    (circuit,) = first["circuits"]
    # twelve runs of 2.88 m, six ways of 184.15 and five of 222.25 mm between them, leaders of test_house_place
    wanted = 12 * 2.88 + 6 * 0.18415 + 5 * 0.22225 + 2.448875 + 2.887275
    assert abs(circuit["length_m"] - wanted) < 1e-6
    assert abs(first["quantities"]["tube_m"] - wanted) < 1e-6
    assert main(["house", str(file), "--layout-only", "--units", "ip"]) == 0
    assert "ft" in capsys.readouterr().out
    assert [entry.name for entry in tmp_path.iterdir()] == ["house.toml"]


def test_a_name_with_a_tab_is_told_as_it_can_be_seen():
    assert str(Problem("room[4].name", '"a\tb"', "must be one word")) == r'got "a\tb"; must be one word'
