"""Whether a heat source suits a floor: every limit of its profile held against what the floor asks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from sim.case.constants import ZERO_CELSIUS
from sim.house.sources import Source
from sim.results.people import UNITS


@dataclass(frozen=True, slots=True)
class Finding:
    """One limit of a source beside what the floor asks: whether it is kept and what follows, in both unit systems."""

    what: str
    kept: bool
    value: float
    limit: float
    text: str
    text_ip: str = ""

    def told(self, units: str) -> str:
        """What follows, in SI or "ip"."""
        return self.text_ip if units == "ip" else self.text

    def __str__(self) -> str:
        return f"{'✓' if self.kept else '✗'} {self.what}: {self.text}"


@dataclass(frozen=True, slots=True)
class _Say:
    """How a system of units writes a temperature, a difference (without its unit, which is `unit`) and an output."""

    water: Callable[[float], str]
    kelvin: Callable[[float], str]
    unit: str
    output: Callable[[float], str]


_SAYS = (
    _Say(
        lambda kelvin: f"{kelvin - ZERO_CELSIUS:.1f} °C",
        lambda kelvin: f"{round(kelvin, 1):g}",
        "K",
        lambda watts: f"{watts / 1e3:.1f} kW",
    ),
    _Say(
        lambda kelvin: f"{1.8 * (kelvin - ZERO_CELSIUS) + 32.0:.1f} °F",
        lambda kelvin: f"{round(1.8 * kelvin, 1):g}",
        "°F",
        lambda watts: f"{UNITS['W'].convert(watts, 'ip'):,.0f} Btu/h",
    ),
)
"""In SI and in inch-pound units, each from the exact value."""


def suits(
    source: Source, supply: float, returning: float, load: float, outdoor: float | None = None
) -> tuple[Finding, ...]:
    """Hold every limit of a source against what a floor needs.

    Parameters
    ----------
    supply, returning : of the floor, supply warmer than return [K].
    load : heat that the floor takes, downward heat included [W]; greater than 0.
    outdoor : [K], where the source's output depends on it.

    Raises
    ------
    ValueError : return not cooler than supply, load not greater than 0.
    """
    if not returning < supply:
        raise ValueError(f"return {returning:.2f} K must be cooler than supply {supply:.2f} K")
    if not load > 0.0:
        raise ValueError(f"load: got {load:g} W; must be greater than 0")
    most = source.output(supply, outdoor)
    si, ip = (
        (*_water(source, supply, say), *_return(source, supply, returning, say), *_output(source, load, most, say))
        for say in _SAYS
    )
    return tuple(replace(one, text_ip=other.text) for one, other in zip(si, ip, strict=True))


def _water(source: Source, supply: float, say: _Say) -> Iterator[Finding]:
    """Whether the source makes water as warm, and as cool, as is wanted."""
    kept, limit = supply <= source.highest_supply, source.highest_supply
    text = f"{say.water(supply)} wanted, it makes up to {say.water(limit)}"
    way_out = "; closer plates or a thinner covering would do with cooler water"
    yield Finding("warm enough", kept, supply, limit, text if kept else text + way_out)
    limit, cooler = source.lowest_supply, supply < source.lowest_supply
    text = f"{say.water(supply)} wanted, it makes {say.water(limit)} at the least"
    means = "; mixed down for the floor" if source.mixes else "; a mixing valve is needed"
    yield Finding("cool enough", source.mixes or not cooler, supply, limit, text + means if cooler else text)


def _return(source: Source, supply: float, returning: float, say: _Say) -> Iterator[Finding]:
    """Whether the return suits the source, and the drop."""
    back = f"{say.water(returning)} comes back from the floor, "
    if source.return_at_least is not None:
        limit, kept = source.return_at_least, returning >= source.return_at_least
        text = back + f"at least {say.water(limit)} must reach the boiler"
        way_out = (
            "; a three-way mixing valve alone does not protect it: four-way valve, injection, a primary loop with "
            "return sensing, or a buffer"
        )
        yield Finding("return protected", kept, returning, limit, text if kept else text + way_out)
    if source.condenses_below is not None:
        limit, kept = source.condenses_below, returning < source.condenses_below
        text = back + f"it condenses below {say.water(limit)}"
        way_out = "; its efficiency is that of hot water"
        yield Finding("condensing", kept, returning, limit, text if kept else text + way_out)
    drop = supply - returning
    kept = source.mixes or source.drop_from - 1e-9 <= drop <= source.drop_to + 1e-9
    limit = source.drop_from if drop < source.drop_from else source.drop_to
    usual = f"{say.kelvin(source.drop_from)} to {say.kelvin(source.drop_to)} {say.unit}"
    text = f"{say.kelvin(drop)} {say.unit}, usual are {usual}"
    means = "" if kept else "; change the flow, or separate the floor's loop from the source's"
    yield Finding("drop", kept, drop, limit, text + means)


def _output(source: Source, load: float, limit: float, say: _Say) -> Iterator[Finding]:
    """Whether the load lies within what the source can give, `limit` at the most."""
    kept = load <= limit
    text = f"{say.output(load)} wanted, it gives up to {say.output(limit)}"
    yield Finding("strong enough", kept, load, limit, text if kept else text + "; the rest needs another source")
    kept, limit = load >= source.smallest_output, source.smallest_output
    text = f"{say.output(load)} wanted, it gives {say.output(limit)} at the least"
    way_out = "; it will short-cycle, a buffer is needed"
    yield Finding("steady running", kept, load, limit, text if kept else text + way_out)
