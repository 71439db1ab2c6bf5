"""`joistbay compare`: choices side by side."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.choices import wanted_choices, wanted_flux
from sim.cli.drawers import Drawers, Drawing, DrawnAhead
from sim.cli.errors import FAILED, UsageError, say_error, solved
from sim.cli.estimate import announce, learning
from sim.cli.keeping import folder_entry, keep, keep_written, written_text
from sim.cli.load import check_size, load, say_device, usual_folder
from sim.cli.options import USUAL_PAGED, DeviceWord, FinenessWord, PagedOutput, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.work import ALONE, Work, kept_work

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from sim.case.bay_case import Case
    from sim.case.load import AnyCase
    from sim.jobs.job import Pool
    from sim.study.compare import AskedChoice, Comparison
    from sim.study.many import Hands


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Choices:
    """What to compare.

    Parameters
    ----------
    spacing
        Plate spacings, such as 200mm,300mm,none; the case's own list when left out.
    vary
        Any other key with its values, such as tube.runs=1,2,3; may come several times, then every value of one goes
        with every value of the others.
    paired
        With several lists: the first values together, the second values together, and so on.
    flux
        Upward heat that is wished for, such as "60 W/m^2"; the second comparison is made at it. When left out, flux in
        [compare] of the case; without that, what the first choice gives.
    """

    spacing: str | None = None
    vary: Annotated[list[str] | None, Parameter(negative=())] = None
    paired: Annotated[bool, Parameter(negative=(), show_default=False)] = False
    flux: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None


NONE_ASKED = Choices()
"""The case's own list."""

DRAWERS = 3
"""Processes that draw a comparison whose air an accelerator followed: maps, profiles with bars, page."""


def compare(
    case: Path,
    /,
    *more: Path,
    choices: Choices = NONE_ASKED,
    fineness: FinenessWord | None = None,
    device: DeviceWord | None = None,
    output: PagedOutput = USUAL_PAGED,
    work: Work = ALONE,
) -> int:
    """Solve choices twice, with their own water and at equal delivered heat, and say which meets the wish.

    Choices are plate spacings, values of any keys, those that the case names by [[compare.choice]], or whole cases.
    Blocks and air alone are solved once for each choice of --vary, such as air.rayleigh=1000,2000,5000, or each file.

    Parameters
    ----------
    case
        A case file.
    more
        Further case files, to be compared with it as a whole; --vary and --spacing then change each of them.
    fineness
        Mesh fineness instead of the one in the case.
    device
        Where resolved air is followed, instead of the one in the case: cpu, gpu (an accelerator), or auto.
    """
    from sim.problems.kinds import kind_of
    from sim.store.target import check_target
    from sim.study.save_comparison import COMPARISON_ENTRIES, save_comparison

    read = [load(path, fineness, device, output.units, wake=False) for path in (case, *more)]
    cases = [bay for each in read if kind_of(each).at_equal_heat and (bay := each.joist_bay) is not None]
    if len(cases) < len(read):
        _say_devices(read, device)
        return _compare_once(read, choices, output, work)
    asked = _asked(cases, choices)
    wish = wanted_flux(choices.flux) or cases[0].compare.flux
    folder = output.out or _folder_of(cases, asked)
    check_target(folder, COMPARISON_ENTRIES)
    for choice in asked:
        check_size(choice.case)
    pool, written = work.pool(), written_text(cases[0])
    with Progress() as progress, kept_work(folder, work) as store, ExitStack() as stack:
        places = Places(store, pool)
        hands = _hands(asked, places)
        _say_devices(cases, device)
        shown = not (output.no_pictures and output.no_page)
        drawers = stack.enter_context(Drawers(DRAWERS)) if hands and shown else None
        begin = partial(_begin_drawing, drawers, places, folder.name, written, output, wish)
        comparison, ahead = _solve(cases[0], asked, wish, places, hands, progress, begin)
        progress.stage("writing the results")
        show = partial(_show, comparison, wish, output)
        keep(partial(save_comparison, comparison, wish=wish), folder, show, written)
        works = [] if ahead else _drawings(comparison, folder, output)
        pictures = ahead.into(folder, progress) if ahead else [path for work in works for path in work(progress)]
    show(folder, pictures)
    return report_failures(comparison)


def _say_devices(read: Sequence[AnyCase], device: DeviceWord | None) -> None:
    """One line on stderr for each case whose resolved air goes to an accelerator, or might have gone."""
    for case in read:
        say_device(case.name, [case], device)


def _compare_once(read: Sequence[AnyCase], choices: Choices, output: PagedOutput, work: Work) -> int:
    """Compare what is solved once, as blocks or flows of air alone; among joist bays they are refused."""
    from sim.cli.compare_once import compare_once
    from sim.study.side_by_side import unlike

    if wrong := unlike(read):
        raise UsageError(wrong)
    asked = _asked_once(read, choices)
    if wrong := unlike([read[0], *asked.values()]):
        raise UsageError(f"{wrong}; vary what leaves the kind")
    keys = tuple(text.partition("=")[0].strip() for text in choices.vary or ())
    return compare_once(asked, keys, read[0], output, work)


def _asked_once(cases: Sequence[AnyCase], choices: Choices) -> dict[str, AnyCase]:
    """All choices of what is solved once, by name: files, each with what --vary changes.

    Raises
    ------
    UsageError
        There are none, or something of bays was asked for.
    """
    if option := "--spacing" if choices.spacing else "--flux" if choices.flux else "":
        raise UsageError(f"{cases[0].name}: {option} is for joist bays; name what differs by --vary KEY=a,b")
    files, varied = _file_names(cases), choices.vary or ()
    if len(cases) > 1 and not varied:
        return dict(zip(files, cases, strict=True))
    if not varied:
        example = "air.rayleigh=1000,2000" if cases[0].air_alone else "face.NAME.temperature=40degC,50degC"
        raise UsageError(f"{cases[0].name}: nothing to compare; add --vary KEY=a,b, such as {example}, or another file")
    wanted = wanted_choices(cases[0], None, varied, choices.paired)
    before = ["" if len(cases) == 1 else f"{file}, " for file in files]
    return {
        start + name: variant
        for start, case in zip(before, cases, strict=True)
        for name, variant in zip(wanted.names, wanted.variants(case), strict=True)
    }


def _asked(cases: Sequence[Case], choices: Choices) -> list[AskedChoice]:
    """All choices with their cases: files, each with what the options change; else those that the case names."""
    from sim.case.named_choices import named_choices
    from sim.study.compare import AskedChoice

    first, varied = cases[0], choices.vary or ()
    if choices.paired and len(varied) + bool(choices.spacing) < 2:
        raise UsageError("--paired needs two lists or more: --vary several times, or with --spacing")
    if not choices.spacing and not varied:
        if len(cases) > 1:
            return [AskedChoice(name, case) for name, case in zip(_file_names(cases), cases, strict=True)]
        if first.compare.choices:
            return [AskedChoice(each.name, each.case, each.changes) for each in named_choices(first)]
    wanted, asked = wanted_choices(first, choices.spacing, varied, choices.paired), []
    for file, case in zip(_file_names(cases), cases, strict=True):
        before = "" if len(cases) == 1 else f"{file}, "
        bays = wanted.bays or wanted.names
        for name, bay, changes, variant in zip(wanted.names, bays, wanted.changes, wanted.variants(case), strict=True):
            asked.append(AskedChoice(before + name, variant, changes, (before + bay).rstrip(", ")))
    return asked


def _file_names(cases: Sequence[AnyCase]) -> list[str]:
    """What to call whole cases: their files' names, with as many folders before them as tell them apart.

    Raises
    ------
    UsageError
        A file comes twice.
    """
    paths = [Path(case.path or case.name).resolve().with_suffix("") for case in cases]
    if twice := next((path for place, path in enumerate(paths) if path in paths[:place]), None):
        raise UsageError(f"{twice.name}: is named twice; compare it with another case, or with --vary")
    for parts in range(1, max(len(path.parts) for path in paths) + 1):
        names = ["/".join(path.parts[-parts:]) for path in paths]
        if len(set(names)) == len(names):
            return names
    return [str(path) for path in paths]


def _folder_of(cases: Sequence[Case], asked: Sequence[AskedChoice]) -> Path:
    """runs/NAME-compare, with the further files, or with the keys unless that is the spacing alone."""
    from sim.store.texts import file_name

    keys = dict.fromkeys(key for choice in asked for key in choice.changes)
    ending = "".join(f"-{case.name}" for case in cases[1:])
    if list(keys) != ["plates.spacing"] and not cases[0].compare.choices:
        ending += "".join("-" + key.replace(".", "-") for key in keys)
    return usual_folder(cases[0], f"-compare-{file_name(ending)}" if ending else "-compare")


@dataclass(frozen=True, slots=True)
class Places:
    """Where finished choices are kept, and who solves them."""

    store: Path
    pool: Pool

    def passing(self) -> Path:
        """A folder that goes with this process."""
        import atexit

        from sim.machine.unfinished import drop_temporary, temporary_folder

        place = temporary_folder()
        atexit.register(drop_temporary, place)
        return place


def _hands(asked: Sequence[AskedChoice], places: Places) -> Hands | None:
    """What holds the solids of choices whose air an accelerator follows; None where none does.

    Its processes begin while the accelerator is woken.

    Raises
    ------
    NoDeviceError : "gpu" where there is no accelerator.
    """
    if not all(choice.case.air.is_resolved and choice.case.air.device != "cpu" for choice in asked):
        return None
    from sim.study.on_device import goes_together, may_be_there

    if not may_be_there() and not all(goes_together(choice.case) for choice in asked):
        return None
    from sim.study.together import begin_hands

    hands = begin_hands(asked, places.passing())
    found = False
    try:
        found = all(goes_together(choice.case) for choice in asked)
    finally:
        if not found:
            hands.close()
    return hands if found else None


def _solve(
    case: Case,
    asked: Sequence[AskedChoice],
    flux: float | None,
    places: Places,
    hands: Hands | None,
    progress: Progress,
    begin: Callable[[Comparison], DrawnAhead | None],
) -> tuple[Comparison, DrawnAhead | None]:
    """The comparison; where an accelerator followed it, with the pictures that are drawn while films are taught."""
    progress.stage(f"{case.name}: {len(asked)} choices, twice each")
    if hands:
        from sim.study.together import compare_together

        with hands, compilation_announced(progress), solved(case.name):
            found = compare_together(case, asked, flux=flux, tell=progress.on_step, hands=hands)
            ahead = begin(found)
            progress.stage("films, pictures and page")
            hands.settle()
        return found, ahead
    from sim.study.compare import compare_choices
    from sim.study.compare_jobs import ChoiceJobs

    cases = [choice.case for choice in asked]
    announce(progress, "compare", cases, workers=places.pool.workers)
    ended = learning("compare", cases, progress.outcomes(len(asked)))
    performer = ChoiceJobs(places.store, places.pool, ended)
    with compilation_announced(progress), solved(case.name):
        return compare_choices(case, asked, flux=flux, performer=performer), None


def _begin_drawing(
    drawers: Drawers | None,
    places: Places,
    name: str,
    written: str,
    output: PagedOutput,
    wish: float | None,
    comparison: Comparison,
) -> DrawnAhead | None:
    """Pictures and page of a comparison begun in a draft of its folder; None where nobody draws, or it takes none."""
    from sim.store.errors import StoreError
    from sim.study.save_comparison import save_comparison

    if drawers is None:
        return None
    try:
        draft = save_comparison(comparison, places.passing() / name, wish=wish)
    except StoreError:
        return None
    keep_written(written, draft)
    return DrawnAhead(drawers.begin(_drawings(comparison, draft, output)), draft)


def _drawings(comparison: Comparison, folder: Path, output: PagedOutput) -> list[Drawing]:
    """What is to be drawn, in pieces that take about as long."""
    from sim.cli.pictures import PIECES

    drawn = () if output.no_pictures else PIECES
    page = [] if output.no_page else [partial(page_beside, folder, output.units)]
    return [*(partial(_draw, comparison, folder, output.units, kinds) for kinds in drawn), *page]


def report_failures(comparison: Comparison) -> int:
    """Say on stderr which choices failed; the exit code, 0 when none did."""
    failed = [choice for choice in comparison.choices if choice.failure]
    for choice in failed:
        say_error(f"{choice.name}: failed; {choice.failure}")
    return FAILED if failed else 0


def _draw(
    comparison: Comparison, folder: Path, units: UnitChoice, kinds: tuple[str, ...], progress: Progress
) -> list[Path]:
    from sim.cli.pictures import draw_comparison

    return draw_comparison(comparison, folder, units, progress, kinds)


def _show(
    comparison: Comparison, wish: float | None, output: PagedOutput, folder: Path | None, pictures: list[Path]
) -> None:
    from sim.cli.compare_tables import print_tables

    if not output.json:
        print_tables(comparison, wish, output.units, folder, pictures)
        return
    from sim.store.texts import json_text
    from sim.study.answer import answer

    told = comparison.as_dict() | {"answer": answer(comparison, wish)}
    print(json_text(told | folder_entry(folder)), end="")
