"""Movies: video where an encoder is there, GIF else; colours of lines and white stay what they are."""

import sys

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from viz import movie
from viz.lesson_sheet import COLOURS
from viz.movie import WIDTH, save_movie

FAKE = """#!{python}
import sys
asked = sys.argv[1:]
if "{lacks}" in asked:
    sys.exit("Unknown encoder")
got = sys.stdin.buffer.read()
open(asked[-1], "w").write(f"{{len(got)}} " + " ".join(asked))
"""


def bars(count):
    for number in range(count):
        figure = Figure(figsize=(8.0, 4.5))
        axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
        axes.bar([0, 1], [number + 1, 2], color=COLOURS[:2])
        yield figure


@pytest.fixture
def encoder(tmp_path, monkeypatch):
    """An encoder on the path that notes what it was asked and given."""

    def put(lacks):
        program = tmp_path / "bin" / "ffmpeg"
        program.parent.mkdir()
        program.write_text(FAKE.format(python=sys.executable, lacks=lacks))
        program.chmod(0o755)
        monkeypatch.setenv("PATH", str(program.parent))

    monkeypatch.setattr(movie, "find_spec", lambda name: None)
    return put


@pytest.mark.parametrize(("lacks", "ending"), [("nothing", ".mp4"), ("libx264", ".webm"), ("rawvideo", ".gif")])
def test_an_encoder_on_the_path_is_taken_and_what_it_lacks_is_got_round(lacks, ending, encoder, tmp_path):
    encoder(lacks)
    path = save_movie(bars(3), tmp_path / "new" / "movie", frame_time=200, last_time=1000)
    assert path.suffix == ending and [file.name for file in path.parent.iterdir()] == [path.name]
    if ending != ".gif":
        size, *asked = path.read_text().split()
        assert int(size) == (2 + 5) * WIDTH * 720 * 3  # the last picture stays five times as long
        assert f"{WIDTH}x720" in asked and "1000/200" in asked and "yuv420p" in asked


def test_pictures_of_two_sizes_do_not_roll(encoder, tmp_path):
    """An encoder cuts what it gets by the size of the first: a taller one would push all that follow down."""
    encoder("nothing")
    figures = [Figure(figsize=(8.0, high)) for high in (4.5, 5.0, 4.5)]
    size, *asked = save_movie(figures, tmp_path / "movie", frame_time=200, last_time=200).read_text().split()
    assert int(size) == 3 * WIDTH * 800 * 3 and f"{WIDTH}x800" in asked


def test_without_an_encoder_it_is_a_gif_whose_lines_keep_their_colours(monkeypatch, tmp_path):
    monkeypatch.setattr(movie, "find_encoder", lambda: None)
    with Image.open(save_movie(bars(3), tmp_path / "movie", frame_time=200, last_time=1000)) as found:
        assert found.n_frames == 3 and found.size == (WIDTH, 720)
        pixels = np.asarray(found.convert("RGB"))
    assert tuple(pixels[0, 0]) == (255, 255, 255)
    for colour in COLOURS[:2]:
        rgb = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
        assert (np.abs(pixels.astype(int) - rgb).max(axis=2) == 0).sum() > 1000


def test_a_real_encoder_writes_a_film_that_plays(tmp_path):
    library = pytest.importorskip("imageio_ffmpeg")
    path = save_movie(bars(5), tmp_path / "movie", frame_time=200, last_time=1000)
    assert path.suffix == ".mp4"
    frames, seconds = library.count_frames_and_secs(str(path))
    assert frames == pytest.approx(45, abs=3) and seconds == pytest.approx(1.8, abs=0.2)


def test_a_tall_picture_fits_a_screen():
    """A window cavity is four times as tall as wide: not 2,500 pixels upwards."""
    assert movie._width(8.0, 4.5) == WIDTH
    assert movie._width(4.8, 10.0) == 692  # 1,440 upwards
