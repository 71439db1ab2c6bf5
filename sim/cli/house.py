"""`joistbay house`: rooms, heat sources, circuits."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from sim.cli.errors import UsageError, modelled
from sim.cli.house_estimate import house_foretold
from sim.cli.keeping import folder_entry, keep
from sim.cli.load import say_device
from sim.cli.options import DeviceWord, FinenessWord, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.work import Work, lasting_work

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.house.bay_solver import BaySolver
    from sim.house.place import PlacedRoom
    from sim.house.plan import HousePlan
    from sim.house.solve_house import HouseWish
    from sim.results.people import Units


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class HouseView:
    """What of the house is looked at.

    Parameters
    ----------
    variant
        One of the file's variants instead of the house as written.
    variants
        Only what each room needs, the house and all its variants side by side.
    source
        The heat source whose circuits are printed and that the page is for; the first when left out.
    layout_only
        Only place the bays, join the circuits and count, without solving; nothing is kept.
    template
        Print the rooms as a CSV file, to be filled in on a spreadsheet and named by rooms_file; with --out FILE.xlsx
        they are written there. Nothing is solved.
    drawings
        Also print: house.pdf (the page as a booklet), drawings.pdf (sheets for the crew: plans, bay types, pulling)
        and plan.dxf.
    fineness
        Mesh fineness of the bays instead of the ones in their cases.
    device
        Where resolved air of bays is followed: cpu, gpu (an accelerator), or auto.
    """

    variant: str | None = None
    variants: Annotated[bool, Parameter(negative=(), show_default=False)] = False
    source: str | None = None
    layout_only: Annotated[bool, Parameter(negative=(), show_default=False)] = False
    template: Annotated[bool, Parameter(negative=(), show_default=False)] = False
    drawings: bool = True
    fineness: FinenessWord | None = None
    device: DeviceWord | None = None


ALL = HouseView()
"""The house as written."""

SHARED = Work(workers=min(4, os.cpu_count() or 1))
"""As many workers as there are processors, four at most: a bay hardly uses a second one."""

PAPER_TOOLS = ("viz.report.lettering", "matplotlib.figure", "matplotlib.backends.backend_pdf")
"""Modules that setting a booklet takes a second to load."""

PULSE = 1.5
"""No longer silence than this [s]."""


def house(
    path: Path,
    /,
    *,
    choice: HouseView = ALL,
    out: Path | None = None,
    units: UnitChoice = "si",
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    work: Work = SHARED,
) -> int:
    """Lay a house out for its heat sources: plates, water, output against load, circuits, pump, schedules.

    Parameters
    ----------
    path
        A house file.
    out
        Folder to make; below runs/ when left out. Earlier results there are replaced.
    units
        Units of the tables and the page; "both" prints the tables twice.
    json
        Print JSON instead of tables.
    """
    from sim.case.errors import CaseError
    from sim.case.house_load import load_house
    from sim.case.house_table import headed, room_lines, unfilled_lines
    from sim.house.save_house import HOUSE_ENTRIES
    from sim.house.solve_house import HouseWish, check_house, check_variants
    from sim.store.target import check_target

    try:
        asked = load_house(path)
    except CaseError as error:
        if not choice.template or (unfilled := unfilled_lines(path, error)) is None:
            raise
        return _template(headed(unfilled, units == "ip"), out)
    wish = HouseWish(_named("variant", choice.variant), choice.fineness, choice.device)
    rooms, sources = check_house(asked, wish)
    check_variants(asked)
    say_device(asked.name, [room.case for room in rooms], choice.device)
    _check_source(_named("source", choice.source), [source.name for source in sources])
    _check_sizes(rooms)
    if choice.template:
        return _template(headed(room_lines(asked, units == "ip"), units == "ip"), out)
    if choice.layout_only:
        return _counted(asked, rooms, units, json)
    folder = out or Path("runs") / f"{asked.name}{_ending(wish.variant)}-house"
    check_target(folder, HOUSE_ENTRIES)
    if choice.variants:
        return _needs(asked, choice, folder, units, work)
    show = _shower(choice, units, json)
    place = Place(folder, (units, choice.source or ""), choice.drawings, show)
    show(_solved(asked, wish, place, work), folder, [])
    return 0


def _shower(choice: HouseView, units: UnitChoice, json: bool) -> Callable[[HousePlan, Path | None, list[Path]], None]:
    """What shows a plan and where it is kept."""

    def show(plan: HousePlan, folder: Path | None, pictures: list[Path]) -> None:
        from sim.cli.house_tables import print_plan
        from sim.house.record import house_record
        from sim.store.texts import json_text

        if json:
            print(json_text(house_record(plan) | folder_entry(folder)), end="")
        else:
            print_plan(plan, choice.source or plan.layouts[0].source.name, units, folder)

    return show


@dataclass(frozen=True, slots=True)
class Place:
    """Where a plan is kept, in which units its page is and for which source, whether it is drawn, and what shows it."""

    folder: Path
    page: tuple[UnitChoice, str]
    drawings: bool
    show: Callable[[HousePlan, Path | None, list[Path]], None]


def _named(option: str, name: str | None) -> str:
    """The name that an option gives, empty where it is left out; one that is given without a name is refused."""
    if name is not None and not name.strip():
        raise UsageError(f"--{option} is empty; give a name, or leave --{option} away")
    return name or ""


def _ending(variant: str) -> str:
    """A variant in the name of a folder, whatever signs its own name holds."""
    from sim.store.texts import file_name

    return f"-{file_name(variant)}" if variant else ""


def _template(lines: list[dict[str, str]], out: Path | None) -> int:
    """The rooms as a spreadsheet has them: printed as CSV, or a file of its own."""
    from sim.case.house_table import as_csv

    if out is None:
        print(as_csv(lines), end="")
        return 0
    if out.suffix.lower() != ".xlsx" or out.exists():
        rule = "exists already: name a new file" if out.exists() else "a template is a file that ends in .xlsx"
        raise UsageError(f"--out {out}: {rule}, or leave --out away to print CSV")
    from sim.house.workbook import write_workbook

    try:
        write_workbook(out, {"rooms": lines})
    except OSError as error:
        raise UsageError(f"--out {out}: cannot be written ({error.strerror or error})") from error
    print(f"Rooms to fill in: {out}; name it in the house file as rooms_file")
    return 0


def _counted(asked: House, rooms: tuple[PlacedRoom, ...], units: UnitChoice, json: bool) -> int:
    """The layout without water: circuits, lengths, quantities."""
    from sim.house.layout_only import count_house

    counted = count_house(asked, rooms)
    if json:
        from sim.store.texts import json_text

        print(json_text({"rooms": [count.as_dict() for count in counted]}), end="")
    else:
        from sim.cli.house_layout import print_layout_only

        print_layout_only(asked, counted, units)
    return 0


def check_house_file(path: Path, fineness: FinenessWord | None, units: UnitChoice = "both") -> int:
    """Check a house with all its variants, print it and its layout; nothing is solved."""
    from sim.case.house_load import load_house
    from sim.cli.show import console, print_tree
    from sim.house.solve_house import HouseWish, check_house, check_variants
    from sim.results.spelling import in_one_system

    asked = load_house(path)
    print_tree(out := console(), in_one_system(str(asked), units))
    out.print()
    rooms, _ = check_house(asked, HouseWish(fineness=fineness))
    check_variants(asked)
    for name in (variant.name for variant in asked.variants):
        check_house(asked, HouseWish(name, fineness))
    _check_sizes(rooms)
    _counted(asked, rooms, "ip" if units == "ip" else "si", False)
    print(f"\n{path} is sound; joistbay house {path} lays it out.")
    return 0


def _check_sizes(rooms: tuple[PlacedRoom, ...]) -> None:
    """Refuse bays that cannot be built, or whose mesh would be absurdly large; nothing that solves is loaded."""
    from sim.problems.buildable import check_buildable

    for room in rooms:
        with modelled(room.case.name):
            check_buildable(room.case)


def _check_source(name: str, known: list[str]) -> None:
    if name and name not in known:
        raise UsageError(f'--source got "{name}"; the house is laid out for: {", ".join(known)}')


def _solved(asked: House, wish: HouseWish, place: Place, work: Work) -> HousePlan:
    """The house solved and saved."""
    from sim.house.solve_house import solve_house

    with Progress(pulse=PULSE) as progress, _setter(place) as ask:
        with _kept_solver(place.folder, work, progress) as solver:
            progress.stage(f"{asked.name}: bays")
            plan = solve_house(asked, solver, wish)
        progress.stage("writing the results")
        keep(partial(_save, plan, place, ask), place.folder, partial(place.show, plan))
    return plan


def _setter(place: Place) -> AbstractContextManager[Callable[..., Any] | None]:
    """A process to set the booklet, which loads what that takes while bays are solved; None where none is asked."""
    from sim.machine.helpers import helper_at_hand

    return helper_at_hand("viz.house_booklet", *PAPER_TOOLS) if place.drawings else nullcontext()


@contextmanager
def _kept_solver(folder: Path, work: Work, progress: Progress, houses: int = 1) -> Iterator[BaySolver]:
    """A solver whose answers are kept beside the results, for this run and the next."""
    from sim.house.bay_solver import BaySolver
    from sim.house.kept_bays import keep_newest, kept_folder

    foretold = house_foretold(progress, work.workers, houses)
    with lasting_work(folder, kept_folder(folder)) as store, foretold as foretell, ExitStack() as solving:
        announce = cache(lambda: solving.enter_context(compilation_announced(progress)))  # a compiler is slow to load
        solver = BaySolver(store, work.pool(), _teller(progress), foretell, announce)
        try:
            yield solver
        finally:
            keep_newest(store, solver.used)


def _teller(progress: Progress) -> Callable[[str, int], Any]:
    """Tells the progress about every batch of jobs."""

    def begin(what: str, count: int) -> Any:
        progress.stage(what)
        return progress.outcomes(count)

    return begin


def _save(plan: HousePlan, place: Place, ask: Callable[..., Any] | None, folder: Path) -> None:
    """The folder, its page for a browser, its booklet and its drawings, all made from the folder's own house.json."""
    from sim.house.save_house import save_house
    from sim.store.run_folder import StoreError
    from viz.house_page import write_house_page

    units: Units = "ip" if place.page[0] == "ip" else "si"
    save_house(plan, folder, units)
    try:
        page = write_house_page(folder, units, place.page[1], beside=place.drawings)
        if ask is not None:
            _draw(page, units, place.page[1], ask)
    except OSError as error:
        raise StoreError(f"{folder}: its page or drawings cannot be written ({error.strerror or error})") from error


def _draw(page: Path, units: Units, source: str, ask: Callable[..., Any]) -> None:
    """The booklet, by the process that `ask` asks, and meanwhile the drawings.

    Raises
    ------
    OSError
        When one of them cannot be written.
    """
    from concurrent.futures import ThreadPoolExecutor

    from sim.machine.helpers import CrashError
    from viz.drawings.drawing_set import write_drawings
    from viz.house_booklet import write_booklet

    with ThreadPoolExecutor(1) as aside:
        booklet = aside.submit(ask, write_booklet, page, units)
        write_drawings(page.parent, units, source)
        try:
            booklet.result()
        except CrashError as error:
            raise OSError(f"the booklet ended with {error}") from error


def _needs(asked: House, choice: HouseView, folder: Path, units: UnitChoice, work: Work) -> int:
    """What every room needs, the house and its variants side by side; only solved bays are kept."""
    from sim.cli.house_tables import print_needs
    from sim.house.solve_house import HouseWish, check_house, solve_needs

    names = ["", *(variant.name for variant in asked.variants)]
    wishes = [HouseWish(name, choice.fineness, choice.device) for name in names]
    for wish in wishes:
        check_house(asked, wish)
    with Progress(pulse=PULSE) as progress, _kept_solver(folder, work, progress, len(wishes)) as solver:
        needs = {wish.variant: solve_needs(asked, solver, wish) for wish in wishes}
    print_needs(asked, needs, units)
    return 0
