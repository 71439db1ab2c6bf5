"""What tests reach, and how long they take."""

from __future__ import annotations

import json
import resource
import sys
import threading
import time
from pathlib import Path

from pluggy import HookimplMarker

hookimpl = HookimplMarker("pytest")


def children_spent() -> float:
    """Processor time of all ended children [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _compile_unheard() -> None:
    """The compiler is Python too, and slow while it is listened to."""
    from numba.core.dispatcher import Dispatcher

    usual = Dispatcher.compile

    def compile_unheard(*arguments):
        listening = sys.getprofile()
        sys.setprofile(None)
        try:
            return usual(*arguments)
        finally:
            sys.setprofile(listening)

    Dispatcher.compile = compile_unheard


class Listener:
    """Notes of every test that passes its time and the functions of the tree that it enters, itself or by its fixtures.

    A function is told by file and first line. What is entered while files are collected is noted for a test "".
    """

    def __init__(self, tree: Path, note: Path) -> None:
        self.note, self.inside, self.cut = note, f"{tree}/sim/", len(f"{tree}/")
        self.seen: dict = {}  # by identity: hashing a code object reads all of it
        self.by_fixture: dict[str, dict] = {}
        sys.setprofile(self.entered)
        threading.setprofile(self.entered)
        _compile_unheard()

    def entered(self, frame, event, _) -> None:
        if event == "call" and id(frame.f_code) not in self.seen:
            self.seen[id(frame.f_code)] = frame.f_code

    def pytest_collection_finish(self) -> None:
        self.tell("", 0.0, self.seen)

    @hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        outer, self.seen = self.seen, {}
        try:
            return (yield)
        finally:
            self.by_fixture[fixturedef.argname] = self.by_fixture.get(fixturedef.argname, {}) | self.seen
            self.seen = outer | self.seen

    @hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.seen, self.passed, before = {}, False, time.process_time() + children_spent()
        answer = yield
        if self.passed:
            for name in item.fixturenames:
                self.seen |= self.by_fixture.get(name, {})
            self.tell(item.nodeid, round(time.process_time() + children_spent() - before, 3), self.seen)
        return answer

    def pytest_runtest_logreport(self, report) -> None:
        self.passed = report.passed and (self.passed or report.when != "teardown")

    def tell(self, test: str, cpu: float, seen: dict) -> None:
        ours = (code for code in list(seen.values()) if code.co_filename.startswith(self.inside))
        reached = sorted({f"{code.co_filename[self.cut:]}:{code.co_firstlineno}" for code in ours})
        with self.note.open("a", encoding="utf-8") as out:
            out.write(json.dumps({"test": test, "cpu": cpu, "reached": reached}) + "\n")
