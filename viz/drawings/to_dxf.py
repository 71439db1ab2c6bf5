"""Plans as a DXF drawing in true millimetres, one layer for each kind of thing, for whoever draws the house."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from viz.drawings.board import Board, Fill, Lettering, Spot, Stroke

LAYERS = {"joists": 8, "obstacles": 9, "rooms": 7, "tube": 1, "numbers": 3, "sheet": 7}
"""Layers with their colour numbers of the format."""

BETWEEN = 2000.0
"""From plan to plan [mm]."""


def write_dxf(plans: Sequence[tuple[Board, int]], path: Path) -> Path:
    """Write plans beside each other.

    Parameters
    ----------
    plans : boards with the denominators of their scales; lengths are multiplied back, so a metre of the house is 1000.
    path : of the file.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    import ezdxf
    from ezdxf import units

    ezdxf.options.write_fixed_meta_data_for_testing = True
    document = ezdxf.new("R2010", setup=False)
    document.units = units.MM
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    space, left = document.modelspace(), 0.0
    for board, scale in plans:
        for mark in board.marks:
            _put(space, mark, left, scale)
        left += board.width * scale + BETWEEN
    document.saveas(path)
    return path


def _put(space: Any, mark: Stroke | Fill | Lettering, left: float, scale: int) -> None:
    """One mark, moved to its plan's place."""
    def true(spot: Spot) -> Spot:
        return left + spot[0] * scale, spot[1] * scale

    look = {"layer": mark.layer}
    if isinstance(mark, Stroke):
        space.add_lwpolyline([true(spot) for spot in mark.points], dxfattribs=look | _true_colour(mark.pen.colour))
    elif isinstance(mark, Fill):
        if mark.layer == "tube" or mark.hatch:
            space.add_lwpolyline([true(spot) for spot in mark.points], close=True, dxfattribs=look)
    else:
        _put_words(space, mark, true(mark.place), look, scale)


def _true_colour(colour: str) -> dict[str, int]:
    """A colour of the drawing as the format's number; ink stays the layer's own."""
    return {} if colour == "#1d2327" else {"true_color": int(colour.lstrip("#"), 16)}


def _put_words(space: Any, mark: Lettering, place: Spot, look: dict[str, Any], scale: int) -> None:
    from ezdxf.enums import TextEntityAlignment

    anchors = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    text = space.add_text(mark.text, height=mark.height * scale, rotation=mark.turn, dxfattribs=look)
    text.set_placement(place, align=anchors[mark.anchor])
