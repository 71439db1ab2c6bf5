"""Whether a stop stands behind an error, whatever stands behind what."""

from sim.machine.gate import was_interrupted


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
