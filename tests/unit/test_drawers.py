"""Processes that draw: files and remarks in order, and what becomes of work whose process died."""

import os
from functools import partial
from pathlib import Path

import pytest

from sim.cli.drawers import Begun, Drawers, DrawnAhead, Quiet


def noted(text, progress):
    """A work that draws nothing but says something."""
    progress.stage("drawing")
    progress.note(f"{text} was left out")
    return [Path(text)]


def broken(progress):
    """A work that fails."""
    raise ValueError("no such picture")


def dying(home, progress):
    """A work that takes a process other than this one with it."""
    if os.getpid() != home:
        os._exit(3)
    return [Path("drawn here")]


def test_drawn_side_by_side_and_told_in_order():
    quiet = Quiet()
    with Drawers(1) as drawers:
        files = drawers.draw([partial(noted, "a"), partial(noted, "b")], quiet)
        with pytest.raises(ValueError, match="no such picture"):
            drawers.draw([broken], quiet)
        assert drawers.draw([partial(dying, os.getpid())], quiet) == [Path("drawn here")]
        assert drawers.draw([partial(noted, "c")], quiet) == [Path("c")]
    assert files == [Path("a"), Path("b")]
    assert quiet.notes == [f"{text} was left out" for text in "abc"]


def test_drawn_ahead_comes_into_the_folder(tmp_path):
    """What the folder does not take is named, and the others come all the same."""
    draft, folder, quiet = tmp_path / "draft", tmp_path / "kept", Quiet()
    for place in (draft / "pictures", folder / "report.html"):
        place.mkdir(parents=True)
    drawn = [draft / "pictures" / "a.png", draft / "report.html"]
    for file in drawn:
        file.write_text(file.name)
    ahead = DrawnAhead(Begun([lambda progress: drawn], [None]), draft)
    assert ahead.into(folder, quiet) == [folder / "pictures" / "a.png"]
    assert (folder / "pictures" / "a.png").read_text() == "a.png" and "report.html was left out" in quiet.notes[0]
