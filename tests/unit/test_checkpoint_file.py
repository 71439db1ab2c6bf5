"""Files of checkpoints: what was written comes back, and nothing half written stands in its place."""

import numpy as np
import pytest

from sim.jobs import checkpoint
from sim.solver.checkpoint_file import (
    is_checkpoint_file,
    read_checkpoint_file,
    state_arrays,
    state_of,
    write_checkpoint_file,
)
from sim.solver.state import State

WORDS = {"time": 0.1, "on": [True, False], "room": None}


def test_words_and_arrays_come_back(tmp_path):
    path = tmp_path / "deeper" / "march.npz"
    state = State(np.array([290.1, 300.2]), np.array([295.0]), np.array([]), np.array([[1.0, 2.0]]))
    write_checkpoint_file(path, WORDS, state_arrays(state))
    words, arrays = read_checkpoint_file(path)
    assert words == WORDS
    for name, values in state_arrays(state_of(arrays)).items():
        np.testing.assert_array_equal(values, getattr(state, name))
    assert [file.name for file in path.parent.iterdir()] == ["march.npz"]


def test_the_file_before_stays_when_writing_fails(tmp_path):
    path = tmp_path / "march.npz"
    write_checkpoint_file(path, WORDS, {"a": np.arange(3)})
    with pytest.raises(TypeError, match="not JSON serializable"):
        write_checkpoint_file(path, {"time": object()}, {"a": np.zeros(3)})
    np.testing.assert_array_equal(read_checkpoint_file(path)[1]["a"], [0, 1, 2])


@pytest.mark.parametrize("keep", [0, 3, 40, 300])
def test_a_file_cut_short_is_refused(tmp_path, keep):
    path = tmp_path / "march.npz"
    write_checkpoint_file(path, WORDS, {"a": np.arange(300)})
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(ValueError, match=r"march\.npz is no checkpoint"):
        read_checkpoint_file(path)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(ValueError, match="is no checkpoint"):
        read_checkpoint_file(tmp_path / "march.npz")


def test_only_what_was_written_here_is_taken_for_a_checkpoint(tmp_path):
    """Not another archive of arrays, no text, and no file that is not there."""
    write_checkpoint_file(tmp_path / "march.npz", WORDS, {"a": np.arange(3)})
    np.savez(tmp_path / "other.npz", a=np.arange(3))
    (tmp_path / "text.npz").write_text("words.npy")
    found = {name: is_checkpoint_file(tmp_path / name) for name in ("march.npz", "other.npz", "text.npz", "none.npz")}
    assert found == {"march.npz": True, "other.npz": False, "text.npz": False, "none.npz": False}


def test_a_march_keeps_where_it_stands_only_every_little_while(monkeypatch, tmp_path):
    """Every 20 s of a clock: of rests at 5, 19, 20, 30, 39 and 41 s those at 20 and, 21 s later, at 41."""
    clock, kept = [0.0], []
    monkeypatch.setattr(checkpoint, "EVERY", 20.0)
    monkeypatch.setattr(checkpoint, "monotonic", lambda: clock[0])
    monkeypatch.setattr(checkpoint, "write_checkpoint", lambda path, now: kept.append(now.start))
    writer = checkpoint.CheckpointWriter(tmp_path / "a.npz", watch=lambda moment: {}, written=0.0)
    for clock[0] in (5.0, 19.0, 20.0, 30.0, 39.0, 41.0):
        writer.keep(clock[0])
    assert kept == [20.0, 41.0]
