"""The lowest versions that `pyproject.toml` states: `python tests/tools/lowest.py FOLDER [PYTHON] [--newest]`, minutes.

Makes a virtual environment of a Python in FOLDER with exactly those (`--newest`: with the newest that there are),
installs this checkout there, and from an empty folder solves a bay, its pictures, a problem with a known answer and an
export. Ends with 1 where anything fails.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
QUICK = (
    ("--version",),
    ("check", "cases/demo/kitchen-vinyl.toml"),
    ("run", "cases/demo/family-oak.toml", "--fineness", "coarse"),
    ("export", "runs/family-oak", "--to", "csv"),
    ("verify", "plane-wall", "layered-floor"),
)


def pins(requirements: list[str]) -> list[str]:
    """Requirements at their lowest.

    >>> pins(["numpy>=1.26", "dask[distributed]>=2024.5"])
    ['numpy==1.26', 'dask==2024.5']
    """
    return [re.sub(r"\[.*?\]", "", text).replace(">=", "==") for text in requirements]


def main(folder: Path, python: str, newest: bool) -> int:
    """Make it, install, and run; 1 where anything fails."""
    stated = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    (folder / "empty").mkdir(parents=True, exist_ok=True)
    subprocess.run([python, "-m", "venv", str(folder / "venv")], check=True)
    (folder / "pins.txt").write_text("\n".join(pins(stated)) + "\n", "utf-8")
    bin_of = folder / "venv" / "bin"
    install = [bin_of / "pip", "install", "-q", *([] if newest else ["-c", folder / "pins.txt"]), ROOT]
    subprocess.run([str(part) for part in install], check=True)
    clean = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    for command in QUICK:
        done = subprocess.run([str(bin_of / "joistbay"), *command], cwd=folder / "empty", env=clean, check=False)
        print(f"{'ok' if done.returncode == 0 else 'FAILED'}: joistbay {' '.join(command)}", flush=True)
        if done.returncode:
            return 1
    return 0


if __name__ == "__main__":
    folder, *more = [text for text in sys.argv[1:] if text != "--newest"]
    raise SystemExit(main(Path(folder), more[0] if more else sys.executable, "--newest" in sys.argv))
