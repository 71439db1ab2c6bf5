"""`joistbay verify`: the accuracy table."""

from __future__ import annotations

import re
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import FAILED, UsageError
from sim.cli.options import DeviceWord
from sim.cli.progress import Progress, compilation_announced

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table

    from sim.verify.accuracy import AccuracyRow


def verify(
    names: Annotated[tuple[str, ...], Parameter(show_default=False)] = (),
    /,
    *,
    full: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    cases: Path | None = None,
    device: DeviceWord | None = None,
) -> int:
    """Solve problems with a published or exact answer and print how far each number is from it.

    Parameters
    ----------
    names
        Problems to solve; all of them when left out.
    full
        On fine meshes, minutes instead of seconds.
    json
        Print JSON instead of a table.
    cases
        Folder with the problems; cases/verification when left out.
    device
        Where resolved air is followed: cpu, gpu (an accelerator), or auto.
    """
    from sim.verify.accuracy import verify as solve_all

    where = _folder(cases)
    with Progress() as progress, compilation_announced(progress):
        try:
            rows = solve_all(
                names or None, full, where=where, listener=lambda folder: progress.stage(folder.name),
                tell=progress.on_step, device=device,
            )  # fmt: skip
        except ValueError as error:
            raise UsageError(str(error)) from error
    if json:
        _print_json(rows)
    else:
        _print_table(rows)
        _print_left_out(names, full, where)
    return 0 if all(row.passed for row in rows) else FAILED


def _folder(asked: Path | None) -> Path:
    """The folder with the problems: the one asked for, the program's own, or the one in this place."""
    from sim.verify.folder import CASES

    for place in [asked] if asked else [CASES, Path("cases/verification")]:
        if any(place.glob("*/expected.toml")):
            return place
    raise UsageError(f"{asked or 'cases/verification'}: no problems there; name their folder with --cases")


def _print_json(rows: Sequence[AccuracyRow]) -> None:
    from sim.store.texts import json_text

    print(json_text({"rows": [row.as_dict() for row in rows]}), end="")


def _print_table(rows: Sequence[AccuracyRow]) -> None:
    from sim.cli.show import console

    out = console()
    out.print(accuracy_table(rows))
    passed = sum(row.passed for row in rows)
    out.print(f"\n{passed} of {len(rows)} numbers within their limits")


def _print_left_out(names: tuple[str, ...], full: bool, where: Path) -> None:
    """Which problems were left to the full run."""
    from sim.cli.show import console
    from sim.verify.folder import folders

    left = [folder.name for folder in folders(names or None, where) if not folder.coarse]
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
                f"  {_words(row.quantity)}, {row.unit}".removesuffix(", "),
                f"{row.published:.6g}",
                f"{row.computed:.6g}",
                f"{row.difference:+.2g}",
                f"{row.allowed:.2g}",
                "pass" if row.passed else "FAIL",
            )
    return table
