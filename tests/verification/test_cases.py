"""Every verification folder reproduces its published and derived numbers; expected.toml has their sources."""

import shutil
from types import SimpleNamespace

import pytest

from sim.verify.accuracy import compare_folder, solve_folder, verify
from sim.verify.folder import CASES, Folder, folders, load_checks

NAMES = [folder.name for folder in folders()]
QUICK = [folder.name for folder in folders() if folder.coarse]
LONG = {
    "side-heated-square-1e6": "side-heated-square-1e5",
    "conducting-wall-1e6-10": "conducting-wall-1e5-10",
    "conducting-wall-1e5-1": "conducting-wall-1e5-10",
    "conducting-block-0.2": "conducting-block-5",
    "cylinder-in-a-square-1e6": "cylinder-in-a-square-1e5",
    "radiating-cavity-1e4": "radiating-cavity-1e5",
    "radiating-cavity-1e6": "radiating-cavity-1e5",
    "cube-between-even-walls-1e5": "conducting-wall-1e5-10",
    "lump-cooled-by-air": "lump-over-still-air",
}
"""Quick runs that are left to the slow tier, and the same problem in a lighter form that every run solves."""


def missed(rows):
    """The rows outside their limits, as text."""
    return [str(row) for row in rows if not row.passed]


@pytest.mark.parametrize("name", [pytest.param(n, marks=pytest.mark.slow if n in LONG else ()) for n in QUICK])
def test_quick_run(name):
    assert not missed(verify([name]))


def test_what_the_slow_tier_keeps_has_its_like_here():
    assert set(LONG) <= set(QUICK)
    assert set(LONG.values()) <= set(QUICK) - set(LONG)


@pytest.mark.parametrize(
    ("name", "words"), [("side-heated-square-1e3", "step "), ("nafems-t3", " s"), ("shape-factors", "residual ")]
)
def test_long_work_says_how_far_it_is(name, words):
    heard = []
    verify([name], tell=heard.append)
    assert len(heard) > 1
    assert all(words in text for text in heard)


def test_few_folders_are_left_to_the_full_run():
    left = sorted(set(NAMES) - set(QUICK))
    assert all(verify([name]) == [] for name in left)
    assert len(left) < len(QUICK) / 3


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_full_run(name):
    assert not missed(verify([name], full=True))


@pytest.mark.parametrize("name", NAMES)
def test_folder_is_complete(name):
    folder: Folder = load_checks(CASES / name)
    assert (CASES / name / "README.md").read_text("utf-8").startswith("# ")
    assert folder.checks
    assert all(check.source and check.unit and check.allowed > 0.0 for check in folder.checks)


def copied(name, tmp_path, old, new):
    """A verification folder with some text of expected.toml replaced."""
    shutil.copytree(CASES / name, tmp_path / name)
    expected = tmp_path / name / "expected.toml"
    text = expected.read_text("utf-8")
    assert old in text
    expected.write_text(text.replace(old, new), "utf-8")
    return load_checks(tmp_path / name)


def test_the_quick_run_may_state_its_own_tolerance(tmp_path):
    """The cube's coarse mesh misses 1 % (that is why a quick tolerance is stated); without it that is a miss."""
    strict = copied("side-heated-cube-1e4", tmp_path, "quick_relative = 0.03", "")
    assert strict.checks[0].limit(full=False) == strict.checks[0].allowed == 0.01 * 2.0542
    assert missed(compare_folder(strict))


def test_a_wrong_number_is_a_miss(tmp_path):
    rows = compare_folder(copied("nafems-t2", tmp_path, "927.0", "927.2"))
    assert [row.passed for row in rows] == [False]
    assert "FAIL" in str(rows[0])


def test_a_wrong_number_at_a_time_is_a_miss(tmp_path):
    rows = compare_folder(copied("nafems-t3", tmp_path, "36.60", "36.80"))
    assert [(row.quantity, row.passed) for row in rows] == [("probe_target_C at 32 s", False)]


def test_a_number_that_the_report_lacks(tmp_path):
    with pytest.raises(ValueError, match="nafems-t3: expects probe_target_C at 31 s, .*probe_target_C at 32 s"):
        compare_folder(copied("nafems-t3", tmp_path, "at = 32.0", "at = 31.0"))


def test_total_heat_is_compared_on_half_the_mesh():
    # Mesh-halving rule of ISO 10211:2017; held here on a problem small enough for every run.
    rows = [row for row in verify(["iso-10211-case-4"], full=True) if "halved" in row.quantity]
    assert [row.passed for row in rows] == [True]


@pytest.mark.parametrize(("old", "new"), [("absolute = 0.1", ""), ("absolute = 0.1", "absolute = 0.1\nrelative = 0.1")])
def test_one_tolerance_for_each_check(tmp_path, old, new):
    with pytest.raises(ValueError, match="tolerance"):
        copied("nafems-t2", tmp_path, old, new)


def test_a_mesh_that_cannot_be_halved(tmp_path):
    with pytest.raises(ValueError, match="even"):
        copied("iso-10211-case-4", tmp_path, "full = 2", "full = 3")


def test_what_tells_of_errors_alone_is_not_computed(monkeypatch):
    """No companion on larger cells, whatever the case says; the device is the one that is asked for."""
    solved = []
    kind = SimpleNamespace(solve=lambda case, *_: solved.append(case), summarise=lambda _: {})
    monkeypatch.setattr("sim.verify.accuracy.kind_stated", lambda case: kind)
    for device in (None, "auto"):
        solve_folder(load_checks(CASES / "conducting-wall-1e5-10"), 1, device=device)
    assert [(case.air.companion, case.air.device) for case in solved] == [(False, "cpu"), (False, "auto")]


def test_unknown_name_leads_to_the_list():
    with pytest.raises(ValueError, match="cupboard; joistbay verify --list names all"):
        verify(["cupboard"])


def test_a_name_that_nearly_fits_brings_the_right_one():
    with pytest.raises(ValueError, match='plane-wal; did you mean "plane-wall"'):
        verify(["plane-wal"])


def test_listener_hears_of_each_case():
    heard = []
    verify(["nafems-t2"], listener=heard.append)
    assert [str(folder) for folder in heard] == ["nafems-t2: 1 numbers, mesh 1 (quick) and 2 (full)"]
