"""The answer in words: what a floor gives, how it feels, what it costs, which limit it passes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sim.results.against import found_against
from sim.results.bay_answer import Asked, bay_answer, left_open
from sim.results.people import Units
from sim.results.spelling import spelled
from viz.report.parts import Facts, Text
from viz.report.record import RunRecord
from viz.report.told import Told, difference, listed, of_report, same, say, told

SYSTEMS: tuple[Units, Units] = ("si", "ip")


def answer(record: RunRecord) -> list[Text | Facts]:
    """A paragraph, what is broken, and the numbers at large."""
    ways = [Text(way, "note") for way in record.ways]
    asked = Asked.of(record.bay) if record.bay is not None else Asked(record.room, record.choice.is_pitch)
    said = Told(*(spelled(bay_answer(record.report, asked, units), units) for units in SYSTEMS))
    sure = left_open(record.report, asked.law)
    how_sure = [Text(same(sure), "note")] if sure else []
    kept = verdict(record.limits, record.report)
    return [Text(said, "answer"), *how_sure, kept, *ways, Facts(_facts(record))]


def verdict(limits: Sequence[Mapping[str, Any]], report: Mapping[str, Any]) -> Text:
    """Which limits are broken, or that all are kept and which one is nearest."""
    if not limits:
        return Text(same("No limits are held against this result."), "note")
    broken = [limit for limit in limits if not limit["kept"]]
    if broken:
        each = [say("{} is at {}, may be at most {}", limit["what"], *against(limit, report)) for limit in broken]
        many = "1 limit is" if len(broken) == 1 else f"{len(broken)} limits are"
        return Text(same(f"{many} broken: ") + listed(each, "; ") + ".", "warn")
    near = max(limits, key=lambda limit: limit.get("used", 0.0))
    all_kept = "The one limit is kept" if len(limits) == 1 else f"All {len(limits)} limits are kept"
    form = all_kept + "; the nearest is {}: {}, at most {}, {} to spare."
    return Text(say(form, near["what"], *against(near, report), margin_of(near)), "good")


def against(limit: Mapping[str, Any], report: Mapping[str, Any]) -> tuple[Told, Told]:
    """What was found, with its band where the report has one, and what may be."""
    key, values = str(limit["key"]), (float(limit["value"]), float(limit["highest"]))
    si, ip = (found_against(report, key, *values, units) for units in ("si", "ip"))
    found, most = (Told(*(text.replace("-", "−") for text in pair)) for pair in zip(si, ip, strict=True))
    return found, most


def margin_of(limit: Mapping[str, Any]) -> Told:
    """What is left until a limit, or by how much it is broken."""
    margin = float(limit["highest"]) - float(limit["value"])
    return difference(margin) if str(limit["key"]).endswith("_C") else told(limit["key"], margin)


def _facts(record: RunRecord) -> list[tuple[Told, Told, Told]]:
    report = record.report
    found = [
        (
            same("Heat up"),
            of_report(report, "heat_flux_up_W_m2"),
            say("{} for the modelled part", told("heat_flow_up_W", report.get("heat_flow_up_W"))),
        ),
        (
            same("Floor, mean"),
            of_report(report, "surface_mean_C"),
            say("warmest spot {}", of_report(report, "surface_peak_C")),
        ),
        (same("Ripple"), of_report(report, "ripple_K"), same("warmest less coolest spot")),
        (same("Heat down"), told("share_down_percent", report.get("share_down_percent")), same("of the water's heat")),
        (
            same("Water"),
            told("water_supply_C", report.get("water_supply_C")),
            say(
                "{}, back at {}" + (" from the modelled part" if record.choice.is_pitch else ""),
                told("water_flow_l_min", report.get("water_flow_l_min")),
                told("water_return_C", report.get("water_return_C")),
            ),
        ),
    ]  # fmt: skip
    return [fact for fact in found if fact[1].si != "–"]
