"""A tab that shows a bay: what it asks for changes the session, and what solvers find goes back to it.

    the tab says set, undo, pin …     → Session           checked at the case's own door; a refusal goes to the control
      quick solve at once              → answer            of the newest change; those dragged past are left out
      own mesh when the hand rests     → answer            stops when a newer change comes
      computed flow, when asked for    → progress, answer  in a process of its own, until it is there or cancelled

Every message says which change it belongs to, so that the page never shows an old number as new.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from sim.case.bay_case import Case
from sim.case.errors import CaseError
from sim.case.fields import Quantity
from sim.case.load import AnyCase, parse_case
from sim.case.quantities import UnitError, parse
from sim.case.short_file import short_text
from sim.explorer.controls import controls_of
from sim.explorer.jobs import FlowJob, Makers, PageJob, Reply, SolveJob
from sim.explorer.kept import Kept
from sim.explorer.names import told_apart, what_differs
from sim.explorer.pages import Message, Send, whole_number
from sim.explorer.session import Pin, Session, opened
from sim.explorer.shelf import ShelvedBay
from sim.explorer.solver import Gone, Process
from sim.explorer.told import both
from sim.explorer.work import follow_air, work
from sim.results.notation_used import units_written

REST = 0.35
"""Seconds without a change after which the hand rests and the bay's own mesh is solved."""

PINNED = ("numbers", "floor", "limits", "air", "room", "highest")
"""What a pin shows of an answer."""

REFUSED = (CaseError, UnitError)
"""What the door says of a bad value."""


@dataclass(frozen=True, slots=True)
class Staff:
    """What the processes run that solve bays and follow air."""

    solver: Callable[..., None] = work
    follower: Callable[..., None] = follow_air


USUAL_STAFF = Staff()


class BayTalk:
    """The talk of one tab.

    Parameters
    ----------
    bays : what can be opened without a file.
    case : what is open at the start; None shows the bays to choose from.
    makers : of pictures and pages.
    kept : answers, shared by all tabs.
    look : what the page is told first: the colours of its maps, its units, how it ends.
    staff : what its processes run.
    """

    def __init__(
        self,
        bays: Sequence[ShelvedBay],
        case: Case | None,
        makers: Makers,
        kept: Kept,
        look: Message,
        staff: Staff = USUAL_STAFF,
    ) -> None:
        self._bays, self._makers, self._kept, self._look = bays, makers, kept, look
        self._session = opened(case) if case else None
        self._units = str(look.get("units", "si"))
        self._send: Send = lambda message: None
        self._staff = staff
        self._quick = Process(self._heard, staff.solver, makers, case or bays[0].case)
        self._own = Process(self._heard_own, staff.solver, makers, None)
        self._air: Process | None = None
        self._air_case: Case | None = None
        self._air_state: Message = {"kind": "air", "state": "none"}
        self._resting: asyncio.TimerHandle | None = None
        self._asked: dict[tuple[int, str], Case] = {}
        self._trouble: Message | None = None
        self._scenes: dict[str, str] = {}

    def warm(self) -> None:
        """Begin the solver before the tab comes; called in the server's loop."""
        self._quick.begin()

    def begin(self, send: Send) -> None:
        """Tell a tab everything, and solve what it shows."""
        self._send = send
        self.warm()
        send({"kind": "hello", "look": self._look, "bays": [bay.as_dict() for bay in self._bays]})
        if self._session is not None:
            self._show(0)
            self._solve()
            send(self._air_state)

    def hear(self, message: Message) -> None:
        """Do what the tab asks for."""
        doing: Callable[[Session, Message], Session | None] | None = {
            "set": self._set, "undo": lambda s, m: s.undo(), "redo": lambda s, m: s.redo(),
            "pin": lambda s, m: s.pin(), "unpin": lambda s, m: s.unpin(whole_number(m.get("number"))),
            "take": self._take, "wish": self._wish, "water": self._use_water,
            "again": lambda s, m: s.goes_to(s.first), "save": self._save, "report": self._report, "turn": self._turn,
            "flow": self._flow, "cancel": self._cancel, "retry": self._retry,
        }.get(str(message.get("do")))  # fmt: skip
        seq = whole_number(message.get("seq"))
        if message.get("do") == "open":
            self._open(message, seq)
        elif doing is not None and self._session is not None:
            self._change(doing, message, seq)

    def end(self) -> None:
        """End every process."""
        if self._resting is not None:
            self._resting.cancel()
        for process in (self._quick, self._own, self._air):
            if process is not None:
                process.end()

    def _change(self, doing: Callable[[Session, Message], Session | None], message: Message, seq: int) -> None:
        """Do it, or say at the control why not; then show what there is now."""
        before = self._session
        assert before is not None
        try:
            self._session = doing(before, message) or before
        except REFUSED as error:
            self._send({"kind": "refused", "key": message.get("key", "wish"), "seq": seq, "why": reasons(error)})
            return
        self._show(seq)
        if self._session.change != before.change or self._session.wish != before.wish or message.get("do") == "retry":
            self._solve()

    def _set(self, session: Session, message: Message) -> Session:
        return session.set(str(message.get("key")), str(message.get("text"))[:200], bool(message.get("moving")))

    def _take(self, session: Session, message: Message) -> Session:
        """Back to a pinned choice."""
        number = whole_number(message.get("number"))
        pin = next((pin for pin in session.pins if pin.number == number), None)
        return session.goes_to(pin.case) if pin else session

    def _wish(self, session: Session, message: Message) -> Session:
        text = str(message.get("text", "")).strip()[:200]
        return session.wishes(flux_of(text) if text else None)

    def _use_water(self, session: Session, message: Message) -> Session:
        return session.set("water.supply", str(message.get("text"))[:200])

    def _retry(self, session: Session, message: Message) -> Session:
        return session

    def _open(self, message: Message, seq: int) -> None:
        """Another bay: one of ours, or a file that the tab has read."""
        try:
            case, self._units = self._bay(message)
        except CaseError as error:
            self._send({"kind": "refused", "key": "open", "seq": seq, "why": reasons(error)})
            return
        change = self._session.change + 1 if self._session else 1
        self._session = replace(opened(case), change=change)
        self._cancel(self._session, {})
        self._air_state = {"kind": "air", "state": "none"}
        self._show(seq)
        self._send(self._air_state)
        self._solve()

    def _bay(self, message: Message) -> tuple[Case, str]:
        """The case that is to be opened, and the units that its file speaks."""
        if "text" in message:
            text, name = str(message["text"]), _stem(str(message.get("name", "case")))
            return only_bay(parse_case(text, name)), units_written(text)
        named = next((bay for bay in self._bays if bay.name == message.get("bay")), self._bays[0])
        return named.case, named.units

    def _save(self, session: Session, message: Message) -> None:
        system = "IP" if message.get("units") == "ip" else "SI"
        text = short_text(session.case, system)
        self._send({"kind": "file", "name": f"{session.case.name}-explored.toml", "type": "text/plain", "text": text})

    def _report(self, session: Session, message: Message) -> None:
        self._own.send(PageJob(session.change, session.case, "ip" if message.get("units") == "ip" else "si"))

    def made(self, name: str) -> str | None:
        """The scene that was made last, of the bay or of its computed air."""
        return self._scenes.get(name)

    def _turn(self, session: Session, message: Message) -> None:
        """Make the scene of the bay as it stands."""
        self._own.send(PageJob(session.change, session.case, "ip" if message.get("units") == "ip" else "si", "scene"))

    def _flow(self, session: Session, message: Message) -> None:
        """Begin to compute the flow of the air, of the bay as it stands."""
        case = session.case.with_({"air.model": "resolved"})
        self._cancel(session, {})
        job = FlowJob(session.change, case)
        self._air, self._air_case = Process(self._heard_air, self._staff.follower, self._makers, job), session.case
        self._say_air({"state": "running", "share": 0.0})
        self._air.begin()

    def _cancel(self, session: Session, message: Message) -> None:
        """End a flow that is being computed, or the solve on the bay's own mesh."""
        if message.get("what") == "own":
            self._own.end()
            self._failed(session.change, "own", "was stopped by you")
        elif self._air is not None:
            self._air.end()
            self._air = None
            self._say_air({"state": "cancelled"})

    def _show(self, seq: int) -> None:
        """Tell the page how the session stands."""
        session = self._session
        assert session is not None
        names = told_apart([pin.case for pin in session.pins])
        self._send({
            "kind": "session", "seq": seq, "change": session.change, "name": session.case.name,
            "title": session.case.title or session.case.name, "span": session.case.span, "units": self._units,
            "controls": [control.as_dict() for control in controls_of(session.case)],
            "undo": bool(session.past), "redo": bool(session.future), "changed": session.case != session.first,
            "differs": what_differs(session.first, session.case),
            "wish": both("heat_flux_up_W_m2", session.wish) if session.wish else None,
            "pins": [self._pin(pin, name) for pin, name in zip(session.pins, names, strict=True)],
            "air_fresh": self._air_case == session.case,
        })  # fmt: skip

    def _pin(self, pin: Pin, name: Mapping[str, str]) -> Message:
        found = self._kept.best(pin.case)
        answer = {key: found[1][key] for key in PINNED} if found else None
        own = self._session is not None and pin.case == self._session.case
        return {"number": pin.number, "name": name, "mesh": found[0] if found else "", "answer": answer, "current": own}

    def _solve(self) -> None:
        """Show what is kept of the bay, else solve it on the quick mesh; on its own when the hand rests."""
        session = self._session
        assert session is not None
        self._trouble = None
        if self._resting is not None:
            self._resting.cancel()
        found = self._kept.best(session.case)
        if found is not None:
            self._send({"kind": "answer", "change": session.change, "mesh": found[0], "kept": True, **found[1]})
        if found is None or (found[0] == "quick" and session.wish is not None):
            self._ask(self._quick, SolveJob(session.change, session.case, "quick", session.wish))
        if found is None or found[0] != "own" or session.wish is not None:
            self._resting = asyncio.get_running_loop().call_later(REST, self._refine, session.change)

    def _refine(self, change: int) -> None:
        """The hand rests: solve the bay's own mesh, once the quick one is done, which would wait for a processor."""
        session = self._session
        if session is None or session.change != change:
            return
        if (change, "quick") in self._asked and self._quick.busy:
            self._resting = asyncio.get_running_loop().call_later(REST / 5.0, self._refine, change)
        else:
            self._send({"kind": "working", "change": change, "mesh": "own"})
            self._ask(self._own, SolveJob(change, session.case, "own", session.wish))

    def _ask(self, process: Process, job: SolveJob) -> None:
        self._asked = {key: case for key, case in self._asked.items() if key[0] > job.change - 20}
        self._asked[job.change, job.mesh] = job.case
        process.send(job)

    def _heard(self, reply: object) -> None:
        """From the quick solver."""
        self._hear_solver(reply, "quick")

    def _heard_own(self, reply: object) -> None:
        """From the solver on the bay's own mesh."""
        self._hear_solver(reply, "own")

    def _hear_solver(self, reply: object, mesh: str) -> None:
        session = self._session
        if session is None or (isinstance(reply, Reply) and reply.change == 0):
            return
        if isinstance(reply, Gone):
            self._failed(session.change, mesh, f"the solver's process ended ({reply.how}); the next change begins anew")
        elif isinstance(reply, Reply) and reply.kind == "failed":
            self._failed(reply.change, reply.mesh, str(reply.told))
        elif isinstance(reply, Reply) and reply.kind == "page":
            name = f"{session.case.name}-report.html"
            self._send({"kind": "file", "name": name, "type": "text/html", "text": reply.told})
        elif isinstance(reply, Reply) and reply.kind == "scene":
            self._scenes["scene.html"] = str(reply.told)
            self._send({"kind": "scene", "change": reply.change, "name": "scene.html"})
        elif isinstance(reply, Reply) and reply.kind == "needed":
            self._send({"kind": "needed", "change": reply.change, "mesh": reply.mesh, **reply.told})
        elif isinstance(reply, Reply) and reply.kind == "answer":
            self._answered(session, reply)

    def _answered(self, session: Session, reply: Reply) -> None:
        """Keep an answer and show it; pins of that bay have it too."""
        case = self._asked.get((reply.change, reply.mesh))
        if case is not None:
            self._kept.put(case, reply.mesh, reply.told)
        self._send({"kind": "answer", "change": reply.change, "mesh": reply.mesh, "kept": False, **reply.told})
        if any(pin.case == case for pin in session.pins):
            self._show(-1)

    def _failed(self, change: int, mesh: str, why: str) -> None:
        self._trouble = {"kind": "failed", "change": change, "mesh": mesh, "why": why}
        self._send(self._trouble)

    def _heard_air(self, reply: object) -> None:
        """From the process that computes a flow."""
        if isinstance(reply, Gone):
            if self._air_state["state"] == "running":
                self._say_air({"state": "failed", "why": f"its process ended ({reply.how})"})
        elif isinstance(reply, Reply) and reply.kind == "progress":
            self._say_air({"state": "running", **reply.told})
        elif isinstance(reply, Reply) and reply.kind == "scene":
            self._scenes["scene-air.html"] = str(reply.told)
        elif isinstance(reply, Reply) and reply.kind == "failed":
            self._say_air({"state": "failed", "why": str(reply.told)})
        elif isinstance(reply, Reply) and reply.kind == "answer":
            self._say_air({"state": "there", "answer": reply.told})

    def _say_air(self, state: Message) -> None:
        """Tell how a computed flow stands, and whose it is."""
        session = self._session
        fresh = session is not None and session.case == self._air_case
        self._air_state = {"kind": "air", "fresh": fresh, **state}
        self._send(self._air_state)


class BayTalks:
    """Makes the talks of a page's tabs; the first is made ready before its tab comes, so that it answers sooner."""

    def __init__(self, make: Callable[[], BayTalk]) -> None:
        self._make, self._ready = make, list[BayTalk]()

    def warm(self) -> None:
        """Make one ready; called in the server's loop."""
        self._ready.append(self._make())
        self._ready[-1].warm()

    def __call__(self) -> BayTalk:
        return self._ready.pop() if self._ready else self._make()


def only_bay(case: AnyCase) -> Case:
    """The case, where it is that of a joist bay.

    Raises
    ------
    CaseError : it is another kind.
    """
    from sim.case.errors import Problem

    if (bay := case.joist_bay) is None:
        way = "the explorer shows joist bays; joistbay run solves this one"
        raise CaseError(case.path or case.name, [Problem("kind", "", "is a case of blocks or of air alone", way)])
    return bay


def flux_of(text: str) -> float:
    """A heat flux as typed [W/m²].

    Raises
    ------
    UnitError : it is none, or none that a floor could give.
    """
    kind = Quantity("heat flux", above=0.0, at_most=1000.0)
    value = parse(text, "heat flux")
    if not 0.0 < value <= 1000.0:
        raise UnitError(f"must be {kind.allowed()}", "floors give some 30 to 100 W/m²")
    return value


def reasons(error: CaseError | UnitError) -> list[str]:
    """What the door says, one line a problem."""
    if isinstance(error, UnitError):
        return [str(error)]
    told = error.problems[:4]
    return [f"{error.spoken(problem.key)}: {problem}" if problem.key else str(problem) for problem in told]


def _stem(name: str) -> str:
    """A short plain name from that of a file."""
    plain = "".join(c if c.isalnum() or c in "-_" else "-" for c in name.rsplit(".", 1)[0])[:60]
    return plain.strip("-") or "case"

