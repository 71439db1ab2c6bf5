"""Texts in both unit systems at once: a page shows one of them and can change to the other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from sim.results.people import BAND, UNITS, Units, format_uncertain, format_value, full_name, quantity, unit_of
from sim.results.rule_inches import inches
from sim.results.spelling import in_inch_pounds, spelled

NOTHING = "–"
"""Stands where there is no number."""


@dataclass(frozen=True, slots=True)
class Told:
    """One text, in SI and in inch-pound units."""

    si: str
    ip: str

    def pick(self, units: Units) -> str:
        """The text in one system."""
        return self.si if units == "si" else self.ip

    @property
    def both(self) -> str:
        """Both in one line, for those to whom the page is read."""
        return self.si if spelled(self.si, "ip") == self.ip else f"{self.si} ({self.ip})"

    def html(self) -> str:
        """Escaped markup of which the style sheet shows one half."""
        if self.si == self.ip:
            return escape(self.si)
        return f'<span class="si">{escape(self.si)}</span><span class="ip">{escape(self.ip)}</span>'

    def __add__(self, other: Told | str) -> Told:
        more = same(other) if isinstance(other, str) else other
        return Told(self.si + more.si, self.ip + more.ip)

    def __bool__(self) -> bool:
        return bool(self.si or self.ip)


def cited(source: str) -> Told:
    """A source, its own numbers in both systems.

    Examples
    --------
    >>> cited("as for conductors at 60 °C").ip
    'as for conductors at 140 °F'
    """
    return Told(source, in_inch_pounds(source))


def same(text: str) -> Told:
    """A text of ours without units, in the spelling of those who read each system."""
    return Told(text, spelled(text, "ip"))


def verbatim(text: str) -> Told:
    """A text of somebody else, as the name of a choice: as it is."""
    return Told(text, text)


def say(form: str, *parts: Told | str) -> Told:
    """A sentence with parts put in for each {}; parts that are plain texts stay as they are.

    >>> say("{} of water", told("water_flow_l_min", 1.8)).ip
    '0.48 gpm of water'
    """
    each = [verbatim(part) if isinstance(part, str) else part for part in parts]
    return Told(form.format(*(part.si for part in each)), spelled(form, "ip").format(*(part.ip for part in each)))


def listed(parts: Iterable[Told | str], between: str = ", ") -> Told:
    """Several texts in a row."""
    each = [same(part) if isinstance(part, str) else part for part in parts]
    return Told(between.join(part.si for part in each), between.join(part.ip for part in each))


def told(key: str, value: Any) -> Told:
    """A report value with its unit; a dash where there is none.

    >>> told("surface_mean_C", 25.0)
    Told(si='25.0 °C', ip='77.0 °F')
    """
    if value is None or isinstance(value, str | bool) or value != value:
        return same(NOTHING)
    return Told(*(format_value(key, float(value), units).replace("-", "−") for units in ("si", "ip")))


def bare(key: str, value: Any) -> Told:
    """A report value without its unit, which stands beside its name.

    >>> bare("heat_flux_up_W_m2", 59.2)
    Told(si='59.2', ip='18.8')
    """
    whole, unit = told(key, value), unit_of(key)
    return Told(*(whole.pick(units).removesuffix(unit.name(units)).rstrip() for units in ("si", "ip")))


def with_unit(key: str, name: Told) -> Told:
    """A name and the unit of the numbers beside it.

    >>> with_unit("heat_flux_up_W_m2", same("heat up")).ip
    'heat up, Btu/h·ft²'
    """
    units = (unit_of(key).name(system) for system in ("si", "ip"))
    return Told(*(f"{text}, {unit}" if unit else text for text, unit in zip((name.si, name.ip), units, strict=True)))


def of_report(report: Mapping[str, Any], key: str) -> Told:
    """A number of a report, with its band where the report holds one."""
    value, band = report.get(key), report.get(key + BAND)
    if value is None or band is None:
        return told(key, value)
    return Told(*(format_uncertain(key, value, band, units).replace("-", "−") for units in ("si", "ip")))


def label_of(key: str) -> Told:
    """What a report calls a key."""
    found = quantity(key)
    return Told(found.heading("si"), spelled(found.heading("ip"), "ip"))


def named(key: str) -> Told:
    """What a key is called where it stands without its group: "floor surface, mean"."""
    return Told(full_name(key), spelled(full_name(key, "ip"), "ip"))


def millimetres(metres: float) -> Told:
    """A length of the section: millimetres, or inches as the trade writes them."""
    return Told(f"{1e3 * metres:.3g} mm" if metres < 0.01 else f"{1e3 * metres:.0f} mm", inches(metres))


def difference(kelvin: float) -> Told:
    """A difference of temperature."""
    return Told(*(UNITS["K"].write(kelvin, units).replace("-", "−") for units in ("si", "ip")))
