"""A small server for this machine alone: pages under a secret address, a line to every tab, an end when all are closed.

Every address begins with a token that is drawn for this run; without it there is nothing. Only names of this machine
are answered to (a page elsewhere that makes its own name point here is refused), and lines are opened to our own pages
alone.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
import socket
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from aiohttp import WSMsgType, web

from sim.explorer.pages import MADE_POLICY, ServedPage, Talk

LOOPBACK = "127.0.0.1"
"""The only address that is listened at."""

LINGER = 15.0
"""Seconds that the program stays after the last tab has closed, so that one may be loaded again."""

MOST_TABS = 6
"""Tabs that are answered at once; each has a solver of its own."""

LONGEST = 4_000_000
"""Bytes of one message from a tab at most: a case file that is opened comes as one."""

KINDS = {
    ".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png",
    ".json": "application/json",
}  # fmt: skip
"""Files that are given out, by their endings."""

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


@dataclass(slots=True)
class Tab:
    """A tab's talk, and whether its line is open."""

    talk: Talk
    open: bool = True
    leaving: asyncio.TimerHandle | None = None


@dataclass(slots=True)
class Server:
    """Pages by name, served until the last tab has closed.

    Attributes
    ----------
    pages : mapping of str to ServedPage
    first : str
        The page whose address is given out.
    linger : float [s]
    keep_open : bool
        Whether it goes on when no tab is left.
    """

    pages: Mapping[str, ServedPage]
    first: str
    linger: float = LINGER
    keep_open: bool = False
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    port: int = 0
    _tabs: dict[tuple[str, str], Tab] = field(default_factory=dict)
    _lines: set[web.WebSocketResponse] = field(default_factory=set)
    _done: asyncio.Event = field(default_factory=asyncio.Event)
    _loop: asyncio.AbstractEventLoop | None = None
    _ending: asyncio.TimerHandle | None = None

    @property
    def address(self) -> str:
        """What a browser is sent to."""
        return f"http://{LOOPBACK}:{self.port}/{self.token}/{self.first}/"

    async def run(self, listening: socket.socket, ready: Callable[[str], None]) -> None:
        """Serve until the end; `ready` is called with the address as soon as it answers."""
        self.port, self._loop = listening.getsockname()[1], asyncio.get_running_loop()
        runner = web.AppRunner(self._application(), access_log=None, logger=_silent(), shutdown_timeout=1.0)
        await runner.setup()
        await web.SockSite(runner, listening).start()
        ready(self.address)
        await self._done.wait()
        for tab in list(self._tabs.values()):
            tab.talk.end()
        for line in list(self._lines):
            await line.close(code=1001)
        await runner.cleanup()

    def stop(self) -> None:
        """End soon; may be called from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._done.set)

    def _application(self) -> web.Application:
        application = web.Application(middlewares=[self._guard], client_max_size=LONGEST)
        application.router.add_get("/{token}/{page}/", self._file)
        application.router.add_get("/{token}/{page}/talk", self._line)
        application.router.add_get("/{token}/{page}/{name}", self._file)
        return application

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Refuse foreign names and wrong tokens alike, and say nothing of what is here."""
        own = request.host in (f"{LOOPBACK}:{self.port}", f"localhost:{self.port}")
        given = request.match_info.get("token", "")
        known = hmac.compare_digest(given.encode(errors="replace"), self.token.encode())
        if not (own and known):
            return web.Response(status=403, text="Not this address.\n")
        return await handler(request)

    async def _file(self, request: web.Request) -> web.StreamResponse:
        """A file of a page, or a page that was made for a tab."""
        tab = self._tabs.get((request.match_info["page"], request.query.get("tab", "")[:64]))
        made = tab.talk.made(request.match_info.get("name", "")) if tab else None
        if made is not None:
            return web.Response(text=made, headers=_headers(MADE_POLICY), content_type="text/html")
        page = self.pages.get(request.match_info["page"])
        name = request.match_info.get("name", "index.html")
        path = _inside(page.folder, name) if page else None
        if page is None or path is None:
            return web.Response(status=404, text="There is no such page.\n")
        return web.Response(body=path.read_bytes(), headers=_headers(page.policy), content_type=KINDS[path.suffix],
                            charset="utf-8" if path.suffix != ".png" else None)  # fmt: skip

    async def _line(self, request: web.Request) -> web.StreamResponse:
        """The line of a tab, open as long as the tab is."""
        name = request.match_info["page"]
        page = self.pages.get(name)
        if page is None or page.talk is None or request.headers.get("Origin") != f"http://{request.host}":
            return web.Response(status=403, text="Not this address.\n")
        line = web.WebSocketResponse(heartbeat=20.0, max_msg_size=LONGEST)
        await line.prepare(request)
        key = (name, request.query.get("tab", "")[:64])
        tab = self._taken(key, page.talk)
        if tab is None:
            await line.send_json({"kind": "full", "most": MOST_TABS, "again": self._is_open(key)})
            await line.close()
            return line
        await self._converse(line, tab)
        self._left(key, tab)
        return line

    def _is_open(self, key: tuple[str, str]) -> bool:
        return key in self._tabs and self._tabs[key].open

    def _taken(self, key: tuple[str, str], talk: Callable[[], Talk]) -> Tab | None:
        """The tab of a key that was there before, or a new one; None where it is open already or there are too many."""
        if self._is_open(key):
            return None
        tab = self._tabs.get(key)
        if tab is None and sum(other.open for other in self._tabs.values()) >= MOST_TABS:
            return None
        if tab is None:
            self._make_room()
            tab = self._tabs[key] = Tab(talk())
        for timer in (tab.leaving, self._ending):
            if timer is not None:
                timer.cancel()
        tab.open, tab.leaving = True, None
        return tab

    def _make_room(self) -> None:
        """Forget tabs that have closed, the oldest first, where with one more there would be too many solvers."""
        closed = [key for key, other in self._tabs.items() if not other.open]
        for key in closed[: max(0, len(self._tabs) + 1 - MOST_TABS)]:
            leaving = self._tabs[key].leaving
            if leaving is not None:
                leaving.cancel()
            self._forget(key)

    async def _converse(self, line: web.WebSocketResponse, tab: Tab) -> None:
        """Messages both ways, in their order, until the tab goes."""
        waiting: asyncio.Queue[Any] = asyncio.Queue()

        async def tell() -> None:
            while True:
                await line.send_json(await waiting.get())

        telling = asyncio.create_task(tell())
        self._lines.add(line)
        try:
            tab.talk.begin(waiting.put_nowait)
            async for message in line:
                if message.type == WSMsgType.TEXT:
                    _pass_on(message, tab.talk)
        finally:
            telling.cancel()
            self._lines.discard(line)

    def _left(self, key: tuple[str, str], tab: Tab) -> None:
        """A line has closed: forget the tab after a while, and end after the last one."""
        tab.open = False
        loop = asyncio.get_running_loop()
        tab.leaving = loop.call_later(self.linger, self._forget, key)
        if not self.keep_open and not any(other.open for other in self._tabs.values()):
            self._ending = loop.call_later(self.linger, self.stop)

    def _forget(self, key: tuple[str, str]) -> None:
        tab = self._tabs.pop(key, None)
        if tab is not None:
            tab.talk.end()


def _silent() -> logging.Logger:
    """Where the server's own words go: requests that are none of ours are no matter for a terminal."""
    logger = logging.getLogger("joistbay.explorer")
    logger.propagate = False
    logger.addHandler(logging.NullHandler())
    return logger


def listen(port: int) -> socket.socket:
    """A socket that listens on this machine alone; port 0 takes a free one.

    Raises
    ------
    OSError : the port is taken.
    """
    return socket.create_server((LOOPBACK, port))


def _pass_on(message: Any, talk: Talk) -> None:
    """Give a message to the talk; what is no message of ours is dropped."""
    try:
        said = message.json()
    except ValueError:
        return
    if isinstance(said, dict):
        talk.hear(said)


def _inside(folder: Path, name: str) -> Path | None:
    """A file of a page's folder, by its plain name; None for anything else."""
    path = folder / name
    plain = Path(name).name == name and not name.startswith(".") and path.suffix in KINDS
    return path if plain and path.is_file() else None


def _headers(policy: str) -> dict[str, str]:
    """Every answer's: nothing foreign is loaded, nothing is kept, the address is told to nobody."""
    return {
        "Content-Security-Policy": policy,
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
    }
