"""The pictures of a run and of a comparison, drawn into their folders."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from sim.cli.options import UnitChoice

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.cli.progress import Progress
    from sim.problems.save_warm_up import StoredWarmUp
    from sim.results.people import Units
    from sim.results.stored import StoredResult
    from sim.run import Result
    from sim.study.compare import Comparison
    from sim.study.sampling import Study
    from viz.choice import Choice, FloorLimit



def draw_run(result: Result, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    """Draw floor map, profiles, section and cutaway of a bay, a section of blocks; return the files."""
    from sim.results.spacing_names import spacing_name
    from viz.cutaway import draw_cutaway
    from viz.floor_map import draw_floor_map
    from viz.profiles import draw_profiles
    from viz.section import draw_section

    system = picture_units(units, folder)
    bay = result.case.joist_bay
    if bay is None:
        section: dict[str, Callable[[], Any]] = {"section.png": lambda: draw_section(result, units=system)}
        return draw_each({} if result.air else section, folder, progress)
    plates = bay.plates
    shown = _picture_of(spacing_name(plates.spacing if plates else None, system), result)
    wanted: dict[str, Callable[[], Any]] = {
        "floor_map.png": lambda: draw_floor_map(shown, units=system),
        "profiles.png": lambda: draw_profiles([shown], units=system),
        "section.png": lambda: draw_section(shown, units=system),
        "cutaway.png": lambda: draw_cutaway(shown, units=system),
    }
    return draw_each(wanted, folder, progress)


PIECES = (("floor_maps",), ("profiles", "heat_bars"))
"""How the names of a comparison's pictures begin, in pieces of work that take about as long."""
ALL_KINDS = tuple(kind for kinds in PIECES for kind in kinds)


def draw_comparison(
    comparison: Comparison, folder: Path, units: UnitChoice, progress: Progress, kinds: tuple[str, ...] = ALL_KINDS
) -> list[Path]:
    """Draw floor maps and profiles of both comparisons and the heat bars, or some of these; return the files.

    All floor maps share one temperature scale.
    """
    from viz.bars import draw_bars
    from viz.choice import floor_plans
    from viz.floor_map import draw_floor_maps
    from viz.profiles import draw_profiles
    from viz.scales import shared_scale, window_of

    system, title = picture_units(units, folder), comparison.title
    sets: dict[str, list[Choice | None]] = {
        equal: [
            _picture_of(choice.named(equal), result) if (result := choice.result(equal)) else None
            for choice in comparison.choices
            if not choice.failure
        ]
        for equal in ("water", "heat")
    }
    if not comparison.equal_heat:
        sets["heat"] = []
    at_water, at_heat = ([shown for shown in shown_set if shown] for shown_set in sets.values())
    plans = [plan for shown in (at_water, at_heat) if shown for plan in floor_plans(shown)]
    if not plans:
        return []
    lines = shared_scale([plan.temperature for plan in plans], system)
    window = window_of([shown.room for shown in (*at_water, *at_heat)], system) or lines
    wanted: dict[str, Callable[[], Any]] = {}
    for equal, shown in (("water", at_water), ("heat", at_heat)):
        head = f"{title}: {_headline(comparison, equal, system)}"
        for number, some in _sheets(shown, MAPS_A_SHEET):
            style = {"title": head + number.words, "units": system, "scale": window}
            wanted[f"floor_maps_equal_{equal}{number.mark}.png"] = _drawing(draw_floor_maps, some, **style)
        for number, some in _sheets(shown, LINES_A_SHEET):
            style = {"title": head + number.words, "units": system, "scale": lines}
            wanted[f"profiles_equal_{equal}{number.mark}.png"] = _drawing(draw_profiles, some, **style)
    needed = _needed(comparison, sets["heat"])
    wanted["heat_bars.png"] = lambda: draw_bars(at_water, needed, title=title, units=system)
    return draw_each({name: draw for name, draw in wanted.items() if name.startswith(kinds)}, folder, progress)


def _needed(comparison: Comparison, at_heat: Sequence[Choice | None]) -> list[Choice | None]:
    """What each choice is at equal heat; one that differs from an earlier one in its water alone is that one."""
    names = [choice.name for choice in comparison.choices if not choice.failure]
    own = dict(zip(names, at_heat, strict=False))
    return [own.get(c.asked.twin or c.name) for c in comparison.choices if not c.failure] if at_heat else []


MAPS_A_SHEET, LINES_A_SHEET = 12, 7
"""Choices in one picture of maps and of profiles; more of them go into further pictures on the same scale."""


class _Sheet(NamedTuple):
    """What a picture that shows some of the choices adds to its file's name and to its title."""

    mark: str
    words: str


def _sheets(shown: Sequence[Choice], most: int) -> list[tuple[_Sheet, Sequence[Choice]]]:
    """Choices in pictures of about as many each."""
    count = -(-len(shown) // most)
    if count <= 1:
        return [(_Sheet("", ""), shown)] if shown else []
    ends = [round(k * len(shown) / count) for k in range(count + 1)]
    return [
        (_Sheet(f"_{k}" if k > 1 else "", f" (choices {start + 1} to {end} of {len(shown)})"), shown[start:end])
        for k, (start, end) in enumerate(pairwise(ends), start=1)
    ]


def draw_study(study: Study, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    """Draw what the inputs of a study do to each of its results; return the files."""
    from viz.tornado import draw_tornado

    system = picture_units(units, folder)
    wanted = {
        f"tornado_{key}.png": _drawing(draw_tornado, _tornado_of(study, key), units=system) for key in study.apart
    }
    return draw_each(wanted, folder, progress)


def draw_warm_ups(
    case: Case, choices: Sequence[StoredWarmUp], folder: Path, units: UnitChoice, progress: Progress
) -> list[Path]:
    """Draw warm-ups over time, sections through one at its snapshots, the movie of the floors; return the files."""
    from viz.choice import Choice
    from viz.floor_movie import save_floor_movie
    from viz.time_series import draw_time_series

    system, title, alone = picture_units(units, folder), case.title or case.name, len(choices) == 1
    shown = [Choice("" if alone else c.name, c.series, c.report.as_dict(), title, _limits_in_time(c)) for c in choices]
    wanted = {"time_series.png": _drawing(draw_time_series, shown, units=system)}
    files = draw_each(wanted | (_sections(shown[0], system) if alone else {}), folder, progress)
    return [*files, *save_each({"floor_movie": partial(save_floor_movie, shown, units=system)}, folder, progress)]


def _limits_in_time(followed: StoredWarmUp) -> tuple[FloorLimit, ...]:
    """Limits of the floor's surface, against the warmest that it ever was; of blocks none."""
    from sim.cli.report_records import held, understood
    from sim.rules.in_time import at_its_warmest
    from sim.store.run_folder import CASE_FILE
    from sim.store.texts import text_of
    from viz.floor_limits import floor_limits

    case = understood(text_of(followed.folder / CASE_FILE), followed.name)
    if case is None or (bay := case.joist_bay) is None:
        return ()
    return floor_limits(held(bay, at_its_warmest(bay, followed.report.values, 0.0)))


MOST_SECTIONS = 12
"""Snapshots of which a section is drawn; the others are only kept."""


def _sections(shown: Choice, system: Any) -> dict[str, Callable[[], Any]]:
    """A section through the bay at each of the first snapshots."""
    from sim.results.snapshots import fields_at, snapshot_times
    from viz.section import draw_section

    wanted = {}
    for time in snapshot_times(shown.fields)[:MOST_SECTIONS]:
        then = replace(shown, fields=fields_at(shown.fields, time))
        title = f"{shown.case}: after {time / 3600.0:.2f} h"
        wanted[f"section_{time / 3600.0:.4g}h.png"] = _drawing(draw_section, then, title=title, units=system)
    return wanted


def _tornado_of(study: Study, key: str) -> Any:
    """One result of a study, as its picture wants it."""
    from viz.tornado import Bar, Tornado

    bars = [
        Bar(
            each.input.key,
            each.input.dimension,
            each.input.low,
            each.input.high,
            each.at_low,
            each.at_high,
            each.coefficient,
        )
        for each in study.influences(key)
    ]
    found = study.interval(key)
    return Tornado(
        case=study.case.title or study.case.name,
        key=key,
        usual=study.usual.get(key),
        bars=tuple(bars),
        results=study.results(key),
        interval=(found.low, found.median, found.high),
        determination=study.determination(key),
    )


def _drawing(draw: Callable[..., Any], shown: Any, **style: Any) -> Callable[[], Any]:
    return lambda: draw(shown, **style)


def _headline(comparison: Comparison, equal: str, system: Any) -> str:
    from sim.case.constants import ZERO_CELSIUS
    from sim.results.people import format_value

    if equal == "water" and not comparison.equal_water:
        return "each with its own water"
    if equal == "water":
        supply = comparison.case.water.supply - ZERO_CELSIUS
        return f"equal water, {format_value('water_supply_C', supply, system)}"
    return f"equal heat, {format_value('heat_flux_up_W_m2', comparison.flux, system)} upwards"


def _picture_of(name: str, result: Result | StoredResult) -> Choice:
    from sim.cli.report_records import held
    from viz.choice import Choice
    from viz.floor_limits import floor_limits

    case = result.case
    limits = floor_limits(held(bay, result.report.values)) if (bay := case.joist_bay) is not None else ()
    return Choice(name, result.fields, result.report.as_dict(), case.title or case.name, limits)


def picture_units(units: UnitChoice, folder: Path) -> Units:
    """Pictures speak one unit system: the one that is wanted, else that of the case file, kept beside the results."""
    from sim.results.notation_used import units_written
    from sim.store.run_folder import WRITTEN_FILE
    from sim.store.texts import text_of

    return units_written(text_of(folder / WRITTEN_FILE)) if units == "both" else units


def draw_each(wanted: dict[str, Callable[[], object]], folder: Path, progress: Progress) -> list[Path]:
    """Draw and save each picture; what the machine cannot draw or the disk not take is left out, and named."""
    from viz.layout import save_picture

    def saver(draw: Callable[[], Any]) -> Callable[[Path], Path]:
        return lambda path: save_picture(draw(), path)

    return save_each({name: saver(draw) for name, draw in wanted.items()}, folder, progress)


def save_each(wanted: dict[str, Callable[[Path], Path]], folder: Path, progress: Progress) -> list[Path]:
    """The same for what draws into a file itself, as a movie."""
    from sim.store.run_folder import PICTURES_FOLDER

    files = []
    for name, save in wanted.items():
        progress.stage(f"drawing {name}")
        with _left_out_where_it_fails(folder / PICTURES_FOLDER / name, progress):
            files.append(save(folder / PICTURES_FOLDER / name))
    return files


@contextmanager
def _left_out_where_it_fails(path: Path, progress: Progress) -> Iterator[None]:
    """Around a picture that the machine may not draw or the disk not take: say so and go on, without half of it."""
    from viz.scene import DisplayError

    try:
        yield
    except (DisplayError, OSError) as error:
        progress.note(f"{path.name} was left out: {getattr(error, 'strerror', None) or error}")
        for half in path.parent.glob(f"{path.name}*"):  # a movie chooses its own ending
            with suppress(OSError):
                half.unlink()
