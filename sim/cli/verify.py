"""`joistbay verify`: the accuracy table, what was missed and where its number comes from, and the list of problems."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import FAILED, UsageError, exit_code_of
from sim.cli.options import DeviceWord
from sim.cli.progress import Progress, compilation_announced

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table

    from sim.verify.accuracy import AccuracyRow
    from sim.verify.folder import Folder


def verify(
    names: Annotated[tuple[str, ...], Parameter(show_default=False)] = (),
    /,
    *,
    list: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    full: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    cases: Path | None = None,
    device: DeviceWord | None = None,
) -> int:
    """Solve problems with a published or exact answer and print how far each number is from it.

    Parameters
    ----------
    names
        Problems to solve, by name or as folders; all of them when left out.
    list
        Say which problems there are, and solve none.
    full
        On fine meshes, minutes instead of seconds.
    json
        Print JSON instead of a table.
    cases
        Folder with the problems; cases/verification when left out.
    device
        Where resolved air is followed: cpu, gpu (an accelerator), or auto.
    """
    chosen = _chosen(names, _folder(cases))
    if list:
        _print_list(chosen)
        return 0
    with Progress() as progress, compilation_announced(progress):
        rows, unsolved = _solve(chosen, full, device, progress)
    if json:
        _print_json(rows, unsolved)
    else:
        _print_table(rows)
        _print_missed(rows, unsolved, {folder.name: folder.path for folder in chosen})
        _print_left_out(chosen, full)
    return 0 if all(row.passed for row in rows) and not unsolved else FAILED


def _chosen(names: tuple[str, ...], where: Path) -> Sequence[Folder]:
    """The problems asked for, by name in a folder of problems or as paths of their own."""
    from sim.verify.folder import folders, load_checks

    paths = {name: Path(name) for name in names if (Path(name) / "expected.toml").is_file()}
    try:
        if not names:
            return folders(None, where)
        return [load_checks(paths[name]) if name in paths else folders([name], where)[0] for name in names]
    except ValueError as error:
        raise UsageError(str(error)) from error


def _solve(
    chosen: Iterable[Folder], full: bool, device: str | None, progress: Progress
) -> tuple[Sequence[AccuracyRow], Mapping[str, str]]:
    """The rows of all problems, and by name why the others could not be solved."""
    from sim.airflow.watch import FlowError
    from sim.verify.accuracy import compare_folder

    rows: list[AccuracyRow] = []
    unsolved: dict[str, str] = {}
    for folder in chosen:
        progress.stage(folder.name)
        try:
            rows += compare_folder(folder, full, progress.on_step, device)
        except Exception as error:
            if exit_code_of(error) == FAILED or isinstance(error, FlowError):
                unsolved[folder.name] = str(error)
            elif isinstance(error, ValueError):
                raise UsageError(str(error)) from error
            else:
                raise
    return rows, unsolved


def _folder(asked: Path | None) -> Path:
    """The folder with the problems: the one asked for, the program's own, or the one in this place."""
    from sim.verify.folder import CASES

    for place in [asked] if asked else [CASES, Path("cases/verification")]:
        if any(place.glob("*/expected.toml")):
            return place
    raise UsageError(f"{asked or 'cases/verification'}: no problems there; name their folder with --cases")


def _print_json(rows: Sequence[AccuracyRow], unsolved: Mapping[str, str]) -> None:
    from sim.store.texts import json_text

    print(json_text({"rows": [row.as_dict() for row in rows], "unsolved": dict(unsolved)}), end="")


def _print_list(chosen: Iterable[Folder]) -> None:
    """Every problem with its title and how many numbers are held against what is known."""
    from sim.cli.show import console, plain_table

    table = plain_table()
    for head in ("problem", "what it is", "numbers"):
        table.add_column(head, justify="right" if head == "numbers" else "left", no_wrap=head == "problem")
    for folder in chosen:
        quick = "" if folder.coarse else " (only with --full)"
        table.add_row(folder.name, _title(folder.path) + quick, str(len(folder.checks)))
    console().print(table)


def _title(folder: Path) -> str:
    """The first heading of a problem's README."""
    try:
        text = (folder / "README.md").read_text("utf-8")
    except (OSError, ValueError):
        return ""
    return next((line.lstrip("# ") for line in text.splitlines() if line.startswith("# ")), "")


def _print_table(rows: Sequence[AccuracyRow]) -> None:
    from sim.cli.show import console

    out = console()
    out.print(accuracy_table(rows))
    passed = sum(row.passed for row in rows)
    out.print(f"\n{passed} of {len(rows)} numbers within their limits")


def _print_missed(rows: Sequence[AccuracyRow], unsolved: Mapping[str, str], at: Mapping[str, Path]) -> None:
    """By how much the worst of each source is off, where its number comes from, and where its problem is told."""
    from sim.cli.show import console

    out = console()
    missed = [row for row in rows if not row.passed]
    for problem, numbers in groupby(missed, key=lambda row: row.case):
        out.print(f"\n{problem} ({at[problem] / 'README.md'})", soft_wrap=True)
        for source, own in groupby(numbers, key=lambda row: row.source):
            out.print(f"{_missed([*own])} Expected by: {source}.")
    for problem, why in unsolved.items():
        out.print(f"\n{problem} could not be solved: {why}")


def _missed(rows: Sequence[AccuracyRow]) -> str:
    """How many numbers missed their limits, and the worst of them."""
    worst = max(rows, key=lambda row: abs(row.difference) / max(row.allowed, 1e-300))
    unit = "" if worst.unit == "-" else f" {worst.unit}"
    over = abs(worst.difference) / max(worst.allowed, 1e-300)
    times = f"{over:.2g}" if over < 10.0 else f"{over:.0f}" if over < 1e6 else "over a million"
    count = "Missed" if len(rows) == 1 else f"{len(rows)} missed, the worst"
    return (
        f"{count}: {_words(worst.quantity)}, {worst.computed:.6g} for {worst.published:.6g}{unit}, off by "
        f"{abs(worst.difference):.2g}, {times} times what is allowed."
    )


def _print_left_out(chosen: Iterable[Folder], full: bool) -> None:
    """Which problems were left to the full run."""
    from sim.cli.show import console

    left = [folder.name for folder in chosen if not folder.coarse]
    if left and not full:
        console().print(f"Only with --full: {', '.join(left)}")


def _words(key: str) -> str:
    """A report key as words, without its unit: "heat flux up", "probe 1.3"."""
    return re.sub(r"_(C|W|W_m2|m2K_W|K)(?=$| at )", "", key).replace("_", " ").removeprefix("thermal ")


def accuracy_table(rows: Sequence[AccuracyRow]) -> Table:
    """One line a number, below the name of its problem; narrow enough for 80 columns."""
    from sim.cli.show import plain_table

    table = plain_table()
    table.padding = (0, 1, 0, 0)
    for head in ("problem and quantity", "published", "computed", "difference", "allowed", ""):
        table.add_column(head, justify="right" if head.isalpha() else "left", no_wrap=True)
    for problem, numbers in groupby(rows, key=lambda row: row.case):
        table.add_row(problem, style="bold")
        for row in numbers:
            table.add_row(
                f"  {_words(row.quantity)}, {row.unit}".removesuffix("-").removesuffix(", "),
                f"{row.published:.6g}",
                f"{row.computed:.6g}",
                f"{row.difference:+.2g}",
                f"{row.allowed:.2g}",
                "pass" if row.passed else "FAIL",
            )
    return table
