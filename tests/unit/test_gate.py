"""When the main thread rests, and whether a stop stands behind an error, whatever stands behind what."""

import threading

import pytest

from sim.machine import gate
from sim.machine.gate import stop_here, was_interrupted, whole


@pytest.fixture
def rests(monkeypatch):
    """How often the main thread has come to rest, at a gate of this test's own."""
    found = []
    monkeypatch.setattr(gate, "_gate", gate._Gate())
    monkeypatch.setattr(gate, "_rest", lambda: found.append(True))
    return found


def test_a_stop_waits_for_the_end_of_what_must_be_whole(rests):
    with whole():
        with whole():
            stop_here()
        assert not rests, "the outer step is not done"
    assert len(rests) == 1


def test_between_steps_a_stop_rests_at_once_and_what_was_whole_before_holds_nothing_up(rests):
    with pytest.raises(OSError), whole():
        raise OSError("a step that failed")
    assert not rests
    stop_here()
    assert len(rests) == 1


def test_steps_of_other_threads_hold_nothing_up(rests):
    begun, done = threading.Event(), threading.Event()

    def work():
        with whole():
            begun.set()
            done.wait(10.0)

    other = threading.Thread(target=work)
    other.start()
    begun.wait(10.0)
    stop_here()
    assert len(rests) == 1
    done.set()
    other.join()
    assert len(rests) == 1, "it is the main thread that rests"


def raised(cause, context=None):
    error = ValueError("refused")
    error.__cause__, error.__context__ = cause, context
    return error


def test_a_stop_behind_an_error_is_found_through_causes_and_contexts():
    assert was_interrupted(KeyboardInterrupt())
    assert was_interrupted(raised(raised(None, KeyboardInterrupt())))
    assert not was_interrupted(raised(OSError("disk")))
    assert not was_interrupted(None)


def test_errors_that_stand_behind_each_other_come_to_an_end():
    one, other = ValueError("one"), KeyError("other")
    one.__cause__, other.__context__ = other, one
    assert not was_interrupted(one) and not was_interrupted(other)
    lonely = ValueError("own cause")
    lonely.__cause__ = lonely
    assert not was_interrupted(lonely)
