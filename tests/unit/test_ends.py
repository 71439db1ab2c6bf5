"""The first and the last moments of a command: a signal there brings no traceback and takes no result's exit code."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

WHILE_LOADING = """
import os, runpy, signal, sys

class Strike:
    def find_spec(self, name, path=None, target=None):
        if name == "sim.cli.letters":
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Strike())
runpy.run_module("{package}", run_name="__main__", alter_sys=True)
"""

AT_THE_END = """
import os, signal, sys
from sim.cli.main import main

class Strike:
    def __del__(self, kill=os.kill, process=os.getpid(), number=signal.{name}):
        kill(process, number)

strike = Strike()
sys.exit(main())
"""


def program(text, *arguments):
    """A program of its own that begins a command."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.run([sys.executable, "-c", text, *arguments], env=environment, capture_output=True, text=True)


@pytest.mark.parametrize("package", ["sim", "joistbay"])
def test_ctrl_c_while_a_command_is_being_loaded_brings_no_traceback(package):
    done = program(WHILE_LOADING.format(package=package), "materials")
    assert done.returncode == -signal.SIGINT  # which shells call 130
    assert done.stderr == "" and done.stdout == ""


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
@pytest.mark.parametrize(("section", "code"), [("plates.spacing", 0), ("no-such-section", 2)])
def test_a_signal_while_the_interpreter_is_taken_down_changes_no_code(name, section, code):
    done = program(AT_THE_END.format(name=name), "keys", section)
    assert done.returncode == code, done.stderr
    assert bool(done.stdout) == (code == 0)
