"""Going on with resolved air after an interruption: what a course holds, written every little while."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from sim.airflow.step import Stepper
from sim.bay.cells import Cells
from sim.machine.threads import single_threaded_blas
from sim.resolved.air import ResolvedAir, RoundListener
from sim.resolved.companion import beside_companion, companion_of, for_companion
from sim.resolved.course import Course
from sim.resolved.march import lay_out_starts, resolve_air
from sim.resolved.means import Evidence, Round
from sim.resolved.settings import MOST_STARTS, AirSettings
from sim.resolved.window import FieldMeans
from sim.solver.checkpoint_file import read_checkpoint_file, state_arrays, state_of, try_to_write, write_checkpoint_file
from sim.solver.steady import Solution, SteadyOptions
from sim.solver.system import System

EVERY = 10.0
"""Seconds between two checkpoints: a killed run loses hardly more than that and one round."""

_FIELDS = ("u", "v", "w", "temperature")
_STATE = "state_"


def resolve_with_checkpoint(
    system: System,
    cells: Cells,
    settings: AirSettings,
    path: Path | None = None,
    options: SteadyOptions | None = None,
    listener: RoundListener | None = None,
) -> tuple[Solution, ResolvedAir]:
    """`resolve_air` after its companion on larger cells, both kept up to date in files that a stopped run goes on from.

    The files belong to one case and mesh: the caller names them so, and removes them (`remove_checkpoints`) when the
    results are safe. One that does not fit is begun anew.
    """
    beside = None if path is None else _companion_file(path)
    first = for_companion(listener)
    coarser = companion_of(settings, lambda larger: _march(lay_out_starts(system, cells, larger), beside, None, first))
    solution, air = _march(lay_out_starts(system, cells, settings), path, options, listener)
    return solution, beside_companion(air, coarser, settings)


def remove_checkpoints(path: Path) -> None:
    """Remove what a run kept in a file and beside it: its results are safe."""
    for file in (*_files_of_starts(path, MOST_STARTS), _companion_file(path)):
        file.unlink(missing_ok=True)


def _companion_file(path: Path) -> Path:
    return path.with_suffix(".coarser.npz")


def _files_of_starts(path: Path, starts: int) -> list[Path]:
    """A file for each start of a flow, the first of the name given."""
    return [path, *(path.with_suffix(f".start-{number}.npz") for number in range(2, starts + 1))]


def _march(
    courses: Sequence[Course[Stepper]],
    path: Path | None,
    options: SteadyOptions | None,
    listener: RoundListener | None,
) -> tuple[Solution, ResolvedAir]:
    """Rounds from files when they are there, else from the start; the files are kept up to date.

    A run that is killed between two of them leaves one start behind, which comes up when it is taken up.
    """
    files = [] if path is None else list(zip(_files_of_starts(path, len(courses)), courses, strict=True))
    for file, course in files:
        read_course(file, course)
    written = monotonic()

    def keep() -> None:
        for file, course in files:
            try_to_write(partial(write_course, file, course), file)

    def heard(record: Round, evidence: Evidence, seconds: float) -> None:
        nonlocal written
        if monotonic() - written >= EVERY:
            keep()
            written = monotonic()
        if listener is not None:
            listener(record, evidence, seconds)

    one = courses[0]
    found = resolve_air(one.system, one.cells, one.settings, options=options, listener=heard, courses=courses)
    keep()
    return found


def write_course(path: Path, course: Course[Stepper]) -> None:
    """Write where the rounds stand; the file is complete or the one before."""
    arrays: dict[str, Any] = {f"flow_{n}": f for n, f in zip(_FIELDS, course.stepper.state, strict=True)}
    arrays |= {f"{_STATE}{name}": values for name, values in state_arrays(course.state).items()}
    arrays |= {"heat": course.heat, "wall": course.wall, "pressure": course.stepper.mean}
    if course.stepper.subgrid is not None:
        arrays["eddy"] = course.stepper.subgrid.viscosity
    arrays |= {f"frame_{n}_{part}": f for n, fields in enumerate(course.frames.fields) for part, f in enumerate(fields)}
    arrays |= {"round_heat": np.array([r.heat for r in course.rounds])}
    arrays |= {"round_wall": np.array([r.wall for r in course.rounds])}
    arrays |= {"round_surface": np.array([r.surface for r in course.rounds])}
    arrays |= {
        f"sum_{one}_{name}": total
        for one in (0, 1)
        for name, total in zip(_FIELDS, course.means.sums[one], strict=True)
    }
    words = {
        "time": course.stepper.time,
        "steps": course.stepper.steps,
        "begun": course.stepper.begun,
        "delivered": course.state.delivered,
        "begin": course.means.begin,
        "duration": course.means.duration,
        "frames": course.frames.times,
        "rounds": [[r.number, r.time, r.duration, r.steps, dict(r.flows)] for r in course.rounds],
    }
    write_checkpoint_file(path, words, arrays)


def read_course(path: Path, course: Course[Stepper]) -> bool:
    """Put a course where an earlier run stood; False, and the course untouched, when no file fits it."""
    try:
        words, found = read_checkpoint_file(path)
        _fits(found, course)
    except (ValueError, KeyError):
        return False
    _restore(found, words, course)
    return True


def _fits(found: dict[str, np.ndarray], course: Course[Stepper]) -> None:
    """Raise ValueError unless the file's arrays have the course's shapes."""
    expected = {f"flow_{n}": f for n, f in zip(_FIELDS, course.stepper.state, strict=True)}
    expected |= {"state_temperature": course.state.temperature, "wall": course.wall, "heat": course.heat}
    expected |= {"pressure": course.stepper.mean}
    if course.stepper.subgrid is not None:
        expected["eddy"] = course.stepper.subgrid.viscosity
    if any(found[name].shape != field.shape for name, field in expected.items()):
        raise ValueError("another mesh")


def _restore(found: dict[str, np.ndarray], words: Any, course: Course[Stepper]) -> None:
    """Fields, solids, rounds and means as they were."""
    stepper = course.stepper
    for name, field in zip(_FIELDS, stepper.state, strict=True):
        field[:] = found[f"flow_{name}"]
    stepper.time, stepper.steps = words["time"], words["steps"]
    if stepper.subgrid is not None:
        # the next step's length follows from what the last stage found
        stepper.subgrid.viscosity[:] = found["eddy"]
    course.frames.times[:] = words["frames"]
    numbers = range(len(words["frames"]))
    course.frames.fields[:] = [
        (found[f"frame_{n}_0"], found[f"frame_{n}_1"], found[f"frame_{n}_2"]) for n in numbers
    ]
    state = {name.removeprefix(_STATE): values for name, values in found.items() if name.startswith(_STATE)}
    course.state = replace(state_of(state), delivered=words["delivered"])
    course.heat, course.wall = found["heat"], found["wall"]
    course.rounds[:] = [
        Round(number, time, duration, steps, heat, wall, flows, surface)
        for (number, time, duration, steps, flows), heat, wall, surface in zip(
            words["rounds"], found["round_heat"], found["round_wall"], found["round_surface"], strict=True
        )
    ]
    sums = [[found[f"sum_{one}_{name}"] for name in _FIELDS] for one in (0, 1)]
    course.means = FieldMeans(list(words["begin"]), list(words["duration"]), sums)
    with single_threaded_blas():
        stepper.set_wall_temperature(course.contact.to_air(course.state.wall))
        stepper.refresh_level()
    # the next step begins with the last one's pressure
    stepper.mean[:], stepper.begun = found["pressure"], words["begun"]
