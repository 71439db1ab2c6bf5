"""Figures become a movie of 1280 pixels across, or 1440 upwards: MP4 or WebM where an encoder is there, else GIF.

The encoder is the program `ffmpeg`: the one that the library imageio-ffmpeg brings (our extra [movie]), or the one on
the path, which matplotlib's setting animation.ffmpeg_path names.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from viz.gif import picture_of, save_gif, with_room

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 1280
"""Pixels across: read from the back row."""
HEIGHT = 1440
"""Pixels upwards at most: a tall picture is narrower, so that it fits a screen."""

RATE = 25
"""Pictures a second in a file of video; each of ours is shown for several of them."""

FORMATS = ((".mp4", ("-c:v", "libx264", "-crf", "20", "-movflags", "+faststart")), (".webm", ("-c:v", "libvpx-vp9")))
"""Endings in the order in which they are tried, with what the encoder is told; an encoder may lack either."""


def save_movie(figures: Iterable[Figure], path: str | Path, *, frame_time: int, last_time: int) -> Path:
    """Write figures as a movie; the file is the path with the ending of its format, parents are made.

    Parameters
    ----------
    figures : iterable of Figure
        At least one; each is drawn when its turn comes. A lower one stands at the top of the room of the highest.
    frame_time, last_time : int [ms]
        How long each picture is shown, and the last one.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    pictures = _of_one_size([picture_of(figure, _width(*figure.get_size_inches())) for figure in figures])
    encoder = find_encoder()
    for ending, told in FORMATS if encoder else ():
        if _encoded(str(encoder), told, pictures, path.with_suffix(ending), (frame_time, last_time)):
            return path.with_suffix(ending)
    return save_gif(pictures, path.with_suffix(".gif"), frame_time, last_time)


def _of_one_size(pictures: Sequence[Any]) -> list[Any]:
    """Pictures with white added at the right and below: to an encoder they are one stream of pixels, cut by size."""
    wide, high = (max(picture.size[axis] for picture in pictures) for axis in (0, 1))
    return [with_room(picture, wide, high) for picture in pictures]


def _width(wide: float, high: float) -> int:
    """Pixels across of a picture of any shape: an even number, as encoders want it."""
    return 2 * round(min(WIDTH, HEIGHT * wide / high) / 2)


def find_encoder() -> str | None:
    """The program that writes video; None where there is none."""
    if find_spec("imageio_ffmpeg") is not None:
        import imageio_ffmpeg

        try:
            return str(imageio_ffmpeg.get_ffmpeg_exe())
        except RuntimeError:  # the library without its program
            pass
    from matplotlib import rcParams

    return shutil.which(rcParams["animation.ffmpeg_path"])


def _encoded(
    encoder: str, told: Sequence[str], pictures: Sequence[Any], path: Path, times: tuple[int, int]
) -> bool:
    """Whether the encoder wrote a file; nothing is left of one that it did not finish."""
    (width, height), (each, last) = pictures[0].size, times
    frames = [*pictures, *[pictures[-1]] * max(0, round(last / each) - 1)]
    source = ["-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}", "-r", f"1000/{each}", "-i", "-"]
    even = ["-vf", "pad=ceil(iw/2)*2:ceil(ih/2)*2:color=white", "-pix_fmt", "yuv420p", "-r", str(RATE)]
    plain = ["-an", "-map_metadata", "-1", "-fflags", "+bitexact"]
    command = [encoder, "-y", "-loglevel", "error", *source, *even, *told, *plain, str(path)]
    try:
        ended = subprocess.run(command, input=b"".join(frame.tobytes() for frame in frames), capture_output=True)
        if ended.returncode == 0 and path.is_file() and path.stat().st_size:
            return True
    except OSError:  # no program after all, or one that ended before it had read everything
        pass
    path.unlink(missing_ok=True)
    return False
