"""The lowest versions that `pyproject.toml` states: `python tests/tools/lowest.py FOLDER [PYTHON] [--newest]`, minutes.

Makes a virtual environment of a Python in FOLDER with exactly those (`--newest`: with the newest that there are), makes
the source archive and the wheel of it, installs that there without extras, and from an empty folder runs the commands
that a stranger would: bays, pictures, a comparison, a house, a lesson, problems with a known answer. What needs an
extra must say so in one line. Then the extra of the explorer is added, and its page served. Prints what it takes on
disk and how long a command takes to begin. Ends with 1 where anything fails.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
QUICK = (
    ("--version",),
    ("check", "cases/demo/kitchen-vinyl.toml"),
    ("run", "cases/demo/family-oak.toml", "--fineness", "coarse"),
    ("export", "runs/family-oak", "--to", "csv"),
    ("compare", "cases/demo/kitchen-vinyl.toml", "--spacing", "9in,none", "--fineness", "coarse"),
    ("report", "runs/family-oak"),
    ("view", "runs/family-oak"),
    ("house", "cases/house/demo-house.toml", "--layout-only"),
    ("lesson", "fin"),
    ("verify", "plane-wall", "layered-floor"),
)
LACKING = {
    ("explore", "cases/demo/family-oak.toml"): "explore",
    ("compare", "cases/demo/family-oak.toml", "--scheduler", "tls://127.0.0.1:8786"): "cluster",
}
"""Commands that need an extra, and which."""


def pins(requirements: list[str]) -> list[str]:
    """Requirements at their lowest.

    >>> pins(["numpy>=1.26", "dask[distributed]>=2024.5"])
    ['numpy==1.26', 'dask==2024.5']
    """
    return [re.sub(r"\[.*?\]", "", text).replace(">=", "==") for text in requirements]


@dataclass(frozen=True, slots=True)
class Place:
    """A virtual environment in a folder, and an empty folder beside it from which everything is run."""

    folder: Path

    @property
    def empty(self) -> Path:
        """Where commands are run."""
        return self.folder / "empty"

    def program(self, name: str) -> str:
        """A program of the environment."""
        return str(self.folder / "venv" / "bin" / name)

    def made(self, python: str) -> None:
        """The environment, empty."""
        self.empty.mkdir(parents=True, exist_ok=True)
        subprocess.run([python, "-m", "venv", str(self.folder / "venv")], check=True)

    def pip(self, *arguments: str | Path) -> None:
        """pip of the environment."""
        subprocess.run([self.program("pip"), *map(str, arguments)], check=True, env=clean())

    def archive(self) -> Path:
        """The source archive of this checkout's tracked files, made in the environment."""
        tree = self.folder / "tree"
        shutil.rmtree(tree, ignore_errors=True)
        names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
        for name in names:
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, tree / name)
        self.pip("install", "-q", "setuptools>=68")
        build = "from setuptools import build_meta; build_meta.build_sdist('../made')"
        subprocess.run([self.program("python"), "-c", build], cwd=tree, check=True, capture_output=True, env=clean())
        return next((self.folder / "made").glob("*.tar.gz"))

    def joistbay(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """A command of the program that was installed."""
        command = [self.program("joistbay"), *arguments]
        return subprocess.run(command, cwd=self.empty, env=clean(), capture_output=True, text=True, check=False)


def clean() -> dict[str, str]:
    """The surroundings of a command, without this checkout."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}


def works(place: Place) -> Iterator[tuple[str, bool, str]]:
    """Each command that needs no extra: what it is, whether it ended well, and what it said."""
    for command in QUICK:
        done = place.joistbay(*command)
        yield " ".join(command), done.returncode == 0, done.stderr


def refuses(place: Place) -> Iterator[tuple[str, bool, str]]:
    """Each command that needs an extra: whether it said which, in its last line, and nothing of our inside."""
    for command, extra in LACKING.items():
        done = place.joistbay(*command)
        last = done.stderr.strip().splitlines()[-1] if done.stderr.strip() else ""
        said = done.returncode == 2 and f"[{extra}]" in last and "pip install" in last
        yield f"{' '.join(command)} (without its extra)", said and "Traceback" not in done.stderr, done.stderr


def explores(place: Place) -> tuple[str, bool, str]:
    """The explorer with its extra: its page is served, and Ctrl-C ends it."""
    asked = [place.program("joistbay"), "explore", "cases/demo/family-oak.toml", "--no-browser"]
    begun = subprocess.Popen(
        asked, cwd=place.empty, env=clean(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    assert begun.stdout is not None
    said, page = "", ""
    for line in begun.stdout:
        said += line
        if found := re.search(r"http://[^\s]+", line):
            page = urlopen(found[0], timeout=30).read().decode()
            break
    begun.send_signal(signal.SIGINT)
    said += begun.communicate(timeout=30)[0]
    return "explore (with its extra)", "<html" in page and begun.returncode == 130 and "Traceback" not in said, said


def measured(place: Place) -> Iterator[str]:
    """Lines on what it takes."""
    size = sum(file.lstat().st_size for file in (place.folder / "venv").rglob("*") if file.is_file())
    yield f"{size / 1e6:.0f} MB installed, compiled kernels and bytecode included"
    for asked in (["--version"], ["check", "cases/demo/kitchen-vinyl.toml"]):
        began = time.monotonic()
        place.joistbay(*asked)
        yield f"{time.monotonic() - began:.1f} s for joistbay {asked[0]}"


def main(folder: Path, python: str, newest: bool) -> int:
    """Make it, install, and run; 1 where anything fails."""
    stated = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    place = Place(folder)
    place.made(python)
    (folder / "pins.txt").write_text("\n".join(pins(stated)) + "\n", "utf-8")
    archive = place.archive()
    place.pip("wheel", "-q", "--no-deps", "-w", folder / "made", archive)
    wheel = next((folder / "made").glob("*.whl"))
    sizes = [f"{made.stat().st_size / 1e6:.1f} MB" for made in (archive, wheel)]
    print(f"{sizes[0]} source archive, {sizes[1]} wheel", flush=True)
    place.pip("install", "-q", *([] if newest else ["-c", folder / "pins.txt"]), wheel)
    failed = 0
    for what, well, said in chain(works(place), refuses(place)):
        print(f"{'ok' if well else 'FAILED'}: joistbay {what}", flush=True)
        failed += _told(well, said)
    print(*measured(place), sep="\n", flush=True)
    place.pip("install", "-q", *([] if newest else ["-c", folder / "pins.txt"]), f"{wheel}[explore]")
    what, well, said = explores(place)
    print(f"{'ok' if well else 'FAILED'}: joistbay {what}", flush=True)
    return min(1, failed + _told(well, said))


def _told(well: bool, said: str) -> int:
    """One failure, with what was said, where a command did not do well."""
    if not well:
        print(said, flush=True)
    return int(not well)


if __name__ == "__main__":
    folder, *more = [text for text in sys.argv[1:] if text != "--newest"]
    raise SystemExit(main(Path(folder), more[0] if more else sys.executable, "--newest" in sys.argv))
