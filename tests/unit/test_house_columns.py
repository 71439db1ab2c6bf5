"""Tables of a house stay whole at 80 columns, with twelve rooms, long names and three sources."""

import re
from dataclasses import replace
from io import StringIO

import pytest
from invented_house import invented_plan
from rich.console import Console

from sim.case.house_parts import Prices
from sim.cli.house_circuits import _manifold_line, circuits_table, print_circuits, ways_table
from sim.cli.house_columns import number, spacing, unit_of_key
from sim.cli.house_tables import (
    _print_material,
    layout_table,
    needs_table,
    outdoor_table,
    shares_table,
    sources_table,
)
from sim.cli.sheet import WholeConsole
from sim.cli.show import console, print_sentence
from sim.house.quantities import take_off

WIDTH = 80


def crowded():
    """A layout of twelve rooms with long names and large loads, and its three sources."""
    layout = invented_plan().layouts[0]
    rooms = tuple(
        replace(
            layout.rooms[0],
            down_to="R1",
            need=replace(layout.rooms[0].need, name=f"Room-{k}", title=f"A room with quite a long name, number {k}"),
        )
        for k in range(12)
    )
    outdoor = tuple(
        replace(layout.outdoor[0], outdoor=255.0 + 7 * k, rooms=tuple((room.need.name, 900.0, 845.0) for room in rooms))
        for k in range(5)
    )
    return replace(layout, rooms=rooms, outdoor=outdoor)


def shown(table):
    out = StringIO()
    Console(file=out, width=WIDTH, highlight=False, markup=False).print(table)
    assert WholeConsole(file=out, width=WIDTH).keeps(table), "a word is cut, so it would be laid out as blocks"
    return out.getvalue()


CROWDED = crowded()
TABLES = {
    "needs": lambda system: needs_table([room.need for room in CROWDED.rooms], system),
    "sources": lambda system: sources_table([CROWDED] * 3, system),
    "layout": lambda system: layout_table(CROWDED, system),
    "outdoor": lambda system: outdoor_table(CROWDED, system),
    "shares": lambda system: shares_table(CROWDED, system),
    "circuits": lambda system: circuits_table(invented_plan().layouts[0], system),
    "ways": lambda system: ways_table(invented_plan().layouts[0], system),
}


@pytest.mark.parametrize("system", ["si", "ip"])
@pytest.mark.parametrize("name", TABLES)
def test_tables_stay_whole(name, system):
    text = shown(TABLES[name](system))
    assert "…" not in text
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    if name in ("needs", "layout"):
        # every room's load on one line: 1134 W, 3869 Btu/h, or less 40 W from above 1094 W, 3733 Btu/h
        load = {"needs": ("1,134", "3,869"), "layout": ("1,094", "3,733")}[name][system == "ip"]
        assert sum(load in line for line in text.splitlines()) == 12
    if name == "shares":
        assert text.count("94") == 60


def test_numbers_and_units():
    assert number("load_W", 1134.4, "si") == "1,134" and number("load_W", float("nan"), "si") == "none"
    assert number("load_W", -0.2, "si") == "0"
    # 2.989067 kPa is a foot of water
    assert number("head_kPa", 29.89067, "ip") == "10.0" and unit_of_key("head_kPa").name("ip") == "ft"
    assert spacing(None) == "none" and spacing(0.25) == 250.0


def test_sentences_wrap_and_hang_beside_their_dash():
    out = StringIO()
    text = "- plates every 8.268 in instead of 9.252 in: 27 Btu/h more, not enough; it mostly saves downward heat"
    print_sentence(WholeConsole(file=out, width=40, highlight=False, markup=False), text)
    lines = out.getvalue().splitlines()
    assert len(lines) == 3 and max(map(len, lines)) <= 40
    assert lines[0].startswith("- ") and all(line.startswith("  ") for line in lines[1:])
    assert " ".join(line.strip() for line in lines) == text


def test_heat_from_the_source_is_told_with_all_its_parts():
    """What goes out at the rims of whole bays belongs to it: 12 rooms of 7 W each are 84 W, or 287 Btu/h."""
    rim = replace(CROWDED, rooms=tuple(replace(room, edge=7.0) for room in CROWDED.rooms))
    assert rim.edge == 84.0
    assert re.search(r"of it at the edges +287 Btu/h", shown(sources_table([rim], "ip")))


def test_what_all_circuits_share_is_said_once(capsys):
    """Cooler last bays, and bays from the middle outwards: a line a circuit under one sentence."""
    layout = invented_plan().layouts[0]
    print_circuits(console(), layout, "si")
    told = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert told.count("last bay") == 1 and told.count("from the middle outwards") == 1
    for circuit in layout.circuits:  # two bays before and after the middle of four
        one, two, three, four = (bay.name for bay in circuit.flow.bays)
        assert f"{circuit.flow.cooler_end:.1f} " in told and f"{two} to {one} {three} to {four}" in told


@pytest.mark.parametrize(("count", "words"), [(1, "1 circuit: pump"), (2, "2 circuits: pump")])
def test_one_circuit_has_no_length_to_differ_from(count, words):
    plan = invented_plan()
    (entry, *_) = plan.layouts[0].manifolds
    circuits = (entry.water.circuits * 2)[:count]
    line = _manifold_line(replace(entry, water=replace(entry.water, circuits=circuits)), "si")
    assert words in line and ("lengths" in line) == (count > 1)


def test_what_the_file_prices_is_told_where_it_prices_anything(capsys):
    """One of the plan's layouts: as many plates as its take-off counts, at 2 each."""
    plan = invented_plan()
    _print_material(console(), plan)
    assert capsys.readouterr().out == ""
    plan.house.prices = Prices(plates=2.0)
    _print_material(console(), plan)
    layout = plan.layouts[0]
    plates = take_off(plan, layout).total.plates
    assert f"costs: {layout.source.name} {2 * plates:,}" in " ".join(capsys.readouterr().out.split())
