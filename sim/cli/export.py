"""`joistbay export`: write a run for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from sim.cli.errors import UsageError
from sim.cli.folders import no_folder, no_run
from sim.cli.progress import Progress

if TYPE_CHECKING:
    from sim.store.run_folder import StoredRun

ExportKind = Literal["vtu", "xdmf", "csv"]


def export(
    run: Path,
    /,
    *,
    to: ExportKind,
    at: Annotated[str | None, Parameter(show_default=False)] = None,
    out: Annotated[Path | None, Parameter(show_default=False)] = None,
    units: Literal["si", "ip"] = "si",
) -> int:
    """Write a run for other programs.

    Parameters
    ----------
    run
        A run folder, such as runs/kitchen-vinyl, or that of a warm-up with snapshots.
    to
        vtu or xdmf: solids with their temperatures, and computed air with temperature and velocity in a second file,
        for viewers; csv: the floor surface. Places are in m and temperatures in K, unless units asks for others.
    at
        Which snapshot of a warm-up, such as 2h.
    out
        File to write; beside the run folder when left out.
    units
        Of csv: places in m, temperatures in K and heat in W/m², or in, °F and Btu/(h·ft²).
    """
    from sim.results.export import FLOOR_HEADS, export_run
    from sim.store.target import check_place

    with Progress() as progress, _kept(run, at) as kept:
        progress.stage(f"writing {run.name} as {to}", quietly=True)
        target = out or run.resolve().with_name(f"{run.resolve().name}.{to}")
        check_place(target)
        if to == "csv" and "floor_temperature" not in kept.fields:
            raise UsageError(f"{run}: has no floor surface to write as csv; use --to vtu")
        if to != "csv" and units != "si":
            raise UsageError(f"--units {units}: {to} is written in m and K; leave --units out, or use --to csv")
        written = export_run(kept, target, to, units=units)
    holds = ", ".join(FLOOR_HEADS[units]) if to == "csv" else "lengths in m, temperatures in K"
    print(f"Wrote {_shown(written)}: {holds}")
    return 0


def _kept(folder: Path, at: str | None) -> StoredRun:
    """The run in a folder, or a warm-up's snapshot."""
    from sim.problems.save_warm_up import is_warm_up, read_snapshot
    from sim.store.run_folder import is_run, read_run

    if not folder.is_dir():
        raise UsageError(f"{folder}: {no_folder(folder, 'export')}")
    if is_warm_up(folder):
        return read_snapshot(folder, None if at is None else wanted_time(at, "--at"))
    if at is not None:
        raise UsageError(f"{folder}: is no warm-up, so it has no snapshots for --at")
    if not is_run(folder):
        raise UsageError(f"{folder}: {no_run(folder, 'export')}")
    return read_run(folder)


def wanted_time(text: str, option: str) -> float:
    """A time that was typed [s].

    Raises
    ------
    UsageError
        It is not a time.
    """
    from sim.case.quantities import UnitError, parse

    try:
        return parse(text, "time")
    except UnitError as error:
        raise UsageError(f'{option} got "{text}"; {error}; write times such as 2h or 30min') from error


def _shown(path: Path) -> Path:
    """A path as seen from here, if it lies below."""
    here = Path.cwd()
    return path.relative_to(here) if path.is_relative_to(here) else path
