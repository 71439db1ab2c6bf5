"""Where `joistbay compare` keeps what it found when no folder is named."""

from pathlib import Path
from types import SimpleNamespace

from sim.cli.compare import _folder_of

CASE = SimpleNamespace(name="den", compare=SimpleNamespace(choices=()))


def folder(*keys, cases=(CASE,)):
    return _folder_of(cases, [SimpleNamespace(changes={key: None}) for key in keys])


def test_spacings_are_the_usual_comparison():
    assert folder("plates.spacing") == Path("runs/den-compare")


def test_other_keys_and_files_are_parted_by_a_hyphen():
    assert folder("tube.runs") == Path("runs/den-compare-tube-runs")
    assert folder(cases=(CASE, SimpleNamespace(name="hall"))) == Path("runs/den-compare-hall")
