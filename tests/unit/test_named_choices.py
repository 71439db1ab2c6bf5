"""Choices that a case names, and those that several lists of values make together."""

from pathlib import Path

import pytest

from sim.case.errors import CaseError
from sim.case.load import load_case, parse_case
from sim.case.named_choices import named_choices
from sim.cli.choices import wanted_choices
from sim.study.compare import AskedChoice, ComparedChoice, Comparison, with_twins

OAK = Path("cases/demo/family-oak.toml").read_text("utf-8")
NAMED = """
[[compare.choice]]
title = "carpet"
changes = { "floor.covering.0.material" = "carpet", "floor.covering.0.thickness" = "10 mm" }
[[compare.choice]]
title = "tile on board"
changes.floor.covering = [ { material = "tile", thickness = "8 mm" }, { material = "plywood", thickness = "6 mm" } ]
[[compare.choice]]
title = "bare tube"
changes = { plates = "none", water.supply = "55 degC" }
"""


def test_choices_change_several_keys_at_once():
    written, carpet, tile, bare = named_choices(parse_case(OAK + NAMED))
    assert (written.name, dict(written.changes)) == ("as written", {})
    assert written.case.floor.coverings[0].material == "oak"
    assert (carpet.case.floor.coverings[0].material, carpet.case.floor.coverings[0].thickness) == ("carpet", 0.010)
    assert [layer.material for layer in tile.case.floor.coverings] == ["ceramic tile", "plywood"]
    assert bare.case.plates is None and bare.case.water.supply == pytest.approx(328.15)
    assert set(bare.changes) == {"plates", "water.supply"}


def test_a_choice_that_changes_nothing_names_the_case_itself():
    named = OAK + '[[compare.choice]]\ntitle = "ours"\n[[compare.choice]]\ntitle = "wide"\n'
    named += 'changes.plates.spacing = "1 ft"'
    assert [choice.name for choice in named_choices(parse_case(named))] == ["ours", "wide"]


def test_a_part_that_the_case_lacks_can_be_put_in():
    bare = Path("cases/arrangements/tight-bare.toml").read_text("utf-8")
    choice = '\n[[compare.choice]]\ntitle = "plates"\n'
    choice += 'changes.plates = { position = "fastened", length = "200 mm", spacing = "300 mm" }'
    assert named_choices(parse_case(bare + choice))[1].case.plates.spacing == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("choice", "key", "said"),
    [
        ('title = "a"\nchanges."floor.covering.thickness" = "9 mm"', "floor.covering.thickness", "covering.0.thick"),
        ('title = "a"\nchanges.plates.spcing = "9 in"', "plates.spcing", 'did you mean "spacing"?'),
        ('title = "a"\nchanges.plates.spacing = 0.3', "plates.spacing", "the unit is missing"),
        ('title = "a"\nchanges."floor.rug.0.material" = "carpet"', "floor.rug.0.material", "has no floor.rug"),
        ('title = ""', "title", "at least 1 character"),
        ('changes = {}', "title", "missing; give the name of the choice"),
        ('title = "a"\nchanges = "none"', "changes", "must be"),
        ('title = "a"\n[[compare.choice]]\ntitle = "a"', "title", "names two choices"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_the_door(choice, key, said):
    with pytest.raises(CaseError) as refused:
        parse_case(f"{OAK}\n[[compare.choice]]\n{choice}\n")
    assert key in str(refused.value) and said in str(refused.value)


def test_a_case_with_choices_reads_back_what_it_wrote():
    from sim.case.writing import case_text

    case = parse_case(OAK + NAMED)
    again = parse_case(case_text(case))
    assert [choice.title for choice in again.compare.choices] == ["carpet", "tile on board", "bare tube"]
    assert again.compare.choices == case.compare.choices


def test_lists_make_a_grid_or_pairs():
    case, lists = load_case("cases/demo/family-oak.toml"), ["tube.runs=1,2", "water.supply=40degC,50degC"]
    grid = wanted_choices(case, None, lists)
    assert grid.names[:2] == ("1 run, supply 40 °C", "1 run, supply 50 °C")
    assert grid.names[2:] == ("2 runs, supply 40 °C", "2 runs, supply 50 °C")
    assert grid.bays == ("1 run", "1 run", "2 runs", "2 runs")
    assert grid.keys == ("tube.runs", "water.supply")
    pairs = wanted_choices(case, "9in,1ft", lists, paired=True)
    assert pairs.names == ("plates every 9 in, 1 run, supply 40 °C", "plates every 1 ft, 2 runs, supply 50 °C")
    assert pairs.changes[1] == {"plates.spacing": "1ft", "tube.runs": "2", "water.supply": "50degC"}


def twins(*changes):
    case = load_case("cases/demo/family-oak.toml")
    return with_twins([AskedChoice(str(n), case.with_(**each), each) for n, each in enumerate(changes)])


def test_bays_that_differ_in_their_water_alone_are_solved_once_at_equal_heat():
    asked = twins({"water.supply": "40 degC"}, {"water.supply": "50 degC"}, {"plates.spacing": "300 mm"})
    assert [each.twin for each in asked] == ["", "0", ""]
    whole = Comparison(asked[0].case, tuple(ComparedChoice(each, None, None) for each in asked), 50.0)
    assert (whole.equal_heat, whole.equal_water, [each.name for each in whole.of("heat")]) == (True, False, ["0", "2"])
    water_only = Comparison(asked[0].case, whole.choices[:2], 50.0)
    assert not water_only.equal_heat and water_only.rows("heat") == []
    alone = Comparison(asked[0].case, whole.choices[:1], 50.0)
    assert alone.equal_heat and alone.equal_water


def test_a_twin_is_drawn_with_the_water_that_its_bay_needs_and_without_its_own():
    """Plates of two widths with two waters each: at equal heat two bays, whose names say nothing of the water."""
    from sim.cli.pictures import _needed

    case = parse_case(OAK)
    lists = ["plates.width=100mm,150mm", "water.supply=45degC,50degC"]
    wanted = wanted_choices(case, None, lists)
    asked = with_twins(
        [
            AskedChoice(*each)
            for each in zip(wanted.names, wanted.variants(case), wanted.changes, wanted.bays, strict=True)
        ]
    )
    comparison = Comparison(case, tuple(ComparedChoice(each, None, None) for each in asked), 50.0)
    told = [(choice.named("water"), choice.named("heat")) for choice in comparison.choices]
    assert told[0] == ("width 100 mm, supply 45 °C", "width 100 mm") and told[3][1] == "width 150 mm"
    drawn = ["narrow", None, "wide", None]  # stands for what was solved: a bay once
    assert _needed(comparison, drawn) == ["narrow", "narrow", "wide", "wide"]
    assert _needed(comparison, []) == []
