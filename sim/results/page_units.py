"""Units with the digits that a house's papers want: its page, booklet, drawings, terminal and workbook say the same."""

from __future__ import annotations

from collections.abc import Mapping

from sim.results.people import UNITS, Unit, unit_of

PAGE_UNITS: Mapping[str, Unit] = {
    "kPa": Unit("kPa", "ft", 1.0 / 2.989067, 0.0, ".1f", ".1f"),
    "bar": Unit("bar", "psi", 14.503774, 0.0, ".1f", ".0f"),
    "m3_h": Unit("m³/h", "gpm/√psi", 1.156099, 0.0, ".2f", ".2f"),
    "kW": Unit("kW", "kBtu/h", UNITS["W"].factor, 0.0, ".1f", ".1f"),
    "W": Unit("W", "Btu/h", UNITS["W"].factor, 0.0, ",.0f", ",.0f"),
    "m2": Unit("m²", "ft²", UNITS["m2"].factor, 0.0, ".1f", ".0f"),
    "m": Unit("m", "ft", UNITS["m"].factor, 0.0, ".1f", ".1f"),
    "K": Unit("K", "°F", 1.8, 0.0, ".1f", ".1f"),
    "C": Unit("°C", "°F", 1.8, 32.0, ".1f", ".1f"),
    "percent": Unit("%", "%", si_format=".0f", ip_format=".0f"),
    "l": Unit("l", "gal", 1.0 / 3.785411784, 0.0, ".1f", ".1f"),
    "kWh": Unit("kWh", "kWh", 1.0, 0.0, ",.0f", ",.0f"),
    "cost": Unit("", "", 1.0, 0.0, ",.0f", ",.0f"),
    "cop": Unit("", "", 1.0, 0.0, ".2f", ".2f"),
    "h": Unit("h", "h", 1.0, 0.0, ",.0f", ",.0f"),
}
"""Units with the digits of a printed page; kPa as head, foot of water at 4 °C from NIST SP 811. A valve's
Kv [m³/h at 1 bar] is 1.156 times as large as Cv [US gal/min at 1 psi], from the units alone."""


def page_unit(key: str) -> Unit:
    """The unit that a key names in its suffix.

    Examples
    --------
    >>> page_unit("return_C").write(46.37), page_unit("tube_m").write(63.798), page_unit("heat_W").write(1234.5, "ip")
    ('46.4 °C', '63.8 m', '4,212 Btu/h')
    """
    fitting = [suffix for suffix in PAGE_UNITS if key.endswith(f"_{suffix}")]
    own = max(fitting, key=len) if fitting else ""
    usual = [suffix for suffix in UNITS if key.endswith(f"_{suffix}")]
    return PAGE_UNITS[own] if own and len(own) >= max(map(len, usual), default=0) else unit_of(key)
