"""Stored folders as the page tells them: runs with what rules say of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.load import AnyCase
    from sim.problems.save_warm_up import StoredWarmUp
    from viz.choice import Choice
    from viz.report.compare_page import ComparisonRecord
    from viz.report.record import RunRecord, Warned
    from viz.report.study_page import StudyRecord
    from viz.report.time_page import TimeRecord
    from viz.report.told import Told


def run_record(folder: Path, name: str = "") -> RunRecord:
    """A run folder as it is told.

    Raises
    ------
    StoreError : the folder is no run, or damaged.
    """
    from sim.store.read_check import KeptTable
    from sim.store.run_folder import REPORT_FILE, WRITTEN_FILE, read_run
    from sim.store.texts import text_of
    from viz.choice import Choice
    from viz.report.record import RunRecord

    with read_run(folder) as run:
        fields = run.loaded_fields()
    case = understood(run.case_text, folder.name)
    title = case.title if case is not None and case.title else str(fields.attrs.get("title", folder.name))
    values = KeptTable(folder / REPORT_FILE, {key: v for key, v in run.report.items() if v is not None})
    bay = case.joist_bay if case is not None else None
    return RunRecord(
        choice=Choice(name, fields, run.report, title),
        case=case,
        case_text=run.case_text,
        written=text_of(folder / WRITTEN_FILE),
        limits=held(bay, values) if bay else (),
        cautions=warned(bay, values) if bay else (),
        feet=underfoot(bay, values) if bay else (),
        ways=ways(bay, values) if bay else (),
        versions=run.versions,
        history=run.history,
        below=_downwards(bay, run.report, fields),
        pictures=_pictures(folder),
        stored=_case_of(folder),
    )


def _case_of(folder: Path) -> str:
    """The stored case as a command names it, from where this command was given; of a long path only its end."""
    from shlex import quote

    from sim.store.run_folder import CASE_FILE

    near = Path(folder.name) if folder.is_absolute() or ".." in folder.parts else folder
    return quote((near / CASE_FILE).as_posix())


def understood(text: str, name: str) -> AnyCase | None:
    """The case of a text; None where this version does not understand it any more."""
    from sim.case.errors import CaseError
    from sim.case.load import parse_case

    try:
        return parse_case(text, name)
    except CaseError:
        return None


def held(case: Case, values: Mapping[str, float]) -> list[dict[str, object]]:
    """Every limit of a bay beside its report, and how much of the way to it is used."""
    from sim.rules.limits import hold, limits_for

    return [verdict.as_dict() | {"used": verdict.used} for verdict in hold(limits_for(case), values)]


def warned(case: Case, values: Mapping[str, float]) -> list[Warned]:
    """The cautions of a bay in both unit systems."""
    from sim.results.spelling import spelled
    from sim.rules.cautions import bay_cautions
    from viz.report.record import Warned
    from viz.report.told import Told

    pairs = zip(bay_cautions(case, values, "si"), bay_cautions(case, values, "ip"), strict=True)
    return [
        Warned(si.subject, Told(si.text, spelled(ip.text, "ip")), si.source, si.broken, si.badness) for si, ip in pairs
    ]


def underfoot(case: Case, values: Mapping[str, float]) -> list[Told]:
    """What a foot feels, in both unit systems."""
    from sim.rules.foot import foot_lines
    from viz.report.told import Told

    return [Told(*pair) for pair in zip(foot_lines(case, values, "si"), foot_lines(case, values, "ip"), strict=True)]


def ways(case: Case, values: Mapping[str, float]) -> list[Told]:
    """What keeps the limits of a bay, or how far its water may rise, in both unit systems."""
    from sim.rules.limits import hold, limits_for
    from sim.rules.ways_out import ways_out
    from viz.report.told import Told

    verdicts = hold(limits_for(case), values)
    both = (ways_out(case, values, verdicts, units) for units in ("si", "ip"))
    return [Told(*pair) for pair in zip(*both, strict=True)]


def _downwards(case: Case | None, report: Mapping[str, Any], fields: Any) -> list[tuple[str, float, float]]:
    from sim.results.downwards import downward_chain

    return [] if case is None or case.below.temperature is None else downward_chain(
        report, fields, float(case.below.temperature)
    )


def _pictures(folder: Path) -> dict[str, bytes]:
    """Pictures that the folder holds, by name without ending."""
    from sim.store.run_folder import PICTURES_FOLDER

    return {path.stem: path.read_bytes() for path in sorted((folder / PICTURES_FOLDER).glob("*.png"))}


_COMPARED: Mapping[str, type | tuple[type]] = {
    "equal_water": (dict,), "equal_heat": (dict,), "shortfalls": dict, "failures": dict,
    "flux_compared_W_m2": float,
}  # fmt: skip
"""What comparison.json must hold where it holds it; the rest is looked at where it is used."""


def comparison_record(folder: Path) -> ComparisonRecord:
    """The folder of a comparison as it is told; choices without a run folder say why.

    Raises
    ------
    StoreError : the folder is no comparison, or damaged.
    """
    from sim.store.read_check import read_shaped
    from sim.store.run_folder import CASE_FILE, WRITTEN_FILE, read_versions
    from sim.store.texts import text_of
    from sim.study.save_comparison import COMPARISON_FILE
    from viz.report.compare_page import ComparedRecord, ComparisonRecord
    from viz.report.told import Told, same

    stated = read_versions(folder)
    told = read_shaped(folder / COMPARISON_FILE, _COMPARED)
    troubles = {**told.get("shortfalls", {}), **told.get("failures", {})}
    runs = {equal: _runs(folder, told, equal) for equal in ("water", "heat")}
    names = dict.fromkeys([*runs["water"], *runs["heat"]])
    of = {name: (runs["water"].get(name), runs["heat"].get(name)) for name in names}
    choices = [ComparedRecord(name, *pair, str(troubles.get(name, ""))) for name, pair in of.items()]
    text = text_of(folder / CASE_FILE)
    case = understood(text, str(told.get("case", folder.name)))
    answer = told.get("answer")
    said = Told(str(answer.get("si", "")), str(answer.get("ip", ""))) if isinstance(answer, dict) else same("")
    return ComparisonRecord(
        title=_title_of(told) or (case.title if case is not None else "") or str(told.get("case", folder.name)),
        choices=choices,
        case_text=text,
        written=text_of(folder / WRITTEN_FILE),
        answer=said,
        flux=told.get("flux_compared_W_m2"),
        versions=stated,
    )


_STUDIED: Mapping[str, type | tuple[type]] = {
    "numbers": dict, "inputs": dict, "ends": dict, "failures": dict, "air": (str,), "case": str,
}  # fmt: skip
"""What study.json must hold where it holds it."""


def study_record(folder: Path) -> StudyRecord:
    """The folder of a study as it is told; one of an earlier version has its inputs without their ends.

    Raises
    ------
    StoreError : the folder is damaged.
    """
    from sim.store.read_check import read_shaped
    from sim.store.run_folder import CASE_FILE, WRITTEN_FILE, read_versions
    from sim.store.texts import text_of
    from sim.study.save_study import STUDY_FILE
    from viz.report.study_page import StudyRecord

    stated, told, text = read_versions(folder), read_shaped(folder / STUDY_FILE, _STUDIED), text_of(folder / CASE_FILE)
    case = understood(text, str(told.get("case", folder.name)))
    return StudyRecord(
        title=(case.title if case is not None else "") or str(told.get("case", folder.name)),
        numbers=told.get("numbers", {}),
        ends={name: told.get("ends", {}).get(name, {}) for name in told.get("inputs", {})},
        air=told.get("air", ()),
        failures=told.get("failures", {}),
        is_bay=case is not None and case.joist_bay is not None,
        case_text=text,
        written=text_of(folder / WRITTEN_FILE),
        versions=stated,
    )


def _title_of(told: Mapping[str, Any]) -> str:
    """The names of all where whole cases were compared, which no one case's title speaks for; else nothing."""
    changes = told.get("changes")
    whole = isinstance(changes, dict) and len(changes) > 1 and not told.get("key") and not any(changes.values())
    return " beside ".join(changes) if whole and changes else ""


def _runs(folder: Path, told: Mapping[str, Any], equal: str) -> dict[str, RunRecord | None]:
    """Runs by the name of the choice, of one of the two comparisons; None where a choice has none."""
    rows = told.get(f"equal_{equal}", ())
    names = [str(row.get("choice", number)) for number, row in enumerate(rows, start=1)]
    return {name: _nth_run(folder / f"equal_{equal}", n, name) for n, name in enumerate(names, start=1)}


def _nth_run(folder: Path, number: int, name: str) -> RunRecord | None:
    """The run of a choice in the folder of one comparison; None where there is none."""
    found = sorted(folder.glob(f"{number}-*"))
    return run_record(found[0], name) if found else None


def time_record(folder: Path) -> TimeRecord:
    """The folder of warm-ups, or of one choice of them, as it is told.

    Raises
    ------
    StoreError : the folder is damaged.
    """
    from sim.problems.save_warm_up import CHOICES_FOLDER, SERIES_FILE, WARM_UP_FILE, StoredWarmUp
    from sim.store.run_folder import CASE_FILE, WRITTEN_FILE, StoreError, read_versions
    from sim.store.texts import text_of
    from viz.choice import Choice
    from viz.report.time_page import TimeRecord

    alone = (folder / SERIES_FILE).is_file()
    homes = [folder] if alone else sorted((folder / CHOICES_FOLDER).glob("*-*"), key=_number_of)
    if not homes:
        raise StoreError(f"{folder}: holds no warm-up")
    versions = read_versions(folder)
    names = [""] if alone else _names_of(folder / WARM_UP_FILE)
    names += [home.name for home in homes[len(names) :]]
    stored = [_intact_series(StoredWarmUp(name, home)) for name, home in zip(names, homes, strict=False)]
    several = len(homes) > 1
    shown = [Choice(w.name if several else "", w.series, w.report.as_dict(), "") for w in stored]
    text = text_of(folder / CASE_FILE)
    case = understood(text, folder.name)
    title = case.title if case is not None and case.title else str(shown[0].fields.attrs.get("title", folder.name))
    cases = [understood(text_of(home / CASE_FILE), home.name) for home in homes]
    lasts = [last_floor(choice, own) for choice, own in zip(shown, cases, strict=True)]
    last = [run for run in lasts if run is not None]
    pairs = zip(shown, cases, strict=True)
    warmest = [warmest_record(choice, bay) for choice, own in pairs if own is not None and (bay := own.joist_bay)]
    return TimeRecord(title, shown, text, text_of(folder / WRITTEN_FILE), last, warmest, versions)


def warmest_record(choice: Choice, case: Case) -> RunRecord:
    """A warm-up as limits and cautions see it: its numbers at their highest."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.rules.in_time import at_its_warmest
    from viz.report.record import RunRecord

    mean = float(choice.fields["surface_mean"].max()) - ZERO_CELSIUS
    values = at_its_warmest(case, choice.report, mean)
    return RunRecord(choice, case, "", limits=held(case, values), cautions=warned(case, values))


def last_floor(choice: Choice, case: AnyCase | None) -> RunRecord | None:
    """The floor of a warm-up at its end, as a run that has nothing but that."""
    from dataclasses import replace

    from sim.case.constants import ZERO_CELSIUS
    from viz.report.record import RunRecord

    bay = case.joist_bay if case is not None else None
    if "floor_temperature" not in choice.fields or bay is None:
        return None
    fields = choice.fields.isel(time=-1)
    values = {f"surface_{key}_C": float(fields[f"surface_{key}"]) - ZERO_CELSIUS for key in ("mean", "peak", "trough")}
    values["ripple_K"] = values["surface_peak_C"] - values["surface_trough_C"]
    shown = replace(choice, fields=fields, report=values)
    return RunRecord(shown, bay, "", limits=held(bay, values | _covering_seen(shown)))


def _covering_seen(choice: Choice) -> dict[str, float]:
    """The warmest spot of the floor where no rug lies on it [°C]; under a rug a march keeps nothing at its end."""
    from sim.case.constants import ZERO_CELSIUS
    from viz.choice import floor_plans
    from viz.floor_limits import under_a_rug

    (plan,) = floor_plans([choice])
    seen = plan.temperature[~under_a_rug(plan, plan.x, plan.y)]
    return {"covering_peak_C": float(seen.max()) - ZERO_CELSIUS} if seen.size else {}


def _intact_series(stored: StoredWarmUp) -> StoredWarmUp:
    """A warm-up whose files can be read."""
    from sim.store.read_check import DamagedError, intact
    from sim.store.run_folder import StoreError

    try:
        intact("series.nc", lambda: stored.series["surface_mean"].values)
    except DamagedError as error:
        raise StoreError(f"{stored.folder}: cannot be read ({error})") from None
    return stored


def _number_of(folder: Path) -> int:
    """The number that a choice's folder begins with."""
    text = folder.name.split("-")[0]
    return int(text) if text.isdecimal() else 0


def _names_of(file: Path) -> list[str]:
    """Names of the choices of warm-ups."""
    from sim.store.read_check import read_shaped

    return [str(choice.get("name", "")) for choice in read_shaped(file, {"choices": (dict,)}).get("choices", ())]
