"""The pictures of computed air, drawn into its run folder: section, streamlines in three dimensions, movie."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.options import UnitChoice
from sim.cli.progress import Progress

if TYPE_CHECKING:
    from sim.store.run_folder import StoredRun
    from viz.choice import Choice

SECTION, STREAMS, MOVIE = "air_section.png", "air_streams.png", "air_start"
HISTORY = "air_history.png"


def draw_air(folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    """Draw the computed air of a run folder, alone or between solids; return the files.

    What the machine or the run cannot give is left out: streamlines of a two-dimensional flow, a movie without frames.
    """
    from sim.cli.pictures import picture_units
    from sim.store.run_folder import read_run
    from viz.choice import Choice

    system = picture_units(units, folder)
    with read_run(folder) as run:
        shown = Choice("", run.fields, run.report, str(run.fields.attrs.get("title", run.name)))
        files = [*_stills(shown, folder, system, progress), *_history(run, shown, progress)]
        return [*files, *_movie(run, shown.case, system, progress)]


def _stills(shown: Choice, folder: Path, system: Any, progress: Progress) -> list[Path]:
    """Section, and streamlines where the flow has three dimensions."""
    from sim.cli.pictures import draw_each
    from viz.air_section import draw_air_section
    from viz.air_streams import draw_air_streams

    wanted: dict[str, Callable[[], Any]] = {SECTION: lambda: draw_air_section(shown, units=system)}
    if shown.fields.sizes["air_y"] > 1:
        wanted[STREAMS] = lambda: draw_air_streams(shown, units=system)
    return draw_each(wanted, folder, progress)


def _history(run: StoredRun, shown: Choice, progress: Progress) -> list[Path]:
    """Nusselt numbers and kinetic energy in time, of air alone."""
    from sim.cli.pictures import draw_each
    from viz.air_history import draw_air_history

    if len(run.history) < 2 or "kinetic_energy" not in run.history[-1]:
        return []
    return draw_each({HISTORY: lambda: draw_air_history(shown, run.history)}, run.folder, progress)


def _movie(run: StoredRun, title: str, system: Any, progress: Progress) -> list[Path]:
    """The start of the flow, where pictures of it were kept."""
    from sim.cli.pictures import save_each
    from sim.results.air_fields import read_frames
    from viz.air_movie import save_air_movie
    from viz.choice import Choice

    frames = read_frames(run.folder)
    if frames is None or frames.sizes["time"] < 2:
        return []
    save = partial(save_air_movie, Choice("", frames, {}, title), units=system)
    return save_each({MOVIE: save}, run.folder, progress)
