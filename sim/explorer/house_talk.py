"""A tab that shows a house: what it asks for changes the session, and what its bays come to goes back to it.

    the tab says set, undo, save …   → HouseSession      checked at the house's own door; a refusal goes to the control
      coarse bays at once            → progress, answer  of the newest change; one that is overtaken stops at its bay
      bays on their own mesh         → progress, answer  when asked for

Every message says which change it belongs to, so that the page never shows an old number as new.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from sim.case.errors import CaseError
from sim.case.quantities import UnitError
from sim.explorer.bay_talk import reasons
from sim.explorer.house_controls import house_controls, room_controls
from sim.explorer.house_session import HouseSession, saved_text
from sim.explorer.house_work import HouseJob, Picture, work_on_house
from sim.explorer.jobs import Reply
from sim.explorer.kept import Kept
from sim.explorer.pages import Message, Send, whole_number
from sim.explorer.solver import Gone, Process

MOST_KEPT = 40
"""Answers that undo and other tabs have at once; some 300 kB each."""


class HouseTalk:
    """The talk of one tab.

    Parameters
    ----------
    session : the house as it was opened.
    picture : makes of its record what the page shows.
    store : folder in which solved bays are kept.
    kept : answers, shared by all tabs.
    look : units that the page opens with, and how the program ends.
    """

    def __init__(
        self, session: HouseSession, picture: Picture, store: Path, kept: Kept, look: Mapping[str, str]
    ) -> None:
        self._session, self._kept, self._look = session, kept, look
        self._room = 0
        self._send: Send = lambda message: None
        self._process = Process(self._heard, work_on_house, picture, str(store))
        self._asked: dict[tuple[int, str], str] = {}

    def begin(self, send: Send) -> None:
        """Tell a tab everything, and lay out what it shows."""
        self._send = send
        send({"kind": "hello", "look": self._look})
        self._show(0)
        self._solve("coarse")

    def hear(self, message: Message) -> None:
        """Do what the tab asks for."""
        doing = {
            "set": self._set, "undo": lambda m: self._session.undo(), "redo": lambda m: self._session.redo(),
            "again": lambda m: self._session.again(), "room": self._choose, "save": self._save, "own": self._own,
            "retry": lambda m: self._solve("coarse"), "cancel": self._cancel,
        }.get(str(message.get("do")))  # fmt: skip
        if doing is not None:
            self._change(doing, message)

    def made(self, name: str) -> str | None:
        """Nothing is made for a tab of a house."""
        return None

    def end(self) -> None:
        """End the process."""
        self._process.end()

    def _change(self, doing: Callable[[Message], HouseSession | None], message: Message) -> None:
        """Do it, or say at the control why not; then show what there is now."""
        seq, before = whole_number(message.get("seq")), self._session
        try:
            self._session = doing(message) or self._session
        except (CaseError, UnitError, OSError) as error:
            why = reasons(error) if isinstance(error, CaseError | UnitError) else [str(error)]
            self._send({"kind": "refused", "key": message.get("key", ""), "seq": seq, "why": why})
            return
        self._show(seq)
        if self._session.change != before.change:
            self._solve("coarse")

    def _set(self, message: Message) -> HouseSession:
        key = str(message.get("key"))
        known = {control["key"] for control in self._controls()}
        return self._session.set(key, str(message.get("text"))[:300]) if key in known else self._session

    def _choose(self, message: Message) -> None:
        """Another room."""
        names = [room.name for room in self._session.house.rooms]
        if message.get("room") in names:
            self._room = names.index(str(message["room"]))

    def _save(self, message: Message) -> None:
        name = f"{self._session.house.name}-explored.toml"
        self._send({"kind": "file", "name": name, "type": "text/plain", "text": saved_text(self._session)})

    def _own(self, message: Message) -> None:
        self._solve("own")

    def _cancel(self, message: Message) -> None:
        """End the work; bays that were solved stay."""
        self._process.end()
        self._failed(self._session.change, "was stopped by you; bays that were solved are kept")

    def _controls(self) -> list[dict[str, Any]]:
        house = self._session.house
        return [*house_controls(house), *room_controls(house, self._room)]

    def _show(self, seq: int) -> None:
        """Tell the page how the session stands."""
        session, house = self._session, self._session.house
        room = house.rooms[self._room]
        self._send({
            "kind": "session", "seq": seq, "change": session.change, "name": house.name,
            "title": house.title or house.name, "room": room.name,
            "room_title": f"{room.name}, {room.title}" if room.title else room.name,
            "rooms": [{"name": one.name, "title": one.title or one.name, "storey": one.storey} for one in house.rooms],
            "house": house_controls(house), "own": room_controls(house, self._room),
            "undo": bool(session.past), "redo": bool(session.future), "changed": session.text != session.first,
        })  # fmt: skip

    def _solve(self, mesh: str) -> None:
        """Show what is kept of the house, else lay it out."""
        session = self._session
        found = self._kept.best(session.text, ("own", mesh))
        if found is not None:
            self._send({"kind": "answer", "change": session.change, "mesh": found[0], **found[1]})
            return
        self._asked = {key: text for key, text in self._asked.items() if key[0] > session.change - 20}
        self._asked[session.change, mesh] = session.text
        self._send({"kind": "working", "change": session.change, "mesh": mesh})
        self._process.send(HouseJob(session.change, session.text, session.house.name, session.house.path, mesh))

    def _heard(self, reply: object) -> None:
        """From the process."""
        if isinstance(reply, Gone):
            self._failed(self._session.change, f"its process ended ({reply.how}); the next change begins anew")
        elif isinstance(reply, Reply) and reply.kind == "failed":
            self._failed(reply.change, str(reply.told))
        elif isinstance(reply, Reply) and reply.kind in ("progress", "outline"):
            self._send({"kind": reply.kind, "change": reply.change, "mesh": reply.mesh, **reply.told})
        elif isinstance(reply, Reply) and reply.kind == "answer":
            text = self._asked.get((reply.change, reply.mesh))
            if text is not None:
                self._kept.put(text, reply.mesh, reply.told)
            self._send({"kind": "answer", "change": reply.change, "mesh": reply.mesh, **reply.told})

    def _failed(self, change: int, why: str) -> None:
        self._send({"kind": "failed", "change": change, "why": why})
