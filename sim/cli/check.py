"""`joistbay check`: show what a case models."""

from __future__ import annotations

from pathlib import Path

from sim.cli.errors import modelled
from sim.cli.load import check_size, is_house, load
from sim.cli.options import FinenessWord
from sim.cli.progress import Progress, compilation_announced


def check(case: Path, /, *, fineness: FinenessWord | None = None) -> int:
    """Check a case and print what would be modelled, down to mesh and equations; nothing is solved.

    Parameters
    ----------
    case
        A case file, or that of a house.
    fineness
        Mesh fineness instead of the one in the case.
    """
    if is_house(case):
        from sim.cli.house import check_house_file

        return check_house_file(case, fineness)
    asked = load(case, fineness)
    if getattr(asked, "air_alone", False):
        from sim.cli.run_air import check_air

        check_air(asked)
        print(f"{case} is sound; joistbay run {case} solves it.")
        return 0
    check_size(asked)
    if asked.kind == "bay":
        from sim.problems.driving import outdoor_temperature

        outdoor_temperature(asked)
    with Progress() as progress:
        progress.stage(f"{asked.name}: mesh and view factors")
        from sim.run import prepare

        with compilation_announced(progress), modelled(asked.name):
            model = prepare(asked)
    air = (model.air_domain(),) if asked.air.model == "resolved" else ()
    for part in (asked, model.geometry, model.grid, model.cells, model.system, *air):
        print(part, end="\n\n")
    print(f"{case} is sound; joistbay run {case} solves it.")
    return 0
