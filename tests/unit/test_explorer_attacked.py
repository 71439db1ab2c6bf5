"""The explorer's server under a stranger's requests: refused quietly, and tabs cost no more than their share."""

import asyncio
import logging
import socket

import aiohttp
import pytest

from sim.explorer.pages import ServedPage
from sim.explorer.server import MOST_TABS, Server, listen


class Silent:
    """A talk that only remembers whether it has ended."""

    made: list = []

    def __init__(self):
        self.ended = False
        self.made.append(self)

    def begin(self, send):
        send({"kind": "hello"})

    def hear(self, message):
        pass

    def end(self):
        self.ended = True


@pytest.fixture
def served(tmp_path):
    """A function that runs what is done with a server's address and a browser's session."""
    (tmp_path / "index.html").write_text("<p>bay</p>", "utf-8")
    Silent.made = []

    def run(doing):
        async def all_of_it():
            server, ready = Server({"bay": ServedPage(tmp_path, Silent)}, "bay"), asyncio.Event()
            running = asyncio.create_task(server.run(listen(0), lambda address: ready.set()))
            await ready.wait()
            async with aiohttp.ClientSession() as session:
                found = await doing(server, session)
            server.stop()
            await running
            return found

        return asyncio.run(all_of_it())

    return run


def line(server, session, tab):
    origin = {"Origin": f"http://127.0.0.1:{server.port}"}
    return session.ws_connect(f"{server.address}talk?tab={tab}", headers=origin)


def test_nothing_of_a_page_is_kept_by_a_browser(served):
    async def headers(server, session):
        async with session.get(server.address) as answer:
            return answer.status, answer.headers["Cache-Control"]

    assert served(headers) == (200, "no-store")


def test_tabs_that_come_and_go_leave_no_more_solvers_than_tabs_may_be_open(served):
    async def living(server, session):
        most = 0
        for number in range(3 * MOST_TABS):
            opened = await line(server, session, number)
            assert (await opened.receive_json())["kind"] == "hello"
            most = max(most, sum(not talk.ended for talk in Silent.made))
            await opened.close()
            await asyncio.sleep(0.05)
        return most

    assert served(living) <= MOST_TABS
    assert len(Silent.made) == 3 * MOST_TABS and all(talk.ended for talk in Silent.made)


def test_a_tab_that_is_loaded_again_finds_its_talk(served):
    async def twice(server, session):
        for _ in range(2):
            opened = await line(server, session, "one")
            await opened.receive_json()
            await opened.close()
            await asyncio.sleep(0.05)
        return len(Silent.made)

    assert served(twice) == 1


def test_broken_requests_are_no_matter_for_the_terminal(served, capfd, caplog):
    async def broken(server, session):
        for text in ("GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", "\x16\x03\x01 no HTTP\r\n\r\n"):
            raw = socket.create_connection(("127.0.0.1", server.port), timeout=5.0)
            raw.sendall(text.encode("latin1"))
            await asyncio.sleep(0.2)
            raw.close()
        async with session.get(server.address) as answer:
            return answer.status

    with caplog.at_level(logging.DEBUG):
        assert served(broken) == 200
    assert "Traceback" not in "".join(capfd.readouterr())
    assert not [record for record in caplog.records if record.name.startswith("aiohttp")]
