"""Pictures of a start whose length nobody knows beforehand: they show the start, not the rest after it."""

import numpy as np
import pytest

from sim.airflow.frames import StartFrames


def kept(count, until, ends, lasts=1.0):
    """Pictures of a field that settles within some seconds, followed in steps of 5 ms until it ends."""
    frames = StartFrames(count, until)
    still = np.zeros((3, 1, 2))
    for time in np.arange(0.0, ends, 0.005):
        warmth = np.full((2, 1, 2), 10.0 * (1.0 - np.exp(-time / lasts)))
        warmth[0] += 5.0
        frames.keep(float(time), (still, still, np.zeros((2, 1, 3)), warmth))
    frames.close()
    return frames.times


@pytest.mark.parametrize("ends", [8.0, 50.0, 300.0])
def test_the_start_fills_the_movie_however_long_the_flow_is_followed(ends):
    times = kept(30, 600.0, ends)
    assert 20 <= len(times) <= 30 and times[0] == 0.0
    assert 4.0 < times[-1] < 8.0  # within 1 % of its end after 4.6 of its own times (e**-4.6 = 0.01)
    steps = np.diff(times)
    assert steps.max() < 4.0 * steps.min()


def test_a_start_that_goes_on_keeps_all_of_it():
    times = kept(10, 20.0, 20.0, lasts=100.0)
    assert len(times) == 10 and times[-1] > 19.0


def test_no_pictures_are_kept_where_none_are_wanted():
    assert kept(0, 600.0, 1.0) == []
