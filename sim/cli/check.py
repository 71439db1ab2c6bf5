"""`joistbay check`: show what a case models."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.errors import modelled
from sim.cli.load import is_house, load
from sim.cli.options import FinenessWord, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.show import console, print_sentence, print_tree
from sim.cli.warnings import way_to_air

if TYPE_CHECKING:
    from sim.case.load import AnyCase


def check(case: Path, /, *, fineness: FinenessWord | None = None, units: UnitChoice = "both") -> int:
    """Check a case and print what would be modelled, down to mesh and equations; nothing is solved.

    Parameters
    ----------
    case
        A case file, or that of a house.
    fineness
        Mesh fineness instead of the one in the case.
    units
        Units of what the case says; mesh and equations stay in SI. A house's tables are in SI unless "ip" is asked for.
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
    out = console()
    for part in (asked, *kind.parts(ready)):
        print_tree(out, in_one_system(str(part), units))
        out.print()
    if (bay := asked.joist_bay) is not None and (law := correlations_words([bay])):
        print_sentence(out, f"! cavity air: {law}. {way_to_air(bay)}")
    for doubt in kind.doubts(asked):
        print_sentence(out, f"! {'BROKEN: ' * doubt.broken}{doubt.subject}: {doubt.text} [{doubt.source}]")
    out.print(f"{case} is sound; {_what_solves(case, asked)}")
    return 0


def _what_solves(path: Path, case: AnyCase) -> str:
    """The commands that a case is for."""
    if case.time is None or "time" not in case.model_fields_set:
        return f"joistbay run {path} solves it."
    return f"joistbay warmup {path} follows its [time], joistbay run {path} solves its steady state."
