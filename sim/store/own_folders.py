"""Which folders are this program's own, so that one may be replaced or removed.

Only a folder with our mark is: results hold `versions.json`, work that is kept beside them `.joistbay-work`, and each
finished piece of that work a list of its files. One file that we did not write makes a folder somebody else's.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

VERSIONS_FILE = "versions.json"
PICTURES_FOLDER = "pictures"
WORK_MARK = ".joistbay-work"
LIST_FILE = ".joistbay-files.json"

_PICTURES = (".png", ".svg", ".pdf", ".gif", ".mp4", ".webm", ".html")
_INNER = (
    "case.toml",
    "written.toml",
    "report.html",
    "report.pdf",
    "view.html",
    "report.json",
    "fields.nc",
    "history.csv",
    "air_films.json",
    "air_frames.nc",
    "series.nc",
    "series.csv",
    VERSIONS_FILE,
)
"""Files of runs and choices within the folder of a comparison or of warm-ups."""


def is_marked(folder: Path) -> bool:
    """Whether a folder of results carries our mark: versions, this program's among them."""
    try:
        return "joistbay" in json.loads((folder / VERSIONS_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError, TypeError):
        return False


def foreign_results(folder: Path, owned: tuple[str, ...]) -> list[str]:
    """What a folder of results holds that this program did not write, relative to it.

    Parameters
    ----------
    owned : names that such a folder holds; within its folders there are pictures and runs.
    """
    tops = sorted(folder.iterdir())
    strange = [entry.name for entry in tops if entry.name not in owned]
    inside = (path for top in tops if top.name in owned and _is_folder(top) for path in _files(top))
    return strange + [str(path.relative_to(folder)) for path in inside if not _is_inner(path)]


def _is_inner(path: Path) -> bool:
    """Whether a file within a folder of results is one that we write there."""
    if path.parent.name == PICTURES_FOLDER:
        return path.suffix in _PICTURES
    return path.name in _INNER


def foreign_work(store: Path) -> list[str]:
    """What a store of kept work holds that this program did not write, relative to it."""
    return [str(path.relative_to(store)) for top in sorted(store.iterdir()) for path in _foreign_piece(top)]


def _foreign_piece(top: Path) -> Iterator[Path]:
    """Files of one entry of a store that are not ours: finished pieces list theirs, unfinished ones are hidden."""
    unfinished = top.name.startswith(".") and top.suffix in (".partial", ".old")
    if top.name == WORK_MARK or unfinished or (top.suffix == ".npz" and _is_key(top.stem)):
        return
    if not (_is_key(top.name) and _is_folder(top)):
        yield top
        return
    known = {top / name for name in _listed(top)} | {top / LIST_FILE}
    yield from (path for path in _files(top) if path not in known)


def write_list(folder: Path) -> None:
    """List the files of a finished piece of work with their sums: what came there later, or changed, is known by it."""
    sums = {path.relative_to(folder).as_posix(): _sum(path) for path in sorted(_files(folder))}
    (folder / LIST_FILE).write_text(json.dumps(sums), encoding="utf-8")


def is_whole(folder: Path) -> bool:
    """Whether a finished piece of work holds all its files as they were written."""
    sums = _listed(folder)
    try:
        return bool(sums) and all(_sum(folder / name) == found for name, found in sums.items())
    except OSError:
        return False


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _listed(folder: Path) -> dict[str, str]:
    """Files of a finished piece of work with their sums; older lists held none."""
    try:
        names = json.loads((folder / LIST_FILE).read_text(encoding="utf-8"))
        return dict(names) if isinstance(names, dict) else {str(name): "" for name in names}
    except (OSError, ValueError, TypeError):
        return {}


def _is_key(name: str) -> bool:
    """Whether a name is one of a piece of work: 16 hexadecimal digits."""
    return len(name) == 16 and set(name) <= set("0123456789abcdef")


def _files(folder: Path) -> Iterator[Path]:
    """Everything below a folder but folders; links count as they are and are not followed."""
    for path in sorted(folder.iterdir()):
        if _is_folder(path):
            yield from _files(path)
        else:
            yield path


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()
