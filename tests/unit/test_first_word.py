"""No start is silent: a command that loads long says that it begins, once, and never after it has spoken."""

import io
import time

import pytest

from sim.cli.errors import say_error
from sim.cli.first_word import FirstWord, first_word


class Terminal(io.StringIO):
    def isatty(self):
        return True


def listening(monkeypatch, kind):
    stream = kind()
    monkeypatch.setattr("sys.stderr", stream)
    return stream


BOTH = pytest.mark.parametrize("kind", [io.StringIO, Terminal], ids=["pipe", "terminal"])


@BOTH
def test_a_long_start_is_told_and_the_line_of_a_terminal_goes_again(kind, monkeypatch):
    heard = listening(monkeypatch, kind)
    word = FirstWord()
    word.await_("check", 0.01)
    until = time.monotonic() + 10.0
    while not heard.getvalue() and time.monotonic() < until:
        time.sleep(0.01)
    word.spoken()
    word.spoken()
    words = "joistbay check: starting, 0 s"
    assert heard.getvalue() == (f"\r\x1b[K{words}\r\x1b[K" if heard.isatty() else f"{words}\n")


def test_it_goes_on_while_nothing_else_is_said(monkeypatch):
    heard = listening(monkeypatch, io.StringIO)
    monkeypatch.setattr("sim.cli.first_word.PAUSE", 0.01)
    word = FirstWord()
    word.await_("check", 0.01)
    until = time.monotonic() + 10.0
    while heard.getvalue().count("starting") < 3 and time.monotonic() < until:
        time.sleep(0.01)
    word.spoken()
    said = heard.getvalue()
    time.sleep(0.1)
    assert said.count("starting") >= 3 and heard.getvalue() == said


@BOTH
def test_who_has_spoken_needs_no_first_word(kind, monkeypatch):
    heard = listening(monkeypatch, kind)
    word = FirstWord()
    word.await_("check", 0.05)
    word.spoken()
    time.sleep(0.15)
    assert heard.getvalue() == ""


@BOTH
def test_an_error_is_a_word(kind, monkeypatch):
    heard = listening(monkeypatch, kind)
    first_word.await_("check", 0.05)
    say_error("no such file")
    time.sleep(0.15)
    assert heard.getvalue() == "no such file\n"
