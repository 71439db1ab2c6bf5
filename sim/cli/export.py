"""`joistbay export`: write a run for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from sim.cli.errors import UsageError

ExportKind = Literal["vtu", "xdmf", "csv"]


def export(run: Path, /, *, to: ExportKind, out: Annotated[Path | None, Parameter(show_default=False)] = None) -> int:
    """Write a run for other programs.

    Parameters
    ----------
    run
        A run folder, such as runs/kitchen-vinyl.
    to
        vtu or xdmf: solid cells with their temperatures, for viewers; csv: the floor surface.
    out
        File to write; beside the run folder when left out.
    """
    from sim.results.export import export_run
    from sim.results.store import read_run
    from sim.results.target import check_place

    with read_run(run) as kept:
        target = out or run.resolve().with_name(f"{run.resolve().name}.{to}")
        check_place(target)
        if to == "csv" and "floor_temperature" not in kept.fields:
            raise UsageError(f"{run}: has no floor surface to write as csv; use --to vtu")
        written = export_run(kept, target, to)
    print(f"Wrote {_shown(written)}")
    return 0


def _shown(path: Path) -> Path:
    """A path as seen from here, if it lies below."""
    here = Path.cwd()
    return path.relative_to(here) if path.is_relative_to(here) else path
