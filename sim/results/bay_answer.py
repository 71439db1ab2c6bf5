"""The answer of one bay in words: what the floor gives, how warm and how striped it is, what goes down."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sim.case.constants import ZERO_CELSIUS
from sim.results.air_words import correlations_words, longer_words, place_words
from sim.results.people import BAND, format_uncertain, format_value

if TYPE_CHECKING:
    from sim.case.bay_case import Case

TOO_SHORT = "How far off this is nobody knows: the air was followed for {time} only; a longer air.longest tells it."
"""What is said of computed air whose run ended before any error could be told."""

Shown = Literal["si", "ip", "both"]
Value: TypeAlias = float | str | None
Reported: TypeAlias = Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the sentences need beside a report: the room [K], whether one plate pitch stands for the bay, the whole bay
    [m²] with its length [m] where that is known."""

    room: float
    is_pitch: bool
    area: float | None = None
    length: float | None = None
    is_one_run: bool = True
    """Whether all tube of the bay is of one run of water; tube across the joists goes on into the next bays."""
    law: str = ""
    """What air by correlations is off by, or that plates are longer than all that taught, in words; else empty."""

    @classmethod
    def of(cls, case: Case) -> Asked:
        """Of a case."""
        length = float(case.bay.length)
        area, one_run = length * float(case.bay.joist_spacing), case.tube.direction == "along"
        law = correlations_words([case]) or longer_words(case)
        return cls(float(case.room.temperature), case.span == "pitch", area, length, one_run, law)


def bay_answer(report: Reported, asked: Asked, units: Shown) -> str:
    """A paragraph on a solved bay; how sure it is says `left_open`.

    Parameters
    ----------
    report : report keys and values (SI); what it lacks reads as a dash.
    asked : what was asked for beside it.
    units : "si", "ip" or "both".
    """

    told = {**report, **_of_the_whole(report, asked)}

    def write(key: str, value: Value) -> str:
        return _written(told, key, value, units)

    floor = [_given(told, asked, write), _felt(report, asked.is_pitch, write)]
    return " ".join(filter(None, [*floor, _down(report, write)]))


_Write = Callable[[str, Value], str]


def _written(report: Reported, key: str, value: Value, units: Shown) -> str:
    """A number with its unit, and its band where it is the report's own and has one."""
    if value is None or isinstance(value, str | bool) or value != value:
        return "–"
    band = report.get(key + BAND) if value is report.get(key) else None
    number = float(value)
    text = format_value(key, number, units) if band is None else format_uncertain(key, number, float(band), units)
    return text.replace("-", "−")


def _given(report: Reported, asked: Asked, write: _Write) -> str:
    water = write("water_supply_C", report.get("water_supply_C"))
    flux, room = write("heat_flux_up_W_m2", report.get("heat_flux_up_W_m2")), asked.room - ZERO_CELSIUS
    form = "With water at {} going in{}, this floor gives {} to a room at {}{}."
    back = _back(report, asked, write)
    return form.format(water, back, flux, write("surface_mean_C", room), _whole(report, asked, write))


def _back(report: Reported, asked: Asked, write: _Write) -> str:
    """The water that comes back: of a pitch by proportion from the whole bay, for it falls by next to nothing in one.

    Nothing where so little flows that proportion would bring it down to the room.
    """
    supply, back, part = (report.get(key) for key in ("water_supply_C", "water_return_C", "floor_area_m2"))
    if not asked.is_pitch:
        return f" and {write('water_return_C', back)} coming back"
    if not asked.is_one_run or asked.area is None or supply is None or back is None or part is None:
        return ""
    whole = float(supply) - (float(supply) - float(back)) * asked.area / float(part)
    cold = whole <= asked.room - ZERO_CELSIUS < float(supply)
    return "" if cold else f" and about {write('water_return_C', whole)} coming back from the whole bay"


def _of_the_whole(report: Reported, asked: Asked) -> dict[str, Value]:
    """The heat up of the whole bay and its error, in place of the pitch's: nobody buys a pitch."""
    flux, band = report.get("heat_flux_up_W_m2"), report.get("heat_flux_up_W_m2" + BAND)
    if not asked.is_pitch or asked.area is None or flux is None:
        return {}
    whole: dict[str, Value] = {"heat_flow_up_W": float(flux) * asked.area}
    return whole | {"heat_flow_up_W" + BAND: None if band is None else float(band) * asked.area}


def _whole(report: Reported, asked: Asked, write: _Write) -> str:
    """What the whole bay gives, where a pitch of it is modelled."""
    if not asked.is_pitch or asked.area is None or report.get("heat_flux_up_W_m2") is None:
        return ""
    heat = write("heat_flow_up_W", report.get("heat_flow_up_W"))
    return f", {heat} over the whole bay of {write('bay_m', asked.length)}"


def _felt(report: Reported, is_pitch: bool, write: _Write) -> str:
    values = [write(key, report.get(key)) for key in ("surface_mean_C", "surface_peak_C", "surface_trough_C")]
    said = "Its surface is {} on average, {} at the warmest spot and {} at the coolest".format(*values)
    ripple = report.get("ripple_K")
    if ripple is None:
        return f"{said}."
    if not is_pitch:
        return f"{said}: {write('ripple_K', ripple)} between them, what ends, rims and rugs make of it included."
    return f"{said}: {_noticed(float(ripple))} stripes of {write('ripple_K', ripple)}."


def _noticed(ripple: float) -> str:
    """How strong stripes are, in words; a plain reading of the number, no standard behind it."""
    words = ((0.5, "very faint"), (2.0, "faint"), (4.0, "plain"))
    return next((word for most, word in words if ripple < most), "strong")


def _down(report: Reported, write: _Write) -> str:
    """What leaves downwards, and at the edges where that shows; nothing where heat comes from below."""
    share = report.get("share_down_percent")
    if share is None or float(report.get("heat_flow_down_W") or 0.0) <= 0.0:
        return ""
    edge, supplied = float(report.get("heat_flow_edge_W") or 0.0), float(report.get("heat_flow_supplied_W") or 0.0)
    seen = supplied > 0.0 and edge / supplied >= 5e-4
    edges = f" and {write('share_down_percent', 100.0 * edge / supplied)} out at the edges" if seen else ""
    return f"Of the heat of the water {write('share_down_percent', share)} goes down{edges}."


def left_open(report: Reported, law: str = "") -> str:
    """Which answer it is, by laws or by computed air, how sure, and what is not in that.

    Nothing where no air is at work, and where other numbers with bands of their own say it.

    Parameters
    ----------
    law : what air by correlations is off by (`air_words.correlations_words`), or what else is to be said of the law.
    """
    if "heat_flux_up_W_m2" + BAND in report:
        computed = (
            "This bay's own air was computed: each ± holds chance and the air's mesh; inputs, and what another lasting "
            "pattern of its flow would make of it, come on top."
        )
        return computed if "air_error_percent" in report else ""
    if report.get("air_time_s") is not None:
        return TOO_SHORT.format(time=format_value("air_time_s", float(report["air_time_s"] or 0.0)))
    if "air_band_up_percent" not in report:
        return f"Quick answer: {law}." if law and "cavity_air_C" in report else ""
    numbers = (("heat up", "up"), ("heat down", "down"), ("stripes", "ripple"))
    known = [(name, report.get(f"air_band_{word}_percent")) for name, word in numbers]
    *first, last = (f"{name} ± {float(band):.0f} %" for name, band in known if band is not None)
    told = f"{', '.join(first)} and {last}" if first else last
    nearer = report.get("air_nearer_percent")
    place = "" if nearer is None else f"; {place_words([float(nearer)])}"
    return (
        f"Quick answer, by laws learned from computed air: {told} in 19 of 20 such bays{place}. "
        f"{f'{law[:1].upper()}{law[1:]}. ' if law else ''}Mesh and inputs come on top."
    )
