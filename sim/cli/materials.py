"""`joistbay materials`: the materials library."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from itertools import groupby
from typing import TYPE_CHECKING

from sim.cli.errors import UsageError
from sim.cli.options import UnitChoice
from sim.cli.show import console, each_system, hanging, print_inset

if TYPE_CHECKING:
    from sim.case.materials import Material
    from sim.cli.sheet import WholeConsole

_COLUMNS = (
    ("conductivity", "conductivity"),
    ("density", "density"),
    ("specific_heat", "specific heat"),
)
"""Attribute of a material and the dimension that names its units."""

_NAME_WIDTH, _WIDTH, _LAST_WIDTH, _LABEL_WIDTH = 34, 19, 12, 16


def materials(name: str | None = None, /, *, units: UnitChoice = "both") -> int:
    """List the materials library with its sources, or all that is known of one material.

    Parameters
    ----------
    name
        One material, or a word of its name or family.
    units
        Units of the numbers.
    """
    from sim.case.materials import load_materials

    library = list(load_materials().values())
    out = console(units)
    if name is None:
        _print_list(out, library, units)
        return 0
    found = _found(library, name)
    for number, material in enumerate(found):
        out.print() if number else None
        _print_one(out, material, units)
    return 0


def _found(library: Sequence[Material], name: str) -> list[Material]:
    """The material of that name, else all that have the text in their name or family."""
    from sim.case.materials import find_material, nearest_in_kind

    wanted = name.lower()
    try:
        exact = [find_material(name)]
    except KeyError:
        exact = []
    found = exact or [m for m in library if wanted in m.name.lower() or wanted in m.family.lower()]
    if not found:
        near = get_close_matches(wanted, [m.name.lower() for m in library], n=1, cutoff=0.5)
        kin = nearest_in_kind(name)
        hint = f'did you mean "{near[0]}"?' if near else "joistbay materials lists them all"
        hint = f'nearest in kind is "{kin}"' if kin else hint
        raise UsageError(f'materials: nothing is called "{name[:60]}"; {hint}')
    return found


def _print_list(out: WholeConsole, library: Sequence[Material], units: UnitChoice) -> None:
    """One line of numbers and one of source for every material, by family."""
    straight = out.width >= _NAME_WIDTH + len(_COLUMNS) * _WIDTH + _LAST_WIDTH
    for system in each_system(units) if straight else ():
        heads = "".join(f"{_unit(dimension, system):>{_WIDTH}}" for _, dimension in _COLUMNS)
        out.print(f"{'':<{_NAME_WIDTH}}{heads}{'emissivity':>{_LAST_WIDTH}}", soft_wrap=True, style="bold")
    for family, inside in groupby(library, key=lambda material: material.family):
        out.print(f"\n{family}", style="bold")
        for material in inside:
            (_print_line if straight else _print_block)(out, material, units)


def _print_block(out: WholeConsole, material: Material, units: UnitChoice) -> None:
    """The same where a line of numbers does not fit: each number with its name and unit."""
    out.print(f"  {material.name}")
    for entry in _COLUMNS:
        print_inset(out, f"{entry[1]} {_in_systems(material, entry, units)}", 4)
    print_inset(out, f"emissivity {material.emissivity:g}", 4)
    print_inset(out, material.source, 4, "dim italic")


def _print_line(out: WholeConsole, material: Material, units: UnitChoice) -> None:
    for number, system in enumerate(each_system(units)):
        texts = "".join(f"{_number(material, entry, system):>{_WIDTH}}" for entry in _COLUMNS)
        name, emissivity = ("", "") if number else (f"  {material.name}", f"{material.emissivity:g}")
        style = "dim" if number else None
        out.print(f"{name:<{_NAME_WIDTH}}{texts}{emissivity:>{_LAST_WIDTH}}".rstrip(), soft_wrap=True, style=style)
    print_inset(out, material.source, 4, "dim italic")


def _print_one(out: WholeConsole, material: Material, units: UnitChoice) -> None:
    """All that is known of one material."""
    from sim.case.materials import words_for

    low, high = material.conductivity_range or (0.0, 0.0)
    lines = {entry[1]: _in_systems(material, entry, units) for entry in _COLUMNS} | {
        "emissivity": f"{material.emissivity:g}",
        "published": f"conductivity from {low:g} to {high:g} W/(m·K)" if low < high else "",
        "also called": ", ".join(words_for(material)),
        "holds for": material.validity,
        "source": material.source,
        "note": material.note,
    }
    table = hanging(_LABEL_WIDTH)
    for label, text in lines.items():
        if text:
            table.add_row(f"  {label}", text)
    out.print(f"{material.name} ({material.family})", style="bold")
    out.print(table)


def _in_systems(material: Material, entry: tuple[str, str], units: UnitChoice) -> str:
    """A number in one unit system, or in both with the second in brackets."""
    texts = [f"{_number(material, entry, system)} {_unit(entry[1], system)}" for system in each_system(units)]
    return texts[0] + "".join(f" ({text})" for text in texts[1:])


def _unit(dimension: str, system: str) -> str:
    from sim.case.quantities import convert

    return convert(0.0, dimension, system.upper())[1]


def _number(material: Material, entry: tuple[str, str], system: str) -> str:
    """A value in the wanted units; three where the directions differ."""
    from sim.case.quantities import convert

    value = getattr(material, entry[0])
    values = [value] if not isinstance(value, tuple) else value if len(set(value)) > 1 else value[:1]
    return " / ".join(f"{convert(each, entry[1], system.upper())[0]:.4g}" for each in values)
