"""Going on with resolved air after an interruption: what a bench holds, written every little while."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from sim.airflow.threads import single_threaded_blas
from sim.bay.cells import Cells
from sim.resolved.companion import companion_of
from sim.resolved.march import Bench, ResolvedAir, RoundListener, lay_out, resolve_air
from sim.resolved.means import Evidence, Round
from sim.resolved.settings import AirSettings
from sim.resolved.window import FieldMeans
from sim.solve.checkpoint_file import read_checkpoint_file, state_arrays, state_of, try_to_write, write_checkpoint_file
from sim.solve.steady import Solution, SteadyOptions
from sim.solve.system import System

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
    coarser = companion_of(settings, lambda larger: _march(lay_out(system, cells, larger), beside, None, listener))
    solution, air = _march(lay_out(system, cells, settings), path, options, listener)
    return solution, replace(air, coarser=coarser)


def remove_checkpoints(path: Path) -> None:
    """Remove what a run kept in a file and beside it: its results are safe."""
    for file in (path, _companion_file(path)):
        file.unlink(missing_ok=True)


def _companion_file(path: Path) -> Path:
    return path.with_suffix(".coarser.npz")


def _march(
    bench: Bench, path: Path | None, options: SteadyOptions | None, listener: RoundListener | None
) -> tuple[Solution, ResolvedAir]:
    """Rounds from a file when it is there, else from the start; the file is kept up to date."""
    if path is not None:
        read_bench(path, bench)
    written = monotonic()

    def heard(record: Round, evidence: Evidence, seconds: float) -> None:
        nonlocal written
        if path is not None and monotonic() - written >= EVERY:
            try_to_write(partial(write_bench, path, bench), path)
            written = monotonic()
        if listener is not None:
            listener(record, evidence, seconds)

    found = resolve_air(bench.system, bench.cells, bench.settings, options=options, listener=heard, bench=bench)
    if path is not None:
        try_to_write(partial(write_bench, path, bench), path)
    return found


def write_bench(path: Path, bench: Bench) -> None:
    """Write where the rounds stand; the file is complete or the one before."""
    arrays: dict[str, Any] = {f"flow_{n}": f for n, f in zip(_FIELDS, bench.stepper.state, strict=True)}
    arrays |= {f"{_STATE}{name}": values for name, values in state_arrays(bench.state).items()}
    arrays |= {"heat": bench.heat, "wall": bench.wall}
    if bench.stepper.subgrid is not None:
        arrays["eddy"] = bench.stepper.subgrid.viscosity
    arrays |= {f"frame_{n}_{part}": f for n, fields in enumerate(bench.frames.fields) for part, f in enumerate(fields)}
    arrays |= {"round_heat": np.array([r.heat for r in bench.rounds])}
    arrays |= {"round_wall": np.array([r.wall for r in bench.rounds])}
    arrays |= {
        f"sum_{one}_{name}": total
        for one in (0, 1)
        for name, total in zip(_FIELDS, bench.means.sums[one], strict=True)
    }
    words = {
        "time": bench.stepper.time,
        "steps": bench.stepper.steps,
        "delivered": bench.state.delivered,
        "begin": bench.means.begin,
        "duration": bench.means.duration,
        "frames": bench.frames.times,
        "rounds": [[r.number, r.time, r.duration, r.steps, dict(r.flows)] for r in bench.rounds],
    }
    write_checkpoint_file(path, words, arrays)


def read_bench(path: Path, bench: Bench) -> bool:
    """Put a bench where an earlier run stood; False, and the bench untouched, when no file fits it."""
    try:
        words, found = read_checkpoint_file(path)
        _fits(found, bench)
    except (ValueError, KeyError):
        return False
    _restore(found, words, bench)
    return True


def _fits(found: dict[str, Any], bench: Bench) -> None:
    """Raise ValueError unless the file's arrays have the bench's shapes."""
    expected = {f"flow_{n}": f for n, f in zip(_FIELDS, bench.stepper.state, strict=True)}
    expected |= {"state_temperature": bench.state.temperature, "wall": bench.wall, "heat": bench.heat}
    if bench.stepper.subgrid is not None:
        expected["eddy"] = bench.stepper.subgrid.viscosity
    if any(found[name].shape != field.shape for name, field in expected.items()):
        raise ValueError("another mesh")


def _restore(found: dict[str, Any], words: dict[str, Any], bench: Bench) -> None:
    """Fields, solids, rounds and means as they were."""
    stepper = bench.stepper
    for name, field in zip(_FIELDS, stepper.state, strict=True):
        field[:] = found[f"flow_{name}"]
    stepper.time, stepper.steps = words["time"], words["steps"]
    if stepper.subgrid is not None:
        # the next step's length follows from what the last stage found
        stepper.subgrid.viscosity[:] = found["eddy"]
    bench.frames.times[:] = words["frames"]
    numbers = range(len(words["frames"]))
    bench.frames.fields[:] = [tuple(found[f"frame_{n}_{part}"] for part in range(3)) for n in numbers]
    state = {name.removeprefix(_STATE): values for name, values in found.items() if name.startswith(_STATE)}
    bench.state = replace(state_of(state), delivered=words["delivered"])
    bench.heat, bench.wall = found["heat"], found["wall"]
    bench.rounds[:] = [
        Round(number, time, duration, steps, heat, wall, flows)
        for (number, time, duration, steps, flows), heat, wall in zip(
            words["rounds"], found["round_heat"], found["round_wall"], strict=True
        )
    ]
    sums = [[found[f"sum_{one}_{name}"] for name in _FIELDS] for one in (0, 1)]
    bench.means = FieldMeans(list(words["begin"]), list(words["duration"]), sums)
    with single_threaded_blas():
        stepper.set_wall_temperature(bench.contact.to_air(bench.state.wall))
        stepper.refresh_level()
