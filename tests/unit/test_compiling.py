"""Stored kernels never outlive a source that they were made from: in every room, wherever they are kept."""

import ast
import importlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from our_source import tree

from sim.machine.compiling import PACKAGE, stamp_of

OUTER = """
from sim.machine.compiling import njit
from sim.{inner} import gain

@njit(cache=True)
def amplified(x):
    return gain(x)
"""
INNER = """
from sim.machine.compiling import njit

@njit(cache=True)
def gain(x):
    return {factor}.0 * x
"""
ASK = "import sys; from sim.{outer} import amplified; print(amplified(2.0), *amplified.stats.cache_hits.values())"


def test_all_kernels_come_from_one_compiler():
    """No file takes `njit` from Numba itself; loops rehearsed for an accelerator are never stored."""
    allowed = {"machine/compiling.py", "airflow/device/seam.py"}
    wrong = [
        f"{path.relative_to(PACKAGE)}:{node.lineno}"
        for path in PACKAGE.rglob("*.py")
        if path.relative_to(PACKAGE).as_posix() not in allowed
        for node in ast.walk(tree(path))
        if (isinstance(node, ast.ImportFrom) and node.module == "numba" and any("jit" in n.name for n in node.names))
        or (isinstance(node, ast.Attribute) and node.attr in ("njit", "jit") and ast.unparse(node.value) == "numba")
    ]
    assert not wrong, wrong


def kernel_modules():
    """Every file that stores kernels of its own, by what it binds to names."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if "@compiled" in (text := path.read_text("utf-8")) or "@njit" in text:
            yield path.relative_to(PACKAGE.parent).with_suffix("").as_posix().replace("/", ".")


@pytest.mark.parametrize("name", list(kernel_modules()))
def test_a_stored_kernel_knows_all_its_sources(name):
    module = importlib.import_module(name)
    kernels = [
        value
        for value in vars(module).values()
        if isinstance(value, numba.core.dispatcher.Dispatcher) and value.py_func.__module__ == name
    ]
    assert kernels
    for kernel in kernels:
        assert kernel._cache._impl.locator.get_source_stamp()[1] == stamp_of(Path(module.__file__).resolve())


def test_rooms_with_kernels_are_seen():
    assert {name.split(".")[1] for name in kernel_modules()} == {"airflow", "physics", "solver"}


@pytest.mark.parametrize(
    ("kernel", "source"),
    [
        ("airflow/transport.py", "airflow/rows.py"),
        ("airflow/transport.py", "airflow/heat.py"),
        ("solver/coarsen_kernels.py", "solver/column_kernels.py"),
        ("physics/tube.py", "case/fluids.py"),
        ("physics/view_factors.py", "physics/view_factors.py"),
    ],
)
def test_a_stamp_changes_with_every_source(tmp_path, kernel, source):
    package = tmp_path / "sim"
    shutil.copytree(PACKAGE, package, ignore=shutil.ignore_patterns("__pycache__"))
    stamp_of.cache_clear()
    before = stamp_of(package / kernel, package)
    (package / "house" / "rooms.py").write_text("")  # nothing that a kernel imports
    stamp_of.cache_clear()
    assert stamp_of(package / kernel, package) == before
    with open(package / source, "a") as file:
        file.write("# other\n")
    stamp_of.cache_clear()
    assert stamp_of(package / kernel, package) != before
    stamp_of.cache_clear()


@pytest.mark.parametrize("asked", [False, True], ids=["beside the source", "NUMBA_CACHE_DIR"])
def test_an_inlined_function_of_another_file_is_never_old(tmp_path, asked):
    """Same length, same date: only the text of the other file tells."""
    package = tmp_path / "sim"
    for room in ("one", "two"):
        (package / room).mkdir(parents=True)
        (package / room / "__init__.py").touch()
    (package / "__init__.py").touch()
    shutil.copytree(PACKAGE / "machine", package / "machine", ignore=shutil.ignore_patterns("__pycache__"))
    inner = package / "two" / "inner.py"
    (package / "one" / "outer.py").write_text(OUTER.format(inner="two.inner"))
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"} | {"PYTHONPATH": str(tmp_path)}
    environment |= {"NUMBA_CACHE_DIR": str(tmp_path / "kernels")} if asked else {}
    environment["PYTHONDONTWRITEBYTECODE"] = "1"

    def answer(factor):
        inner.write_text(INNER.format(factor=factor))
        os.utime(inner, (1e9, 1e9))
        command = [sys.executable, "-c", ASK.format(outer="one.outer")]
        run = subprocess.run(command, env=environment, cwd=tmp_path, capture_output=True, text=True, check=True)
        return run.stdout.split()

    assert answer(3) == ["6.0"]
    assert answer(3) == ["6.0", "1"]  # taken from the store
    assert answer(5) == ["10.0"]


DAMAGES = {
    "type that is gone": lambda data: data.replace(b"Box", b"Bax"),
    "cut short": lambda data: data[: len(data) // 2],
    "no pickle": lambda data: b"\x80\x05nonsense",
}
"""What may have become of a stored kernel."""


def test_a_stored_kernel_that_cannot_be_read_is_compiled_anew(tmp_path):
    """A renamed argument type made every command of an updated checkout end in a traceback."""
    script = (
        "import numba; from collections import namedtuple; from sim.machine.compiling import njit\n"
        "class Box(namedtuple('Box', 'size')): pass\n"
        "import gains; print(gains.double(gains.Box(3.0)))\n"
    )
    (tmp_path / "gains.py").write_text(
        "from typing import NamedTuple\nfrom sim.machine.compiling import njit\n"
        "class Box(NamedTuple):\n    size: float\n"
        "@njit(cache=True)\ndef double(box):\n    return 2.0 * box.size\n"
    )
    paths = os.pathsep.join((str(tmp_path), str(PACKAGE.parent)))
    known = os.environ | {"PYTHONPATH": paths, "NUMBA_CACHE_DIR": str(tmp_path / "kept")}

    def run():
        done = subprocess.run([sys.executable, "-c", script], env=known, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    assert run() == "6.0"
    for name, damage in DAMAGES.items():
        whole = {file: file.read_bytes() for file in (tmp_path / "kept").rglob("*.nb[ic]")}
        assert {file.suffix for file in whole} == {".nbi", ".nbc"}, name
        for file, data in whole.items():
            file.write_bytes(damage(data))
        assert run() == "6.0", name
