"""Where the heat goes, as ribbons as wide as the flows; and the steps of temperature from the water to the room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from viz.layout import spread
from viz.report.drawing import Drawing
from viz.report.parts import Figure
from viz.report.told import Told, difference, label_of, listed, same, say, told

_ENDS = (
    ("heat_flow_up_W", "up into the room", "up"),
    ("heat_flow_down_W", "down", "down"),
    ("heat_flow_edge_W", "out at the edges", "edge"),
)
_WAYS = (
    ("contact_share_percent", "by contact"), ("radiant_share_percent", "by radiation"), (
        "convective_share_percent", "by air"
    ),
    ("joist_share_percent", "through joists"), ("insulation_share_percent", "through insulation"),
)  # fmt: skip
LEAST = 2e-3
"""Share of the whole below which a flow is not drawn."""


@dataclass(frozen=True, slots=True)
class HeatFlow:
    """A flow of heat: its words, its size [W], its colour."""

    words: str
    watts: float
    colour: str


def flows_of(report: Mapping[str, Any]) -> tuple[list[HeatFlow], list[HeatFlow]]:
    """What gives heat to the bay and what takes it; both add up to the same but for what the audit leaves.

    A flow that comes in where heat usually leaves, as from a warmer space below, stands among what gives.
    """
    supplied = float(report.get("heat_flow_supplied_W") or 0.0)
    gives = [HeatFlow("the water gives", supplied, "water")] if supplied > 0 else []
    takes = [HeatFlow("the water takes", -supplied, "water")] if supplied < 0 else []
    for key, words, colour in _ENDS:
        watts = float(report.get(key) or 0.0)
        if watts < 0:
            source = {"up": "the room gives", "down": "from below", "edge": "in at the edges"}[colour]
            gives.append(HeatFlow(source, -watts, colour))
        elif watts > 0:
            takes.append(HeatFlow(words, watts, colour))
    return gives, takes


def ways_of(report: Mapping[str, Any]) -> list[tuple[str, float]]:
    """How heat gets to the sheathing: words and share [%], those that a report has."""
    return [(words, float(report[key])) for key, words in _WAYS if report.get(key) is not None]


def flow_figure(report: Mapping[str, Any]) -> Figure:
    """Ribbons from what gives heat to what takes it."""
    gives, takes = flows_of(report)
    total = sum(flow.watts for flow in gives) or 1.0
    words = same("Where the heat goes: ")
    each = [_flow_words(flow, total) for flow in (*gives, *takes)]
    alt = words + listed(each, "; ") + "."
    caption = same("Ribbons are as wide as the heat they carry; flows of the part of the bay that was modelled.")
    return Figure(lambda width: _draw_flows(gives, takes, ways_of(report), width, alt), caption)


def _flow_words(flow: HeatFlow, total: float) -> Told:
    return say("{} {} ({} %)", flow.words, told("heat_flow_up_W", flow.watts), f"{100 * flow.watts / total:.1f}")


def _draw_flows(
    gives: Sequence[HeatFlow], takes: Sequence[HeatFlow], ways: Sequence[tuple[str, float]], width: float, alt: Told
) -> Drawing:
    desk = width > 500
    total = sum(flow.watts for flow in gives) or 1.0
    tall = 150.0 if desk else 120.0
    left, right = (190.0, 260.0) if desk else (112.0, 124.0)
    drawing = Drawing(width, tall + 70.0 + ((70.0 if desk else 90.0) if ways else 0.0), alt)
    sides = ((gives, left - 12.0, "end"), (takes, width - right + 12.0, "start"))
    gap = 14.0
    for flows, at, anchor in sides:
        level = 20.0
        spots = []
        for flow in flows:
            size = tall * flow.watts / total
            if flow.watts > LEAST * total:
                start = at if anchor == "end" else at - 12.0
                drawing.box((start, level), (12.0, max(size, 1.0)), flow.colour, width=0.0)
            spots.append(level + size / 2)
            level += size + gap
        levels = spread(spots, 33.0, 26.0, tall + 46.0)
        for flow, spot in zip(flows, levels, strict=True):
            place = (at - 6.0, spot) if anchor == "end" else (at + 6.0, spot)
            drawing.text(place, flow.words, 12.5 if desk else 11, "ink", anchor=anchor, bold=True)
            share = f", {100 * flow.watts / total:.1f} %"
            drawing.text(
                (place[0], place[1] + 15.0),
                told("heat_flow_up_W", flow.watts) + share,
                12 if desk else 10.5,
                anchor=anchor,
            )
    _ribbons(drawing, gives, takes, (left, width - right), tall / total, gap)
    if ways:
        _draw_ways(drawing, ways, tall + 70.0)
    return drawing


def _ribbons(
    drawing: Drawing,
    gives: Sequence[HeatFlow],
    takes: Sequence[HeatFlow],
    ends: tuple[float, float],
    per_watt: float,
    gap: float,
) -> None:
    """Bands from left to right; several that give are joined in their order."""
    left_edges, level = [], 20.0
    for flow in gives:
        left_edges.append((level, level + flow.watts * per_watt))
        level += flow.watts * per_watt + gap
    pieces = [list(edge) for edge in left_edges]
    right = 20.0
    for flow in takes:
        wanted, start = flow.watts * per_watt, right
        for piece in pieces:
            size = min(wanted, piece[1] - piece[0])
            if size > 1e-9:
                _band(drawing, ends, (piece[0], start), size, flow.colour)
                piece[0] += size
                start += size
                wanted -= size
        right += flow.watts * per_watt + gap


def _band(drawing: Drawing, ends: tuple[float, float], tops: tuple[float, float], size: float, colour: str) -> None:
    """One smooth band, pale so that its ends stand out."""
    upper = []
    for step in range(25):
        share = step / 24
        smooth = share * share * (3 - 2 * share)
        upper.append((ends[0] + share * (ends[1] - ends[0]), tops[0] + smooth * (tops[1] - tops[0])))
    lower = [(x, y + max(size, 0.8)) for x, y in reversed(upper)]
    drawing.path([*upper, *lower], colour, 0.0, fill=_PALE[colour])


_PALE = {"up": "#f0bd96", "down": "#b3c0cc", "edge": "#d3dae0", "water": "#dfa3b6"}


def _draw_ways(drawing: Drawing, ways: Sequence[tuple[str, float]], top: float) -> None:
    """How heat gets to the sheathing, as one bar of shares."""
    total = sum(max(share, 0.0) for _, share in ways) or 1.0
    drawing.text((12.0, top + 4.0), "How it reaches the subfloor", 12, bold=True)
    at, room = 12.0, drawing.width - 24.0
    fills = ("#e9b48a", "#d98a55", "#b9673a", "#8f7a63", "#c9bfae")
    level, place, size = top + 44.0, 12.0, 11.5 if drawing.width > 500 else 10.5
    for (words, share), fill in zip(ways, fills, strict=False):
        wide = room * max(share, 0.0) / total
        drawing.box((at, top + 12.0), (wide, 16.0), fill, "paper", 0.8)
        at += wide
        text = f"{words} {share:.1f} %"
        if place + 24.0 + 0.56 * size * len(text) > drawing.width:
            level, place = level + 17.0, 12.0
        drawing.box((place, level - 9.0), (10.0, 10.0), fill, width=0.0)
        drawing.text((place + 14.0, level), text, size)
        place += 36.0 + 0.56 * size * len(text)


def chain_figure(title: str, steps: Sequence[tuple[Told, float, float]], ends: tuple[Told, Told]) -> Figure:
    """Steps of temperature: a bar for each, as long as the difference across it.

    Parameters
    ----------
    steps : words, resistance [m²K/W], difference [K]
    ends : what stands at the warm and at the cold end.
    """
    each = [say("{} {} ({})", words, told("resistance_room_m2K_W", r), difference(d)) for words, r, d in steps]
    alt = same(f"{title}: from ") + ends[0] + ": " + listed(each, "; ") + "; to " + ends[1] + "."
    caption = same(f"{title}. Bars are as long as the difference across each step; beside them its resistance.")
    return Figure(lambda width: _draw_chain(steps, ends, width, alt), caption)


def _draw_chain(
    steps: Sequence[tuple[Told, float, float]], ends: tuple[Told, Told], width: float, alt: Told
) -> Drawing:
    """Names at the left, bars, values at the right, the sum under them."""
    desk = width > 500
    names, values, row = (200.0, 226.0, 25.0) if desk else (148.0, 112.0, 32.0)
    total = sum(abs(d) for *_, d in steps) or 1.0
    room = width - names - values
    drawing = Drawing(width, 30.0 + row * (len(steps) + 1) + 14.0, alt)
    drawing.text((names, 16.0), ends[0], 12, "water", bold=True)
    at, level = names, 26.0
    for words, resistance, kelvin in steps:
        drawing.text((names - 8.0, level + 14.0), words, 12 if desk else 10.5, anchor="end")
        size = room * abs(kelvin) / total
        drawing.box((at, level + 3.0), (max(size, 1.0), 14.0), "up", width=0.0)
        drawing.line((at + size, level + 3.0), (at + size, level + row + 3.0), "soft", 0.8, (2, 2))
        value = told("resistance_room_m2K_W", resistance)
        drawing.text(
            (width - values + 8.0, level + 14.0),
            value if not desk else value + ", " + difference(kelvin),
            11.5 if desk else 10,
        )
        if not desk:
            drawing.text((width - values + 8.0, level + 26.0), difference(kelvin), 10, "soft")
        at += size
        level += row
    together = told("resistance_room_m2K_W", sum(r for _, r, _ in steps)), difference(sum(d for *_, d in steps))
    drawing.line((8.0, level + 2.0), (width - 8.0, level + 2.0), "faint")
    drawing.text((8.0, level + 17.0), "together", 12 if desk else 10.5, bold=True)
    drawing.text(
        (width - values + 8.0, level + 17.0),
        together[0] + ", " + together[1] if desk else together[0],
        11.5 if desk else 10,
        bold=True,
    )
    drawing.text((at - 4.0, level + (17.0 if desk else 30.0)), ends[1], 12, "down", bold=True, anchor="end")
    return drawing


def chain_steps(report: Mapping[str, Any]) -> list[tuple[Told, float, float]]:
    """The steps from the water to the room that a report has, with the difference across each."""
    flux = float(report.get("heat_flux_up_W_m2") or 0.0)
    keys = [k for k in report if k.startswith("resistance_") and k.endswith("_m2K_W") and report[k] is not None]
    return [(label_of(key), float(report[key]), float(report[key]) * flux) for key in keys]
