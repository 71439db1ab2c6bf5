"""`joistbay explore`: a bay that answers while it is changed, on a page of this machine alone."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from sim.cli.errors import UsageError, say_error
from sim.cli.load import check_size, is_house, load_bay

if TYPE_CHECKING:
    import socket

    from sim.case.bay_case import Case
    from sim.explorer.jobs import Makers
    from sim.explorer.pages import ServedPage
    from sim.run import Result


def explore(
    case: Path | None = None,
    /,
    *,
    port: int = 0,
    no_browser: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    keep_open: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
) -> int:
    """Open a page in the browser on which a bay answers while it is changed; it ends when its last tab is closed.

    The page is served to this machine alone, under an address that nobody can guess; it needs no network.

    Parameters
    ----------
    case
        A case file of a joist bay; left out, the page offers a few bays to begin with.
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
    bay = None if case is None else _bay(case)
    from sim.explorer.server import LINGER, Server

    listening = _listen(port)
    ends = "Ctrl-C ends it" if keep_open else f"it ends {LINGER:.0f} s after its last tab is closed, or with Ctrl-C"
    look = {"units": _units(case), "ends": f"The program answers this machine only; {ends} where it was started."}
    server = Server({"bay": bay_page(bay, look)}, "bay", keep_open=keep_open)
    _serve(server, listening, partial(_ready, ends, no_browser))
    return 0


def need_library() -> None:
    """UsageError in one line where the server's library is missing."""
    from sim.machine.extras import what_to_install

    if missing := what_to_install("aiohttp"):
        raise UsageError(f"the explorer needs a library that is not here: {missing}")


def _bay(path: Path) -> Case:
    """The bay of a file, refused here where it cannot be explored."""
    if is_house(path):
        raise UsageError(f"{path}: is a house, and the explorer shows one bay; joistbay house lays it out")
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


def bay_page(case: Case | None, words: dict[str, str]) -> ServedPage:
    """The page of a bay, or of those to choose from; `words` are its units and how it ends."""
    from sim.explorer.bay_talk import BayTalk
    from sim.explorer.kept import Kept
    from sim.explorer.pages import ServedPage
    from sim.explorer.shelf import shelf
    from viz.explorer import BAY_PAGE
    from viz.explorer.picture import look

    return ServedPage(BAY_PAGE, partial(BayTalk, shelf(), case, makers(), Kept(), look() | words))


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
    from tempfile import TemporaryDirectory

    from sim.cli.report import page_of
    from sim.problems.save_result import save_result
    from viz.report.html import page_html

    with TemporaryDirectory(prefix="joistbay-") as place:
        page, _ = page_of(save_result(result, Path(place) / result.case.name))
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


def _ready(ends: str, no_browser: bool, address: str) -> None:
    """Say where it is and how it ends, and open a browser."""
    print(f"Explorer: {address}\nFor this machine only; {ends}.", flush=True)
    if not no_browser:
        import webbrowser

        if not webbrowser.open(address):
            say_error("No browser could be opened; open the address above in one.")
