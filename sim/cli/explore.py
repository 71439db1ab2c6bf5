"""`joistbay explore`: a bay that answers while it is changed, on a page of this machine alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from sim.cli.errors import UsageError, say_error
from sim.cli.first_word import first_word
from sim.cli.load import check_size, is_house, load_bay
from sim.cli.options import WholeNumber

if TYPE_CHECKING:
    import socket

    from sim.case.bay_case import Case
    from sim.explorer.bay_talk import BayTalks
    from sim.explorer.house_session import HouseSession
    from sim.explorer.jobs import Makers
    from sim.explorer.pages import ServedPage
    from sim.run import Result


def explore(
    case: Path | None = None,
    /,
    *,
    port: WholeNumber = 0,
    no_browser: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    keep_open: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
) -> int:
    """Open a page in the browser on which a bay or a house answers while it is changed.

    The page is served to this machine alone, under an address that nobody can guess; it needs no network.

    Parameters
    ----------
    case
        A case file of a joist bay, or a house file; left out, the page offers a few bays to begin with.
    port
        Port to listen at; 0 takes a free one.
    no_browser
        Open no browser; the address is printed either way.
    keep_open
        Go on when the last tab is closed, until Ctrl-C.
    """
    if not 0 <= port <= 65535:
        raise UsageError(f"--port {port}: a port is a number from 1 to 65535, or 0 for a free one")
    need_library()
    if case is not None and is_house(case):
        return _explore_house(case, port, no_browser, keep_open)
    bay = None if case is None else _bay(case)
    from sim.explorer.pages import ServedPage
    from sim.explorer.server import Server
    from viz.explorer import BAY_PAGE

    listening = _listen(port)
    ends = _how_it_ends(keep_open)
    talks = bay_talks(bay, _look(case, ends))
    server = Server({"bay": ServedPage(BAY_PAGE, talks)}, "bay", keep_open=keep_open)
    _serve(server, listening, partial(_ready, ends, no_browser, talks.warm))
    return 0


def _how_it_ends(keep_open: bool) -> str:
    from sim.explorer.server import LINGER

    return "Ctrl-C ends it" if keep_open else f"it ends {LINGER:.0f} s after its last tab is closed, or with Ctrl-C"


def _look(case: Path | None, ends: str) -> dict[str, str]:
    """Units that a page opens with, and how the program ends."""
    return {"units": _units(case), "ends": f"The program answers this machine only; {ends} where it was started."}


def _explore_house(path: Path, port: int, no_browser: bool, keep_open: bool) -> int:
    """The same for a house; its solved bays stay where `joistbay house` keeps them too."""
    from sim.case.read_file import read_text
    from sim.cli.work import lasting_work
    from sim.explorer.house_session import opened_house
    from sim.explorer.pages import ServedPage
    from sim.explorer.server import Server
    from sim.house.kept_bays import kept_folder
    from viz.explorer import BAY_PAGE

    session = opened_house(read_text(path), path.stem, str(path))
    listening, ends = _listen(port), _how_it_ends(keep_open)
    results = Path("runs") / f"{path.stem}-house"
    with lasting_work(results, kept_folder(results)) as store:
        look = _look(path, ends)
        bays = ServedPage(BAY_PAGE, bay_talks(None, look))
        pages = {"house": house_page(session, store, look), "bay": bays}
        server = Server(pages, "house", keep_open=keep_open)
        _serve(server, listening, partial(_ready, ends, no_browser, None))
    return 0


def house_page(session: HouseSession, store: Path, words: dict[str, str]) -> ServedPage:
    """The page of a house; solved bays are kept in `store`."""
    from sim.explorer.house_talk import MOST_KEPT, HouseTalk
    from sim.explorer.kept import Kept
    from sim.explorer.pages import ServedPage
    from viz.explorer import HOUSE_PAGE
    from viz.explorer.house_picture import house_picture

    talk = partial(HouseTalk, session, house_picture, store.resolve(), Kept(MOST_KEPT), words)
    return ServedPage(HOUSE_PAGE, talk)


def need_library() -> None:
    """UsageError in one line where the server's library is missing."""
    from sim.machine.extras import what_to_install

    if missing := what_to_install("aiohttp"):
        raise UsageError(f"the explorer needs a library that is not here: {missing}")


def _bay(path: Path) -> Case:
    """The bay of a file, refused here where it cannot be explored."""
    case = load_bay(path)
    if case.air.is_resolved:
        say_error(f'{path}: air.model = "resolved" is left for the page to ask for; shown with the usual films')
        case = case.with_({"air.model": "films"})
    check_size(case)
    return case


def _units(path: Path | None) -> str:
    """The units that a case file speaks."""
    from sim.results.notation_used import units_written

    return "si" if path is None else units_written(path.read_text("utf-8", errors="replace"))


def bay_talks(case: Case | None, words: dict[str, str]) -> BayTalks:
    """Who answers the tabs of a bay, or of those to choose from; `words` are its units and how it ends."""
    from sim.explorer.bay_talk import BayTalk, BayTalks
    from sim.explorer.kept import Kept
    from sim.explorer.shelf import shelf
    from viz.explorer.picture import look

    return BayTalks(partial(BayTalk, shelf(), case, makers(), Kept(), look() | words))


def makers() -> Makers:
    """What draws and writes in the solvers' processes."""
    from sim.explorer.jobs import Makers
    from viz.explorer.picture import bay_picture

    return Makers(bay_picture, page_text, scene_text)


def scene_text(result: Result[Case], units: str) -> str:
    """The scene to turn of a result, as a page."""
    from sim.problems.last_state import last_state_of
    from viz.view.build import scene_of
    from viz.view.page import scene_page

    return scene_page(scene_of(last_state_of(result), "ip" if units == "ip" else "si"))


def page_text(result: Result[Case], units: str) -> str:
    """The page to hand over of a result, as HTML."""
    from sim.cli.report import page_of
    from sim.machine.unfinished import passing_folder
    from sim.problems.save_result import save_result
    from viz.report.html import page_html

    with passing_folder() as place:
        page, _ = page_of(save_result(result, place / result.case.name))
    return page_html(page, "ip" if units == "ip" else "si")


def _listen(port: int) -> socket.socket:
    from sim.explorer.server import listen

    try:
        return listen(port)
    except OSError as error:
        why = error.strerror or error
        raise UsageError(f"--port {port}: cannot be listened at ({why}); leave it out for a free one") from None


def _serve(server: Any, listening: socket.socket, ready: Any) -> None:
    import asyncio

    asyncio.run(server.run(listening, ready))


def _ready(ends: str, no_browser: bool, warm: Callable[[], None] | None, address: str) -> None:
    """Say where it is and how it ends, open a browser, and make a solver ready meanwhile."""
    if warm is not None:
        warm()
    first_word.spoken()
    print(f"Explorer: {address}\nFor this machine only; {ends}.", flush=True)
    if not no_browser:
        import webbrowser

        if not webbrowser.open(address):
            say_error("No browser could be opened; open the address above in one.")
