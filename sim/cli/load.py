"""Read the case that a command was given."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.errors import UsageError, modelled, say_error, say_note
from sim.cli.options import AirWord, DeviceWord, FinenessWord, UnitChoice

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.load import AnyCase


def load(
    path: Path,
    fineness: FinenessWord | None = None,
    device: DeviceWord | None = None,
    units: UnitChoice = "both",
    air: AirWord | None = None,
    wake: bool = True,
) -> AnyCase:
    """The case of a file, with another mesh fineness, air, or device for resolved air, where one is asked for.

    What is said of it meanwhile is in the units asked for; where that is both, in those of the file. Where an
    accelerator is not to be woken yet, the caller says where the air goes (`say_device`).
    """
    from sim.case.load import load_case

    case = load_case(path)
    if air is not None:
        case = case.with_text("air.model", air)
    say_unused(path, case)
    say_beyond(path, case, units)
    if fineness is not None:
        case = case.model_copy(update={"mesh": case.mesh.model_copy(update={"fineness": fineness})})
    return on_device(case, device, wake)


def on_device(case: AnyCase, device: DeviceWord | None, wake: bool = True) -> AnyCase:
    """The case with its resolved air on a device, where one is asked for; says on stderr which one that is.

    Raises
    ------
    NoDeviceError : "gpu" where there is no accelerator.
    """
    if device is not None:
        case = case.model_copy(update={"air": case.air.model_copy(update={"device": device})})
    if wake:
        say_device(case.name, [case], device)
    return case


def say_device(name: str, cases: Sequence[AnyCase], asked: DeviceWord | None) -> None:
    """One line on stderr about where the resolved air of some cases goes, unless that is the processor.

    Raises
    ------
    NoDeviceError : "gpu" where there is no accelerator.
    UsageError : a device was asked for, and no case has resolved air.
    """
    devices = {case.air.device for case in cases if case.air.is_resolved}
    if asked is not None and not devices:
        raise UsageError(f'{name}: --device is for air.model = "resolved", and there is none')
    for device in sorted(devices - {"cpu"}):
        from sim.airflow.device.seam import choose_backend

        backend = choose_backend(device)
        say_error(f"{name}: air on {backend.name if backend else 'the processor: there is no accelerator'}")


def is_house(path: Path) -> bool:
    """Whether a file says that it is a house; what cannot be read is left to its reader's own message."""
    from sim.case.errors import CaseError
    from sim.case.load import read_toml
    from sim.case.read_file import read_text

    try:
        data = read_toml(read_text(path), str(path))
    except CaseError:
        return False
    return data.get("kind") == "house" or ("kind" not in data and "manifold" in data)


def say_unused(path: Path, case: AnyCase) -> None:
    """One line on stderr for keys that nothing in the case reads but that may stay for comparisons."""
    from sim.case.unused import kept_unused

    keys: dict[str, list[str]] = {}
    for problem in kept_unused(case):
        keys.setdefault(problem.rule.removesuffix(" reads it"), []).append(problem.key)
    if keys:
        said = {rule: f"reads {'it' if len(names) == 1 else 'them'}" for rule, names in keys.items()}
        parts = (f"{', '.join(names)} ({rule} {said[rule]})" for rule, names in keys.items())
        say_note(f"{path}: not used here: {'; '.join(parts)}")


def say_beyond(path: Path, case: AnyCase, units: UnitChoice = "both") -> None:
    """One line on stderr for a bay outside what the learned films were taught, in units asked for or the file's own."""
    from sim.case.taught import beyond_taught
    from sim.results.notation_used import units_written
    from sim.store.texts import text_of

    system = {"si": "SI", "ip": "IP"}[units_written(text_of(path)) if units == "both" else units]
    if (bay := case.joist_bay) is not None and (outside := beyond_taught(bay, system)):
        say_note(f"{path}: beyond the learned films: {'; '.join(outside)}; its air follows correlations")


def load_bay(path: Path, fineness: FinenessWord | None = None, units: UnitChoice = "both") -> Case:
    """The same for a command that works on joist bays only."""
    return only_bay(path, load(path, fineness, units=units))


def only_bay(path: Path, case: AnyCase) -> Case:
    """The case, where it is that of a joist bay."""
    if (bay := case.joist_bay) is None:
        raise UsageError(f'{path}: is a case of kind "{case.kind}"; this command is for joist bays')
    return bay


def check_size(case: AnyCase, finer: int = 1) -> None:
    """Refuse a case whose geometry cannot be built, or whose mesh, `finer` times as fine, would be absurdly large.

    Films taught by another run must be there as well.
    """
    from sim.problems.kinds import kind_of

    with modelled(case.name):
        kind_of(case).check(case, finer)


def usual_folder(case: AnyCase, ending: str = "") -> Path:
    """Where results go when nobody says: runs/NAME."""
    return Path("runs") / f"{case.name}{ending}"
