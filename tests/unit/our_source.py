"""The source that tests of its looks read: every file parsed once a process."""

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
FILES = sorted([path for room in ("joistbay", "sim", "viz") for path in ROOT.glob(f"{room}/**/*.py")])


def shown(path):
    return path.relative_to(ROOT).as_posix()


@cache
def tree(path):
    return ast.parse(path.read_text("utf-8"))
