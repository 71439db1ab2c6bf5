"""Pictures become a GIF: one palette for all, made of the temperature colours, those of lines, and greys."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from viz.scales import line_colours, temperature_colours

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

_GREYS, _ALL = 32, 256


def save_gif(pictures: Iterable[Image], path: Path, frame_time: int, last_time: int) -> Path:
    """Write pictures as a movie that starts again and again.

    Parameters
    ----------
    pictures : iterable of PIL images
        At least one, all of one size.
    frame_time, last_time : int [ms]
        How long each picture is shown, and the last one.
    """
    palette = _palette()
    first, *others = (_in_colours(picture, palette) for picture in pictures)
    shown = [frame_time] * len(others) + [last_time]
    first.save(path, save_all=True, append_images=others, duration=shown, loop=0, optimize=False)
    return path


def picture_of(figure: Figure, width: int) -> Image:
    """A figure as a picture so many pixels wide."""
    from PIL import Image as Images

    page = io.BytesIO()
    figure.savefig(page, dpi=width / figure.get_size_inches()[0], facecolor="white")
    return Images.open(page).convert("RGB")


def with_room(picture: Image, width: int, height: int) -> Image:
    """A picture with white at its right and below, up to a size."""
    from PIL.ImageOps import expand

    return expand(picture, (0, 0, width - picture.width, height - picture.height), "white")


def _palette() -> npt.NDArray[np.uint8]:
    """256 colours (256, 3): of lines, also half as strong, greys from ink to paper, and those of the scale."""
    from matplotlib.colors import to_rgb

    from viz.lesson_sheet import COLOURS

    pure = np.array([to_rgb(colour) for colour in (*COLOURS, *(colour for colour, _ in line_colours(8)))])
    greys = np.linspace(0.08, 1.0, _GREYS)[:, None] * np.ones(3)
    lines = np.concatenate([pure, 0.5 * (1.0 + pure)])
    scale = temperature_colours()(np.linspace(0.0, 1.0, _ALL - _GREYS - len(lines)))[:, :3]
    return np.asarray(np.rint(255.0 * np.concatenate([lines, greys, scale])), dtype=np.uint8)


def _in_colours(picture: Image, palette: npt.NDArray[np.uint8]) -> Any:
    """A picture in the nearest colours of a palette; white stays white."""
    from PIL import Image as Images
    from scipy.spatial import cKDTree

    rgb = np.asarray(picture.convert("RGB"), dtype=np.uint32)
    colours, place = np.unique(rgb[..., 0] << 16 | rgb[..., 1] << 8 | rgb[..., 2], return_inverse=True)
    parts = np.stack([colours >> 16, colours >> 8 & 255, colours & 255], axis=1)
    _, nearest = cKDTree(palette).query(parts)
    indexed = Images.fromarray(nearest.astype(np.uint8)[place].reshape(rgb.shape[:2]), "P")
    indexed.putpalette(palette.tobytes())
    return indexed
