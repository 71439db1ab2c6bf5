"""Figures become a GIF: one palette for all pictures, made of the temperature colours and greys."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from viz.scales import temperature_colours

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DPI = 72


def save_gif(figures: Iterable[Figure], path: str | Path, *, frame_time: int, last_time: int, dpi: int = DPI) -> Path:
    """Write figures as a movie that starts again and again; parents of the path are made.

    Parameters
    ----------
    figures : iterable of Figure
        At least one; each is drawn when its turn comes.
    frame_time, last_time : int [ms]
        How long each picture is shown, and the last one.
    dpi : int
        Pixels an inch.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    palette = _palette()
    first, *others = (_picture(figure, palette, dpi) for figure in figures)
    shown = [frame_time] * len(others) + [last_time]
    first.save(path, save_all=True, append_images=others, duration=shown, loop=0, optimize=False)
    return path


def _picture(figure: Figure, palette: Any, dpi: int) -> Any:
    from PIL import Image

    page = io.BytesIO()
    figure.savefig(page, dpi=dpi, facecolor="white")
    return Image.open(page).convert("RGB").quantize(palette=palette, dither=Image.Dither.NONE)


def _palette() -> Any:
    """256 colours for all pictures: those of the scale, and greys from ink to paper."""
    from PIL import Image

    colours = temperature_colours()(np.linspace(0.0, 1.0, 216))[:, :3]
    greys = np.linspace(0.08, 1.0, 40)[:, None] * np.ones(3)
    palette = Image.new("P", (1, 1))
    palette.putpalette(np.rint(255.0 * np.concatenate([colours, greys])).astype(np.uint8).tobytes())
    return palette
