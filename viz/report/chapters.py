"""Chapters that pages of runs share: limits, cautions, numbers, what is uncertain, inputs, how it was computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sim.results.air_covered import NOTHING as NOTHING_OPEN
from sim.results.air_covered import covered_alone, covered_among_solids
from sim.results.air_words import correlations_words, limits_of_computed, place_words
from sim.results.people import BAND, MESH, SCATTER, format_uncertain, report_rows
from sim.results.spelling import spelled
from viz.report.answer import SYSTEMS, against, margin_of
from viz.report.parts import Bullets, Chapter, Listing, Part, Table, Text
from viz.report.record import RunRecord, Warned
from viz.report.told import NOTHING, Told, cited, named, of_report, same, say, told, verbatim

ASK = (
    "A design aid, not an approval. Hot water scalds; floors, flooring and wood have temperature limits; boring, "
    "wiring and pressure tests follow local codes and a licensed professional. Check the local code."
)
"""Stands under every page."""

MODEL = "A model of what its inputs state, not a design; what its numbers leave open stands under How sure this is."
"""Stands under the page of blocks and of air alone, which have no hot water and no floor that anybody lays."""

_STUDY = "Not in any ±. {} tells what uncertain inputs do to each result."

_RUN = "Run"
"""Group of report lines about the computation itself."""


def limits_chapter(limits: Sequence[Mapping[str, Any]], report: Mapping[str, Any], note: str = "") -> Chapter:
    """Every limit with what was found, what is left and who says so."""
    heads = [same(text) for text in ("Limit", "Found", "At most", "To spare", "Kept?", "Source")]
    rows = [_limit_row(limit, report) for limit in limits]
    broken = [number for number, limit in enumerate(limits) if not limit["kept"]]
    caption = same("Limits, each with what is left. A limit that is met exactly is kept.")
    parts: list[Part] = [Table(caption, heads, rows, words=(4, 5), marked=broken)] if rows else [
        Text(same("None apply."))
    ]
    return Chapter("limits", "Limits and what is left", [*([Text(same(note), "note")] if note else []), *parts])


def _limit_row(limit: Mapping[str, Any], report: Mapping[str, Any]) -> list[Told]:
    values = against(limit, report)
    kept = "kept" if limit["kept"] else "BROKEN"
    return [same(limit["what"]), *values, margin_of(limit), same(kept), cited(limit["source"])]


def limit_rows(runs: Sequence[RunRecord]) -> list[list[Told]]:
    """What is left of every limit, a column a run."""
    whats: dict[tuple[str, str, float], None] = {}
    for run in runs:
        whats |= {(str(x["what"]), str(x["key"]), float(x["highest"])): None for x in run.limits}
    rows = []
    for what, key, highest in whats:
        cells = [_left(run, what, highest) for run in runs]
        rows.append([same(what), told(key, highest), *cells])
    return rows


def _left(run: RunRecord, what: str, highest: float) -> Told:
    limit = next((x for x in run.limits if x["what"] == what and float(x["highest"]) == highest), None)
    if limit is None:
        return same(NOTHING)
    return margin_of(limit) if limit["kept"] else say("BROKEN by {}", _without_sign(margin_of(limit)))


def _without_sign(told_: Told) -> Told:
    return Told(told_.si.lstrip("−"), told_.ip.lstrip("−"))


def together(whose: Sequence[tuple[str, Sequence[Warned]]]) -> list[Warned]:
    """Every subject once where it is worst, broken rules first, with the choices that it is for unless all say it."""
    held: dict[str, list[tuple[str, Warned]]] = {}
    for name, cautions in whose:
        for caution in cautions:
            held.setdefault(caution.subject, []).append((name, caution))
    found = [_worst(pairs, len(whose)) for pairs in held.values()]
    return sorted(found, key=lambda caution: not caution.broken)


def _worst(pairs: Sequence[tuple[str, Warned]], everybody: int) -> Warned:
    """The caution of one subject where it is worst; it names that choice, and those that have it less."""
    name, worst = max(pairs, key=lambda pair: (pair[1].broken, pair[1].badness))
    others = [other for other, _ in pairs if other != name]
    if len({caution.text for _, caution in pairs}) == 1:
        whose = "" if len(pairs) == everybody else ", ".join(other for other, _ in pairs)
    else:
        whose = f"{name}; less: {', '.join(others)}"
    return replace(worst, subject=f"{worst.subject} ({whose})") if whose else worst


def cautions_chapter(cautions: Sequence[Warned]) -> Chapter:
    """What to mind, in full."""
    heads = [same(f"{'Broken: ' if c.broken else ''}{c.subject}.") for c in cautions]
    items = [(head, c.text + cited(f" [{c.source}]")) for head, c in zip(heads, cautions, strict=True)]
    return Chapter("cautions", "What to mind", [*([Bullets(items)] if items else []), Text(same(ASK), "note")])


def numbers_chapter(report: Mapping[str, Any]) -> Chapter:
    """Every number of the report by groups, but those about the computation."""
    rows = _grouped(report, lambda group: group != _RUN)
    table = Table(same("Every number of the report."), [same("Quantity"), same("Value")], rows)
    return Chapter("numbers", "All numbers", [table], folded=True)


def _grouped(report: Mapping[str, Any], wanted: Any) -> list[list[Told]]:
    """Report lines with a heading for each group."""
    pairs = list(zip(report_rows(report, "si"), report_rows(report, "ip"), strict=True))
    rows: list[list[Told]] = []
    group = None
    for si, ip in pairs:
        if not wanted(si.group):
            continue
        if si.group != group:
            group = si.group
            rows.append([same(group)])
        label = Told(si.label, spelled(ip.label, "ip"))
        rows.append([label, Told(*(row.text.replace("-", "−") for row in (si, ip)))])
    return rows


def uncertainty_chapter(record: RunRecord) -> Chapter:
    """Of the numbers, of the air's model, of the inputs: what is stated, and what is left out."""
    items = [
        (same("Of the numbers."), _of_air_alone(record) if record.air_alone else _of_numbers(record)),
        (same("Of the air's model."), _of_air(record)),
        (same("Of the inputs."), say(_STUDY, _command("study", record))),
    ]
    if record.bay is not None:
        left = "Not modelled: gaps, missing insulation and loose plates are not in any number of this page."
        items.append((same("Of the work on site."), same(left)))
    return Chapter("uncertainty", "How sure this is", [Bullets(items), *_bands(record.report)])


def _command(work: str, record: RunRecord, option: str = "") -> Told:
    """A command as it is typed for this very case."""
    return verbatim(" ".join(filter(None, ["joistbay", work, record.stored or "CASE", option])))


def _of_air_alone(record: RunRecord) -> Told:
    """Nothing but the air: no rays were traced, and there is no --uncertainty for it."""
    if not any(key.endswith(BAND) for key in record.report):
        return same("Not known: another run with smaller air.cell and air.wall_cell tells what the mesh does.")
    return same(" ".join(covered_alone(record.report)))


def _states_cells(record: RunRecord) -> bool:
    """Whether the case states the cells of its air."""
    return record.case is not None and (record.case.air.cell is not None or record.case.air.wall_cell is not None)


def _of_numbers(record: RunRecord) -> Told:
    report = record.report
    if not any(key.endswith(BAND) for key in report):
        form = "Not asked for. {} solves on three meshes and puts ± on the main numbers."
        return say(form, _command("run", record, "--uncertainty"))
    if any(key.endswith(SCATTER) for key in report):
        return same(" ".join(covered_among_solids(record.report, _states_cells(record))))
    return same(
        "± on the main numbers comes from three meshes (grid convergence index), the scatter of traced rays and what "
        "the laws of films leave open."
    )


def _of_air(record: RunRecord) -> Told:
    report = record.report
    if record.air_alone:
        return same("The flow was computed and nothing else; what its mesh leaves open is in ± below.")
    if "air_band_up_percent" in report:
        up, ripple = (told(f"air_band_{key}_percent", report[f"air_band_{key}_percent"]) for key in ("up", "ripple"))
        return say(
            "Learned films: heat up within ± {}, ripple within ± {} in 19 of 20 such bays that did not teach them{}. "
            "{} computes this bay's own air.",
            up,
            ripple,
            f"; this bay lies {place_words([report['air_nearer_percent']])}" if "air_nearer_percent" in report else "",
            _command("run", record, "--air resolved"),
        )
    if "air_error_percent" in report:
        error = told("air_error_percent", report["air_error_percent"])
        longest = record.case.air.longest if record.case else None
        return say(
            "The flow was computed; its mean heat flows have a standard error of {}. Finer eddies are modelled.{}",
            error,
            "".join(f" {limit}" for limit in limits_of_computed(report, longest)),
        )
    if "cavity_air_C" in report:
        law = correlations_words([record.bay]) if record.bay is not None else ""
        return same(f"No ± is known: {law or 'films follow correlations, which state no error of their own'}.")
    return same("There is no cavity air in it, or air that only conducts.")


_SHARES = {SCATTER: ("From chance", 2.0), MESH: ("From the mesh", 1.0)}
"""Parts of a band, the head of their column, and by how much their numbers make a half width."""


def _bands(report: Mapping[str, Any]) -> list[Table]:
    """The numbers that carry a band, and its parts where they are known."""
    found = [key.removesuffix(BAND) for key in report if key.endswith(BAND)]
    if not found:
        return []
    shares = [part for part in _SHARES if any(key + part in report for key in found)]
    heads = ["Quantity", "Value", *(_SHARES[part][0] for part in shares)]
    rows = [[named(key), of_report(report, key), *(_share(report, key, part) for part in shares)] for key in found]
    told_of = same("The numbers that carry a band; half widths, which add up as squares.")
    return [Table(told_of, [same(head) for head in heads], rows)]


def _share(report: Mapping[str, Any], key: str, part: str) -> Told:
    """A part of a band with its two digits; one that is rounding is none."""
    value, share = report.get(key), report.get(key + part)
    if value is None or share is None:
        return told(key, None)
    if share < NOTHING_OPEN:
        return same("none")
    widths = (format_uncertain(key, value, _SHARES[part][1] * share, units) for units in SYSTEMS)
    return Told(*(width.partition("± ")[2] or "none" for width in widths))


def inputs_chapter(record: RunRecord) -> Chapter:
    """The case as it was written and as it was understood."""
    parts: list[Part] = []
    if record.written:
        parts.append(Listing(same("As written"), record.written))
    else:
        parts.append(Text(same("The case file as its author wrote it is not in this folder."), "note"))
    parts.append(Listing(same("As understood: every key with its value and unit"), record.case_text))
    return Chapter("inputs", "Inputs", parts, folded=True)


def computed_chapter(record: RunRecord) -> Chapter:
    """Mesh, audit, versions."""
    fields = record.choice.fields
    rows = [[same(label), same(text)] for label, text in _mesh_rows(fields)]
    rows += [row for row in _grouped(record.report, lambda group: group == _RUN) if len(row) > 1]
    table = Table(same("Mesh and audit."), [same("What"), same("Value")], rows)
    seen = ("joistbay", "python", "numpy", "scipy", "numba")
    versions = [[same(name), same(record.versions[name])] for name in seen if name in record.versions]
    made = Table(same("Made with."), [same("Program"), same("Version")], versions)
    audit = same(
        "Every watt is followed: what goes in less what leaves by every path, over what goes in, stands below."
        if "audit_residual" in record.report
        else "How the flow ended: how far it still changes and how well its heat balances."
    )
    parts: list[Part] = [Text(audit, "note"), table, *([made] if versions else [])]
    return Chapter("computed", "How it was computed", parts, folded=True)


def _mesh_rows(fields: Any) -> list[tuple[str, str]]:
    found = []
    for prefix, words in (("", "cells of the bay"), ("air_", "cells of the air's flow")):
        if f"{prefix}x_edge" in fields:
            sizes = [fields.sizes[f"{prefix}{axis}"] for axis in "xyz"]
            found.append((f"{words}, across × along × up", " × ".join(f"{size}" for size in sizes)))
    return found
