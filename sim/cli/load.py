"""Read the case that a command was given."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError, modelled, say_error
from sim.cli.options import FinenessWord

if TYPE_CHECKING:
    from sim.case.bay_case import Case


def load(path: Path, fineness: FinenessWord | None = None) -> Any:
    """The case of a file, with another mesh fineness where one is asked for."""
    from sim.case.load import load_case

    case = load_case(path)
    say_unused(path, case)
    say_beyond(path, case)
    if fineness is None:
        return case
    return case.model_copy(update={"mesh": case.mesh.model_copy(update={"fineness": fineness})})


def is_house(path: Path) -> bool:
    """Whether a file says that it is a house; what cannot be read is left to its reader's own message."""
    import tomllib

    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return data.get("kind") == "house" or ("kind" not in data and "manifold" in data)


def say_unused(path: Path, case: Any) -> None:
    """One line on stderr for keys that nothing in the case reads but that may stay for comparisons."""
    from sim.case.unused import kept_unused

    keys: dict[str, list[str]] = {}
    for problem in kept_unused(case):
        keys.setdefault(problem.rule.removesuffix(" reads it"), []).append(problem.key)
    if keys:
        said = {rule: f"reads {'it' if len(names) == 1 else 'them'}" for rule, names in keys.items()}
        parts = (f"{', '.join(names)} ({rule} {said[rule]})" for rule, names in keys.items())
        say_error(f"{path}: not used here: {'; '.join(parts)}")


def say_beyond(path: Path, case: Any) -> None:
    """One line on stderr for a bay that lies outside what the learned films were taught."""
    from sim.case.taught import beyond_taught

    if case.kind == "bay" and (outside := beyond_taught(case)):
        way = 'the air follows correlations, below hung plates with 5 to 12 % too little heat up; '
        way += 'air.model = "resolved" computes it'
        say_error(f"{path}: outside what the films learned: {'; '.join(outside)}: {way}")


def load_bay(path: Path, fineness: FinenessWord | None = None) -> Case:
    """The same for a command that works on joist bays only."""
    return only_bay(path, load(path, fineness))


def only_bay(path: Path, case: Any) -> Case:
    """The case, where it is that of a joist bay."""
    if case.kind != "bay":
        raise UsageError(f'{path}: is a case of kind "{case.kind}"; this command is for joist bays')
    return case  # type: ignore[no-any-return]


MOST_CELLS = 16_000_000
"""Cells above which a mesh is taken for a mistake: twice the size for which the solver is built."""


def check_size(case: Any, finer: int = 1) -> None:
    """Refuse a case whose geometry cannot be built, or whose mesh, `finer` times as fine, would be absurdly large.

    Films taught by another run must be there as well.
    """
    from sim.bay.grid import build_grid
    from sim.run import build_geometry, mesh_fineness

    with modelled(case.name):
        size = build_grid(build_geometry(case), mesh_fineness(case).refined(finer)).size
    if size > MOST_CELLS:
        raise UsageError(
            f"{case.name}: the mesh would have {size / 1e6:,.0f} million cells, more than {MOST_CELLS / 1e6:.0f}; "
            "choose larger cells in [mesh]"
        )
    if case.air.calibration is not None:
        from sim.resolved.calibration_file import read_calibration

        read_calibration(case.path, case.air.calibration)


def usual_folder(case: Any, ending: str = "") -> Path:
    """Where results go when nobody says: runs/NAME; a file called case.toml is named by its folder."""
    own_folder = Path(case.path).resolve().parent.name if case.path and case.name == "case" else ""
    return Path("runs") / f"{own_folder or case.name}{ending}"
