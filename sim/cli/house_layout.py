"""The layout of a house without its water, on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from sim.cli.options import UnitChoice
from sim.cli.show import console, each_system, plain_table
from sim.house.layout_only import RoomCount
from sim.house.quantities import ITEMS
from sim.results.page_units import page_unit

if TYPE_CHECKING:
    from rich.table import Table

    from sim.case.house_case import House

System = Literal["si", "ip"]


def print_layout_only(house: House, counted: Sequence[RoomCount], units: UnitChoice) -> None:
    """Circuits with their lengths, and what all rooms take together."""
    out = console(units)
    out.print(house.title or house.name, style="bold")
    for system in each_system(units):
        out.print("\nCircuits by length; nothing is solved")
        out.print(_circuits(counted, system))
        out.print("\nQuantities with the plates as written, all rooms")
        out.print(_quantities(counted, system))


def _circuits(counted: Sequence[RoomCount], system: System) -> Table:
    table = plain_table()
    for number, head in enumerate(("circuit", "bays", "from", "to", "tube", "of it leaders")):
        table.add_column(head, justify="right" if number in (1, 4, 5) else "left", no_wrap=number == 0)
    for count in counted:
        for circuit in count.placed.split.circuits:
            lengths = (page_unit("tube_m").write(metres, system) for metres in (circuit.length, circuit.leaders))
            names = (circuit.bays[0].name, circuit.bays[-1].name)
            table.add_row(circuit.name, f"{len(circuit.bays)}", *names, *lengths)
    return table


def _quantities(counted: Sequence[RoomCount], system: System) -> Table:
    first, *others = (count.amounts for count in counted)
    for amounts in others:
        first = first + amounts
    table = plain_table()
    table.show_header = False
    table.add_column()
    table.add_column(justify="right")
    for item in ITEMS:
        whole = item.key.rpartition("_")[2] not in ("m", "m2")
        amount = item.of(first)
        table.add_row(item.name, f"{amount:,.0f}" if whole else page_unit(item.key).write(amount, system))
    return table
