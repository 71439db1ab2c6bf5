"""Plants single errors in rooms and reports those that no test notices.

    nice python tests/tools/mutants.py physics solver --count 50 --out OUT      drawn by --seed, taken up again

Works on a copy of the tree below OUT with kernels of its own; sources stay as they were drawn from, tests are those of
today. A test file is first run without an error, which tells of each test its time and the functions that it reaches,
by its fixtures too. An error is then met by the tests that reach its function, file by file, the nearest by imports
first and the quickest of a file first, until one fails, one takes far too long (both count as noticed), or `--spend`
seconds are spent. Errors in kernels are met by tests that are quick enough where nothing is compiled.
OUT/mutants.json keeps every verdict, OUT/survivors.md the table to judge.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType

from listen import Listener, children_spent
from plant import Mutant, mutants_of
from reach import STAMPS, Reach

ROOT = Path(__file__).parents[2]
ROOMS = ("physics", "bay", "solver", "airflow", "resolved", "house")
TEXTS = ("pyproject.toml", "setup.py", "README.md", "DEVELOPERS.md")
COPIED = ("joistbay", "sim", "viz", "tests", "cases", "docs", *TEXTS)
LEFT_OUT = {"test_budget", "test_layering", "test_device", "test_killed", "test_stopped", "test_faults", "test_mutants"}
"""Tests of the source's looks, of hardware, and of being killed."""

HEAVY, LONGEST = 6.0, 40.0
"""Test files that take longer [s] come last; of those that take longer still, kernels aside, the rest is left out."""

FAR_ENOUGH = 4
"""After listening to so many test files that do not reach it an error is left to `--far`."""

SHARED = re.compile(r"^@(functools\.)?(lru_)?cache|scope=", re.MULTILINE)
"""What one test has worked out may be looked at by others of its file: then all of them meet an error."""

WHOLE = ".whole"
"""Ending of the name under which a source waits while an error stands in its place."""

MUCH_LONGER = 10.0
"""A test file that takes so many times its usual processor time, and 10 s, has hung."""

EXAMPLES = "tests/unit/test_doctests.py"
"""Runs the examples in docstrings, of whatever file."""

UNCOMPILED = " uncompiled"
"""Ending of the name under which it is kept how a test file runs where nothing is compiled."""

AHEAD = (
    "numpy", "scipy.sparse.linalg", "scipy.optimize", "numba", "pydantic", "pint", "hypothesis", "xarray", "pytest",
    "_pytest.assertion.rewrite", "pyamg", "rich.console", "cyclopts",
)  # fmt: skip
"""Loaded once; every run is a fork that has them."""


@dataclass(frozen=True)
class Verdict:
    """What became of an error: killed, timeout, survived, unreached or same; by which test file; time spent [s].

    The same: it is compiled to what was there before.
    """

    mutant: Mutant
    outcome: str
    by: str
    seconds: float

    @property
    def noticed(self) -> bool:
        return self.outcome in ("killed", "timeout")


class Trials:
    """The copy of the tree, and test files run on it."""

    def __init__(self, out: Path) -> None:
        self.out, self.tree, self.kernels = out, out / "tree", out / "kernels"
        for name in COPIED:
            if name == "tests" or not (self.tree / name).exists():
                shutil.rmtree(self.tree / name, ignore_errors=True)
                _copy(ROOT / name, self.tree / name)
                if name == "sim":
                    with (self.tree / "sim/machine/compiling.py").open("a", encoding="utf-8") as stamps:
                        stamps.write(STAMPS)
        for whole in self.tree.rglob(f"*{WHOLE}"):  # an earlier run was killed with an error planted
            os.replace(whole, whole.with_suffix(".py"))
        self.kernels.mkdir(exist_ok=True)
        self.book_file = out / "test_files.json"
        self.book = json.loads(self.book_file.read_text()) if self.book_file.exists() else {}
        sources = {path.relative_to(self.tree).as_posix(): path for path in _sources(self.tree)}
        self.imports = {name: set(_imports(path, self.tree)) for name, path in sources.items()}
        self.reach = Reach(self.tree, [name for name in sources if name.startswith("sim/")], self.imports)

    def tests_of(self, file: str, far: bool) -> list[str]:
        """Test files that import a file, the nearest first; far ones, by way of others, where they are asked for."""
        place, ring, seen = {file: 0}, {file}, 0
        while ring:
            seen += 1
            ring = {name for name, needs in self.imports.items() if needs & ring and name not in place}
            place |= dict.fromkeys(ring, seen)
        stem = Path(file).stem
        tests = [name for name in place if Path(name).stem.startswith("test_") and Path(name).stem not in LEFT_OUT]
        direct = [name for name in tests if stem in name or place[name] == 1]
        tests = tests if far or not direct else direct
        if ">>> " in (self.tree / file).read_text("utf-8"):
            tests.append(EXAMPLES)

        def rank(name: str) -> tuple[bool, bool, bool, int, float]:
            known = self.book[name]["cpu"] if name in self.book else 1.0
            if name == EXAMPLES:
                return False, True, False, 2, known
            heavy = known > HEAVY or stem not in name and ("_cli" in name or "verification" in name)
            unheard = place[name] > 1 and not self.book.get(name, {}).get("tests")
            return heavy, stem not in name, unheard, place[name], known

        return sorted(tests, key=rank)

    def usual(self, test: str, compiled: bool) -> dict:
        """How a test file runs without an error: its text's digest, its processor time [s], its tests that pass."""
        text = hashlib.sha256((self.tree / test).read_bytes()).hexdigest()
        name = test if compiled else f"{test}{UNCOMPILED}"
        if self.book.get(name, {}).get("text") != text:
            before = self._stored()
            cpu, tests = self._listened(test, compiled)
            if cpu > HEAVY and self._stored() > before:  # much of it may have been for kernels, which are there now
                cpu, tests = self._listened(test, compiled)
            if len(tests) < 2:
                print(f"{test}: no test passes without an error; see {self.out / 'last.log'}", flush=True)
            self.book[name] = {"text": text, "cpu": cpu, "tests": tests}
            self.book_file.write_text(json.dumps(self.book))
        return self.book[name]

    def _listened(self, test: str, compiled: bool) -> tuple[float, dict[str, dict]]:
        """Processor time [s] of a test file, and of each of its tests that passes its own and what it reaches."""
        note = self.out / "reached.jsonl"
        note.unlink(missing_ok=True)
        _, cpu = self._run([test], LONGEST, compiled, note)
        lines = note.read_text("utf-8").splitlines() if note.exists() else []
        return cpu, {told.pop("test"): told for told in map(json.loads, lines)}

    def chosen(self, test: str, mutant: Mutant, compiled: bool) -> dict[str, float]:
        """Tests of a file that reach a function, and those that look at their work: quick first, with time [s]."""
        tests = self.usual(test, compiled)["tests"]
        places = self.reach.met_at(mutant)
        reaching = {name for name, told in tests.items() if places.intersection(told["reached"])}
        if not places or "" in reaching:
            reaching = set(tests)
        if reaching and SHARED.search((self.tree / test).read_text("utf-8")):
            reaching = set(tests)
        return {name: tests[name]["cpu"] for name in sorted(reaching, key=lambda name: tests[name]["cpu"]) if name}

    def _stored(self) -> int:
        return sum(1 for _ in self.kernels.rglob("*.nbc"))

    def judge(self, mutant: Mutant, spend: float, far: bool) -> Verdict:
        """Meet an error with the tests that reach its function."""
        spent, met, in_vain = 0.0, False, 0
        place = self.tree / mutant.file
        source = place.read_text("utf-8")
        planted = mutant.plant(source)
        if same_code(compile(source, "", "exec"), compile(planted, "", "exec")):
            return Verdict(mutant, "same", "", 0.0)
        compiled = not self.reach.kernels(mutant)
        for test in self.tests_of(mutant.file, far):
            known = self.book.get(test if compiled else f"{test}{UNCOMPILED}", {})
            if met and known.get("cpu", 0.0) > spend or in_vain > FAR_ENOUGH and not far:
                continue
            chosen = self.chosen(test, mutant, compiled)
            usual, in_vain = sum(chosen.values()), in_vain + (not known.get("tests") and not chosen)
            if not chosen or met and spent + usual > spend:
                continue
            met = True
            with _planted(place, planted):
                passed, cpu = self._run(list(chosen), max(10.0, MUCH_LONGER * usual), compiled, None)
            spent += cpu
            if passed is not True:
                return Verdict(mutant, "killed" if passed is False else "timeout", test, round(spent, 2))
        return Verdict(mutant, "survived" if met else "unreached", "", round(spent, 2))

    def _run(self, tests: list[str], limit: float, compiled: bool, note: Path | None) -> tuple[bool | None, float]:
        """Whether tests pass (None: they ran out of their processor time) and that time [s]."""
        before = children_spent()
        child = os.fork()
        if child == 0:
            _be_pytest(self.tree, tests, limit, self.kernels if compiled else None, note, self.out / "last.log")
        deadline = time.monotonic() + 60.0 * limit
        while True:
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended or time.monotonic() > deadline:
                break
            time.sleep(0.02)
        if not ended:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None, children_spent() - before
        if os.WIFSIGNALED(status):
            out_of_time = os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
            return None if out_of_time else False, children_spent() - before
        return os.WEXITSTATUS(status) == 0, children_spent() - before


def _be_pytest(
    tree: Path, tests: list[str], limit: float, kernels: Path | None, note: Path | None, log: Path
) -> None:
    """Run tests in this process, which ends with it: until one fails, or, where it is listened to, all."""
    os.setsid()
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit) + 1, int(limit) + 5))
    out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.chdir(tree)
    sys.path[:] = [str(tree), *(p for p in sys.path if p and Path(p).resolve() not in (ROOT, ROOT / "tests" / "tools"))]
    os.environ["PYTHONPATH"] = str(tree)
    if kernels is None:
        os.environ["NUMBA_DISABLE_JIT"], sys.modules["numba"].config.DISABLE_JIT = "1", 1
    else:
        os.environ["NUMBA_CACHE_DIR"] = sys.modules["numba"].config.CACHE_DIR = str(kernels)
    code = 3
    try:
        import pytest

        listening = {"plugins": [Listener(tree, note)]} if note is not None else {}
        options = ["-q", "-o", "addopts=", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header"]
        options += ["-x"] if note is None else []
        code = int(pytest.main([*options, *tests], **listening))
    finally:
        sys.setprofile(None)
        sys.stdout.flush()
        os._exit(code)


class _planted:
    """A file with an error in it; dates are such that no compiled module of another text is taken for it."""

    count = 0

    def __init__(self, place: Path, text: str) -> None:
        self.place, self.text, self.whole = place, text, place.with_suffix(WHOLE)

    def __enter__(self) -> None:
        _planted.count += 1
        shutil.copy2(self.place, self.whole)
        self.place.write_text(self.text, "utf-8")
        at = time.time() - 86400.0 * 365 + 2 * _planted.count
        os.utime(self.place, (at, at))

    def __exit__(self, *_: object) -> None:
        os.replace(self.whole, self.place)


def same_code(whole: object, planted: object) -> bool:
    """Whether nothing differs in what is run."""
    if not isinstance(whole, CodeType) or not isinstance(planted, CodeType):
        return repr(whole) == repr(planted)
    plain = ("co_code", "co_names", "co_varnames", "co_freevars", "co_cellvars")
    alike = all(getattr(whole, name) == getattr(planted, name) for name in plain)
    pairs = zip(whole.co_consts, planted.co_consts, strict=False)
    return alike and len(whole.co_consts) == len(planted.co_consts) and all(same_code(*pair) for pair in pairs)


def _copy(here: Path, there: Path) -> None:
    """Copy a file or a folder, without what was compiled from it."""
    there.parent.mkdir(parents=True, exist_ok=True)
    if here.is_dir():
        shutil.copytree(here, there, ignore=shutil.ignore_patterns("__pycache__", ".*_cache"))
    else:
        shutil.copy2(here, there)


def _sources(tree: Path) -> Iterator[Path]:
    for top in ("sim", "tests"):
        yield from sorted((tree / top).rglob("*.py"))


def _imports(path: Path, tree: Path) -> Iterator[str]:
    """Files of the tree that a file imports, anywhere in it."""
    text = path.read_text("utf-8")
    found = re.findall(r"^\s*(?:>>> )?from (\S+) import \(?([^)#]*?)\)?$", text, re.M) + [
        (name, "") for name in re.findall(r"^\s*import ((?:sim|viz)\.\S+)", text, re.M)
    ]
    for module, names in found:
        parts = [part.split()[0] for part in names.split(",") if part.split()]
        for name in (module, *(f"{module}.{part}" for part in parts)):
            for base in (tree, path.parent):
                for file in (base / f"{name.replace('.', '/')}.py", base / name.replace(".", "/") / "__init__.py"):
                    if file.exists() and not (file.name == "__init__.py" and file.parent.name == "sim"):
                        yield file.relative_to(tree).as_posix()


def draw(rooms: list[str], count: int, seed: int, tree: Path = ROOT) -> list[Mutant]:
    """So many errors of each room at random, every place as likely as any other."""
    drawn = []
    for room in rooms:
        every = [m for path in sorted((tree / "sim" / room).rglob("*.py")) if "device" not in path.parts
                 for m in mutants_of(tree, path.relative_to(tree).as_posix())]
        drawn += random.Random(f"{seed} {room}").sample(every, min(count, len(every)))
    random.Random(seed).shuffle(drawn)
    return drawn


def report(verdicts: list[Verdict]) -> str:
    """The score by room, and a table of the survivors."""
    lines = ["| Room | planted | noticed | share |", "|---|---|---|---|"]
    rooms = sorted({v.mutant.file.split("/")[1] for v in verdicts})
    for room in [*rooms, "all"]:
        mine = [v for v in verdicts if room in ("all", v.mutant.file.split("/")[1])]
        noticed = sum(v.noticed for v in mine)
        lines.append(f"| {room} | {len(mine)} | {noticed} | {noticed / len(mine):.0%} |")
    lines += ["", "| Where | kind | was | is | |", "|---|---|---|---|---|"]
    for v in sorted(verdicts, key=lambda v: v.mutant.key):
        if not v.noticed:
            old, new = (" ".join(text.split()).replace("|", "\\|") for text in (v.mutant.old, v.mutant.new))
            lines.append(f"| {v.mutant.file}:{v.mutant.line} | {v.mutant.kind} | `{old}` | `{new}` | {v.outcome} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Draw, plant, judge, report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--count", type=int, default=50, help="errors a room")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--spend", type=float, default=30.0, help="processor time for one error [s]")
    parser.add_argument("--until", help="stop at this time of day, such as 17:05")
    parser.add_argument("--again", action="store_true", help="meet the survivors again, with the tests of today")
    parser.add_argument("--far", action="store_true", help="also by tests that import the file by way of others")
    parser.add_argument("--out", type=Path, required=True)
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    book = wanted.out / "mutants.json"
    kept = [Verdict(Mutant(**v.pop("mutant")), **v) for v in json.loads(book.read_text())] if book.exists() else []
    done = {v.mutant.key: v for v in kept if v.noticed or not wanted.again}
    for name in AHEAD:
        importlib.import_module(name)
    trials = Trials(wanted.out)
    drawn = draw(wanted.rooms, wanted.count, wanted.seed, trials.tree)
    for mutant in sorted(drawn, key=lambda m: bool(trials.reach.kernels(m))):  # kernels last
        if wanted.until and time.strftime("%H:%M") >= wanted.until:
            break
        if mutant.key not in done:
            done[mutant.key] = trials.judge(mutant, wanted.spend, wanted.far)
            verdict = done[mutant.key]
            book.write_text(json.dumps([asdict(v) for v in done.values()], indent=1))
            (wanted.out / "survivors.md").write_text(report(list(done.values())))
            told = f"{len(done):4d} {verdict.outcome:9s} {verdict.seconds:6.1f} s {mutant.key}"
            print(f"{time.strftime('%H:%M:%S')} {told}", flush=True)


if __name__ == "__main__":
    main()
