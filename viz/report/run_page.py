"""The page of one run at rest: a bay, blocks, or air alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from sim.results.air_answer import air_answer
from sim.results.air_motion import ending
from viz.air_view import has_air
from viz.report import chapters
from viz.report.answer import answer
from viz.report.build_up import build_up_figure, place_of_section, warmth_figure
from viz.report.flows import chain_figure, chain_steps, flow_figure, flows_of
from viz.report.maps import MappedFloor, floor_figure, ripple_figure
from viz.report.parts import Chapter, Facts, Page, Part, Picture, Table, Text
from viz.report.profile import profile_figure
from viz.report.record import RunRecord
from viz.report.told import Told, label_of, millimetres, of_report, same, say, told
from viz.scales import ZERO_CELSIUS

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase

_WHAT = {
    "air_section": "Section through the air: its temperature and its flow.",
    "air_streams": "Streamlines of the air.",
}
"""Pictures of air alone that are taken over, and what they show."""


def run_page(record: RunRecord) -> Page:
    """A run as a page."""
    floor = record.floor()
    parts = bay_chapters(record, floor) if floor is not None else _plain_chapters(record)
    own = [*parts, *closing_chapters(record)]
    return Page(record.title, lead_of(record), own, foot_of(record.versions, chapters.ASK if floor else chapters.MODEL))


def lead_of(record: RunRecord) -> Told:
    """One line under the title."""
    bay = record.bay
    if bay is None:
        return same("Air alone" if "temperature" not in record.choice.fields else "Steady state")
    cut = "A slice of a joist bay without plates" if bay.plates is None else "One plate pitch of a joist bay"
    part = f"{cut}, which repeats itself" if record.choice.is_pitch else "A whole joist bay"
    return say("{}, {} between joists, in its steady state.", part, millimetres(float(bay.bay.joist_spacing)))


def bay_chapters(record: RunRecord, floor: MappedFloor) -> list[Chapter]:
    """Answer, section, floor, limits and cautions of a bay, then in detail profiles and heat."""
    y = place_of_section(record.choice)
    maps: list[Part] = [floor_figure(floor), ripple_figure(floor), *(Text(line) for line in record.feet)]
    built = [build_up_figure(record.choice, y), warmth_figure(record.choice, y)]
    return [
        Chapter("answer", "In short", answer(record)),
        Chapter("section", "How it is built", built),
        Chapter("floor", "How warm the floor is, and how it feels", maps),
        chapters.limits_chapter(record.limits, record.report),
        chapters.cautions_chapter(record.cautions),
        Chapter("profiles", "Along and across", [profile_figure([floor], 1), profile_figure([floor], 0)]),
        Chapter("heat", "Where the heat goes", heat_parts(record)),
    ]


def closing_chapters(record: RunRecord) -> list[Chapter]:
    """What every run ends in."""
    return [
        chapters.numbers_chapter(record.report),
        chapters.uncertainty_chapter(record),
        chapters.computed_chapter(record),
        chapters.inputs_chapter(record),
    ]


def heat_parts(record: RunRecord) -> list[Part]:
    """Flows as ribbons and as a table, what of the heat is radiation, the steps up and down."""
    report = record.report
    parts: list[Part] = [flow_figure(report), _flow_table(report), *_split(report)]
    if steps := chain_steps(report):
        ends = _level("water, mean", report.get("water_mean_C")), _level("room", record.room - ZERO_CELSIUS)
        parts.append(chain_figure("From the water up to the room", steps, ends))
    if record.below:
        down = [(same(words), r, d) for words, r, d in record.below]
        parts.append(_downward_figure(record, down))
    elif float(report.get("heat_flow_down_W") or 0.0) <= 0.0:
        parts.append(Text(same("No heat goes down, so there is no chain downwards."), "note"))
    return parts


def _downward_figure(record: RunRecord, down: list[tuple[Told, float, float]]) -> Any:
    water = record.report.get("water_mean_C")
    space = float(water or 0.0) - sum(d for *_, d in down)
    return chain_figure("From the water down", down, (_level("water, mean", water), _level("space below", space)))


def _level(words: str, celsius: Any) -> Told:
    return say("{} {}", words, told("surface_mean_C", celsius))


def _flow_table(report: Mapping[str, Any]) -> Table:
    """What comes in and what goes out, added up."""
    gives, takes = flows_of(report)
    area = float(report.get("floor_area_m2") or 0.0)
    rows: list[list[Told]] = []
    for name, flows in (("in", gives), ("out", takes)):
        rows += [[same(f.words), *_per_area(f.watts, area)] for f in flows]
        rows.append([same(f"all that goes {name}"), *_per_area(sum(f.watts for f in flows), area)])
    marked = [len(gives), len(rows) - 1]
    return Table(
        same("The heat flows, added up."), [same("Flow"), same("Heat"), same("Per area of floor")], rows, marked=marked
    )


def _per_area(watts: float, area: float) -> tuple[Told, Told]:
    return told("heat_flow_up_W", watts), told("heat_flux_up_W_m2", watts / area if area else None)


def _split(report: Mapping[str, Any]) -> list[Part]:
    """Radiation and air between what is warm and the subfloor."""
    radiant, air = report.get("radiant_share_percent"), report.get("convective_share_percent")
    if radiant is None or air is None:
        return []
    form = (
        "Of the heat that reaches the subfloor {} comes by radiation and {} by moving air; the rest comes through "
        "what touches it. How the floor's own heat parts into radiation and air in the room is not told where its "
        "standard law holds both in one."
    )
    return [Text(say(form, told("radiant_share_percent", radiant), told("radiant_share_percent", air)), "note")]


def _plain_chapters(record: RunRecord) -> list[Chapter]:
    """Blocks and air alone: a section in colours where there is one, else pictures that the folder holds."""
    parts: list[Part] = []
    fields = record.choice.fields
    if "temperature" in fields and not fields.attrs.get("dimensionless"):
        y = place_of_section(record.choice)
        parts = [build_up_figure(record.choice, y), warmth_figure(record.choice, y)]
    elif has_air(fields):
        seen = {name: same(what) + _air_ends(record.report) for name, what in _WHAT.items()}
        parts = [Picture(png, seen[name], seen[name]) for name, png in record.pictures.items() if name in seen]
    scaled = fields.attrs.get("dimensionless")
    facts = _first_numbers(record.report)
    short = [Chapter("answer", "In short", [*_of_air(record), Facts(facts)])] if facts else []
    note = "The numbers below are dimensionless: lengths in L, temperatures in ΔT." if scaled else ""
    shown = [*([Text(same(note), "note")] if note else []), *parts]
    return [*short, *([Chapter("section", "What was solved", shown)] if shown else [])]


def _of_air(record: RunRecord) -> list[Part]:
    """What a flow of air alone comes to, in sentences; a run of solids has none."""
    if record.case is None or not record.case.air_alone:
        return []
    case = cast("BlocksCase", record.case)  # of no other kind is air computed alone
    each = [air_answer(case, record.report, units) for units in ("si", "ip")]
    first, *others = [Told(*pair) for pair in zip(*each, strict=True)] or [same("")]
    return [*([Text(first, "answer")] if first else []), *map(Text, [*others, same(ending(record.report))])]


def _air_ends(report: Mapping[str, Any]) -> Told:
    """From where to where the air's temperature goes, where the report says so."""
    for unit in ("_C", ""):
        ends = [f"air_temperature_{end}{unit}" for end in ("lowest", "highest")]
        if all(key in report for key in ends):
            return say(" The air is between {} and {}.", *(told(key, report[key]) for key in ends))
    return same("")


_FIRST = ("heat_flow_", "nusselt_", "wall_temperature_", "probe_", "air_speed_highest")
"""How the numbers begin that blocks and air alone are mostly solved for."""
MOST_FACTS = 6


def _first_numbers(report: Mapping[str, Any]) -> list[tuple[Told, Told, Told]]:
    """Heat flows, Nusselt numbers, probes at large, without places and bands."""
    inner = ("_at_x", "_at_y", "_at_z", "_uncertainty", "_error", "_lowest", "_velocity_")
    numbers = {k: v for k, v in report.items() if isinstance(v, int | float) and not isinstance(v, bool)}
    keys = [k for start in _FIRST for k in numbers if k.startswith(start) and not any(part in k for part in inner)]
    keys = [k for k in keys if not (k.startswith("nusselt_") and k.endswith("_highest"))]
    return [(label_of(key), of_report(report, key), same("")) for key in keys[:MOST_FACTS]]


def foot_of(versions: Mapping[str, str], ask: str = chapters.ASK) -> Told:
    """What to mind, and what made the page."""
    return same(f"{ask} Made by joistbay {versions.get('joistbay', '')}.".replace(" .", "."))
