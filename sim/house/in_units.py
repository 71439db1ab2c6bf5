"""Tables of a house in the units that were asked for: every heading names its unit, every number follows it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, NamedTuple

from sim.results.page_units import page_unit
from sim.results.people import UNITS, Units

Row = dict[str, object]


class Turned(NamedTuple):
    """The inch-pound ending of a heading, and what its numbers are multiplied by before an offset is added."""

    ending: str
    factor: float
    offset: float = 0.0


_PLAIN = {
    "W": "Btu_h", "W_m2": "Btu_h_ft2", "l_min": "gpm", "m_s": "ft_s", "mm": "in", "m2": "ft2", "K": "degF_difference",
    "C": "F", "m": "ft",
}  # fmt: skip

INCH_POUND = {key: Turned(name, UNITS[key].factor, UNITS[key].offset) for key, name in _PLAIN.items()} | {
    "kPa": Turned("ft_water", 1.0 / 2.989067),
    "bar": Turned("psi", 14.503774),
    "l": Turned("gal", 1.0 / 3.785411784),
    "kv_m3_h": Turned("cv_gpm", 1.156099),
}
"""By SI ending; foot of water at 4 °C and pound from NIST SP 811, Cv from Kv by the units alone."""

SAME = frozenset({"kWh", "percent", "h"})
"""Endings of units that both systems share."""


def cell_format(heading: str) -> str:
    """How a spreadsheet shows the numbers under a heading in either system: with the digits of the page.

    Examples
    --------
    >>> cell_format("return_C"), cell_format("return_F"), cell_format("load_Btu_h"), cell_format("flow_gpm")
    ('0.0', '0.0', '#,##0', '0.00')
    >>> cell_format("plates"), cell_format("season_heat_kWh")
    ('General', '#,##0')
    """
    endings = {turned.ending: key for key, turned in INCH_POUND.items()}
    fitting = [ending for ending in (*endings, *INCH_POUND, *SAME) if heading.endswith(f"_{ending}")]
    own = max(fitting, key=len, default="")
    unit = page_unit(f"_{endings.get(own, own)}")
    digits = re.fullmatch(r"(,?)\.(\d)f", unit.ip_format if own in endings else unit.si_format) if own else None
    if digits is None:
        return "General"
    places = int(digits[2])
    return ("#,##0" if digits[1] else "0") + (f".{'0' * places}" if places else "")


def in_units(rows: Iterable[Row], units: Units) -> list[Row]:
    """Rows of a table as one reads them in a system of units.

    What is told in both systems, a column and its twin with the ending "_ip", becomes one column.

    Examples
    --------
    >>> in_units([{"room": "R1", "supply_C": 45.0, "drop_K": 5.0, "remedy": "x in mm", "remedy_ip": "x in in"}], "ip")
    [{'room': 'R1', 'supply_F': 113.0, 'drop_degF_difference': 9.0, 'remedy': 'x in in'}]
    """
    return [_row(row, units) for row in rows]


def _row(row: Row, units: Units) -> Row:
    twins = {key.removesuffix("_ip") for key in row if key.endswith("_ip")}
    chosen = {
        key: row[f"{key}_ip"] if units == "ip" and key in twins else value
        for key, value in row.items()
        if key.removesuffix("_ip") not in twins or not key.endswith("_ip")
    }
    return chosen if units == "si" else dict(_turned(key, value) for key, value in chosen.items())


def _turned(key: str, value: Any) -> tuple[str, Any]:
    """A heading and its value in inch-pound units."""
    fitting = [ending for ending in (*INCH_POUND, *SAME) if key.endswith(f"_{ending}")]
    own = max(fitting, key=len, default="")
    if own not in INCH_POUND:
        return key, value
    turned = INCH_POUND[own]
    return f"{key.removesuffix(own)}{turned.ending}", _number(value, turned)


def _number(value: Any, turned: Turned) -> Any:
    """A number turned; in a text of numbers each of them, in other texts none."""
    if isinstance(value, str):
        parts = value.split()
        if not parts or not all(re.fullmatch(r"-?\d+(\.\d+)?", part) for part in parts):
            return value
        return " ".join(f"{float(part) * turned.factor + turned.offset:.2f}" for part in parts)
    return value * turned.factor + turned.offset if isinstance(value, int | float) else value
