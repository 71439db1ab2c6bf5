"""`joistbay check`: show what a case models."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import modelled
from sim.cli.load import is_house, load
from sim.cli.options import FinenessWord, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.show import console, print_sentence, print_tree, source_text
from sim.cli.warnings import way_to_air

if TYPE_CHECKING:
    from sim.case.load import AnyCase


def check(
    case: Path,
    /,
    *,
    fineness: FinenessWord | None = None,
    units: UnitChoice = "both",
    details: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
) -> int:
    """Check a case and print what would be modelled, and what to mind with it; nothing is solved.

    Parameters
    ----------
    case
        A case file, or that of a house.
    fineness
        Mesh fineness instead of the one in the case.
    units
        Units of what the case says; mesh and equations stay in SI. A house's tables are in SI unless "ip" is asked for.
    details
        Of a bay also every box, the mesh and the equations; of blocks and air they are always printed.
    """
    from sim.problems.kinds import kind_of
    from sim.results.air_words import correlations_words
    from sim.results.spelling import in_one_system

    if is_house(case):
        from sim.cli.house import check_house_file

        return check_house_file(case, fineness, units)
    asked = load(case, fineness)
    kind = kind_of(asked)
    with modelled(asked.name):
        kind.check_whole(asked)
    with Progress() as progress:
        progress.stage(f"{asked.name}: {kind.preparing}")
        with compilation_announced(progress), modelled(asked.name):
            ready = kind.sketch(asked)
    out, bay = console(), asked.joist_bay
    shown = kind.parts(ready) if details or bay is None else ()
    for part in (asked, *shown):
        print_tree(out, in_one_system(str(part), units))
        out.print()
    if bay is not None and (law := correlations_words([bay])):
        print_sentence(out, f"! cavity air: {in_one_system(law, units)}. {way_to_air(bay)}")
    for doubt in kind.doubts(asked):
        told = in_one_system(f"! {'BROKEN: ' * doubt.broken}{doubt.subject}: {doubt.text}", units)
        print_sentence(out, f"{told} [{source_text(doubt.source, units)}]")
    rest = "" if shown else " --details shows mesh and equations."
    print_sentence(out, f"{case} is sound; {_what_solves(case, asked)}{rest}")
    return 0


def _what_solves(file: Path, case: AnyCase) -> str:
    """The commands that a case is for."""
    from shlex import quote

    path = quote(str(file))
    if case.time is None or "time" not in case.model_fields_set:
        return f"joistbay run {path} solves it."
    return f"joistbay warmup {path} follows its [time], joistbay run {path} solves its steady state."
