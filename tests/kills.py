"""Long commands, as programs of their own, that are stopped or killed; what must hold afterwards."""

import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from functools import reduce
from pathlib import Path

from tests import tiny_bays

FINER = {'across = "25 mm"': 'across = "12 mm"', 'along = "60 mm"': 'along = "30 mm"',
         'through = "50 mm"': 'through = "25 mm"', "layer_cells = 1": ""}  # fmt: skip
TINY = reduce(lambda text, change: text.replace(*change), FINER.items(), tiny_bays.TINY)
INPUTS = ("--inputs", "air.film_factor=0.7..1.4", "--samples", "12")
LONG = {
    "study": ("study", "tiny.toml", *INPUTS),
    "study, two workers": ("study", "tiny.toml", *INPUTS, "--workers", "2"),
    "compare": ("compare", "tiny.toml", "--spacing", "120mm,150mm,180mm,200mm,240mm"),
    "compare, two workers": ("compare", "tiny.toml", "--spacing", "120mm,150mm,180mm,200mm,240mm", "--workers", "2"),
    "warmup": ("warmup", "tiny.toml", "--vary", "water.supply=40degC,45degC,50degC"),
    "run": ("run", "tiny.toml", "--uncertainty"),
}
"""Commands that take some seconds, by what they are called."""

CODES = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGKILL: -9}
QUICK = 2.0
"""Seconds from a signal to the end of a command, at most."""


@dataclass
class Command:
    """A running command in a place of its own, with its own temporary folder; its group of processes is its own."""

    place: Path
    arguments: tuple[str, ...]
    process: subprocess.Popen = field(init=False)

    def __post_init__(self):
        self.temporary.mkdir(parents=True, exist_ok=True)
        if not (self.place / "tiny.toml").exists():
            (self.place / "tiny.toml").write_text(TINY, encoding="utf-8")
        root = str(Path(__file__).parents[1])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "sim", *self.arguments, "--out", "out"],
            cwd=self.place,
            env=os.environ | {"TMPDIR": str(self.temporary), "PYTHONPATH": root},
            stdout=subprocess.DEVNULL,
            stderr=(self.place / "errors.txt").open("w"),
            start_new_session=True,
        )

    @property
    def temporary(self):
        return self.place / "tmp"

    @property
    def errors(self):
        return (self.place / "errors.txt").read_text("utf-8")

    def wait_for(self, words):
        """Until the command has said something on stderr, or has ended."""
        while not re.search(words, self.errors) and self.process.poll() is None:
            time.sleep(0.005)

    def strike(self, number):
        """A signal to all processes of the command at once, as a terminal sends it; seconds until it has ended."""
        began = time.monotonic()
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, number)
        self.process.wait(timeout=60)
        return time.monotonic() - began

    def leftovers(self):
        """What lies about: unfinished work beside and within the results, and in the temporary folder."""
        hidden = [path for path in self.place.rglob(".*") if path.suffix in (".partial", ".old", ".lock")]
        hidden += [path for path in self.place.glob("*.work") if not any(path.glob("[!.]*"))]
        return [path.relative_to(self.place).as_posix() for path in [*hidden, *self.temporary.iterdir()]]

    def companions(self):
        """Processes of the same session that are still there, zombies aside."""
        found = []
        for entry in Path("/proc").glob("[0-9]*/stat"):
            try:
                state, _, _, session = entry.read_text().rpartition(")")[2].split()[:4]
            except OSError:
                continue
            if int(session) == self.process.pid and state != "Z":
                found.append(entry.parent.name)
        return found


def check_stopped(command, number, seconds):
    """One line, the right code, soon, nothing left; a command that had just ended may have ended well."""
    if command.process.returncode == 0:
        return
    assert command.process.returncode == CODES[number], command.errors
    if number == signal.SIGKILL:
        return
    assert seconds < QUICK
    *before, last = command.errors.splitlines()
    assert last.startswith("stopped"), command.errors
    assert not [line for line in before if "Traceback" in line or "stopped" in line or "failed" in line], command.errors
    assert command.leftovers() == []


def wait_until_alone(command):
    """Helpers end with the one who hired them, also when that one was killed."""
    until = time.monotonic() + 5.0
    while command.companions() and time.monotonic() < until:
        time.sleep(0.02)
    assert command.companions() == []
