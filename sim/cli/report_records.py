"""Stored folders as the page tells them: runs with what rules say of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.load import AnyCase
    from viz.report.record import RunRecord, Warned


def run_record(folder: Path, name: str = "") -> RunRecord:
    """A run folder as it is told.

    Raises
    ------
    StoreError : the folder is no run, or damaged.
    """
    from sim.case.bay_case import Case
    from sim.store.run_folder import WRITTEN_FILE, read_run
    from viz.choice import Choice
    from viz.report.record import RunRecord

    with read_run(folder) as run:
        fields = run.fields.load()
    case = understood(run.case_text, folder.name)
    title = case.title if case is not None and case.title else str(fields.attrs.get("title", folder.name))
    values = {key: value for key, value in run.report.items() if value is not None}
    bay = case if isinstance(case, Case) else None
    return RunRecord(
        choice=Choice(name, fields, run.report, title),
        case=case,
        case_text=run.case_text,
        written=text_of(folder / WRITTEN_FILE),
        limits=held(bay, values) if bay else (),
        cautions=warned(bay, values) if bay else (),
        versions=run.versions,
        history=run.history,
        below=_downwards(bay, run.report, fields),
        pictures=_pictures(folder),
    )


def understood(text: str, name: str) -> AnyCase | None:
    """The case of a text; None where this version does not understand it any more."""
    from sim.case.errors import CaseError
    from sim.case.load import parse_case

    try:
        return parse_case(text, name)
    except CaseError:
        return None


def held(case: Case, values: Mapping[str, float]) -> list[dict[str, Any]]:
    """Every limit of a bay beside its report."""
    from sim.rules.limits import hold, limits_for

    return [verdict.as_dict() for verdict in hold(limits_for(case), values)]


def warned(case: Case, values: Mapping[str, float]) -> list[Warned]:
    """The cautions of a bay in both unit systems."""
    from sim.rules.cautions import bay_cautions
    from viz.report.record import Warned
    from viz.report.told import Told

    pairs = zip(bay_cautions(case, values, "si"), bay_cautions(case, values, "ip"), strict=True)
    return [Warned(si.subject, Told(si.text, ip.text), si.source, si.broken) for si, ip in pairs]


def text_of(path: Path) -> str:
    """The text of a file; empty where there is none that can be read."""
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return ""


def _downwards(case: Case | None, report: Mapping[str, Any], fields: Any) -> list[tuple[str, float, float]]:
    from sim.results.downwards import downward_chain

    return [] if case is None or case.below.temperature is None else downward_chain(report, fields, float(case.below.temperature))


def _pictures(folder: Path) -> dict[str, bytes]:
    """Pictures that the folder holds, by name without ending."""
    from sim.store.run_folder import PICTURES_FOLDER

    return {path.stem: path.read_bytes() for path in sorted((folder / PICTURES_FOLDER).glob("*.png"))}
