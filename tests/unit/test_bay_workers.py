"""Processes that hold solids: messages both ways, which of them takes a bay, work that is put off."""

import copy
from functools import partial
from pathlib import Path
from threading import Thread

import numpy as np
import pytest

from sim.jobs.bay_workers import LastReply, OwnProcess, ValueThenWork, Workers, replies_of

LARGE = np.zeros(1_000_000)
"""More than a pipe holds."""


def writes_later(result, path):
    """A harvest that puts its writing off."""
    return ValueThenWork(len(result), partial(Path(path).write_text, "written"))


def fails_later(result):
    """A harvest whose work fails."""
    return ValueThenWork(len(result), partial(Path("/nowhere/at/all").write_text, "lost"))


def echoed(workers, count, found):
    """Ask for some large values before any is read, and read them."""
    for bay in range(count):
        workers.ask(bay, "solve", LARGE)
    found.extend(replies_of(workers, range(count)))


def test_more_bays_than_processes_never_wait_for_each_other():
    """What is sent and what is answered fill their pipes at once: with both ends sending, nobody would read."""
    workers, found = Workers(1, None, copy.copy), []
    asking = Thread(target=echoed, args=(workers, 4, found), daemon=True)
    asking.start()
    asking.join(120.0)
    assert sorted(bay for bay, _ in found) == [0, 1, 2, 3]
    assert all(isinstance(reply, LastReply) and reply.value.size == LARGE.size for _, reply in found)
    workers.close()


@pytest.mark.parametrize("make", [OwnProcess, partial(Workers, 1)])
def test_work_that_is_put_off_is_done_in_the_end(make, tmp_path):
    solids = make(partial(writes_later, path=tmp_path / "text"), copy.copy)
    solids.ask(0, "solve", [1, 2, 3])
    ((_, reply),) = replies_of(solids, [0])
    assert reply.value == 3
    solids.settle()
    assert (tmp_path / "text").read_text() == "written"
    solids.close()


@pytest.mark.parametrize("make", [OwnProcess, partial(Workers, 1)])
def test_what_goes_wrong_with_it_is_told(make):
    solids = make(fails_later, copy.copy)
    solids.ask(0, "solve", [1])
    list(replies_of(solids, [0]))
    with pytest.raises(OSError):
        solids.settle()
    solids.close()
