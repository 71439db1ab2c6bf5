"""The line at the end of a report that says where results are kept."""

from pathlib import Path

from sim.cli.keeping import kept_line


def test_one_picture_is_not_pictures():
    folder = Path("runs/oak")
    drawn = [folder / "pictures" / name for name in ("floor.png", "section.png")]
    assert f", 1 picture in {folder / 'pictures'}" in kept_line(folder, drawn[:1])
    assert f", 2 pictures in {folder / 'pictures'}" in kept_line(folder, drawn)
