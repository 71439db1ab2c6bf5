"""Colours of a scene: of materials, plain enough not to be taken for a temperature; and the ramp of the water."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from viz.scales import colour_table
from viz.view.parts import Solid

_KINDS = {
    "joist": "#b99566",
    "rim": "#a98455",
    "sheathing": "#d8c196",
    "covering": "#94694a",
    "rug": "#77808f",
    "insulation": "#ded6bd",
    "rim insulation": "#cfc9b4",
    "ceiling": "#c8ccce",
    "plate": "#9aa4ab",
    "sheet": "#9aa4ab",
}
_FURTHER = {"covering": ("#94694a", "#b9a68e", "#8a8f83", "#a88b7c")}
_BLOCKS = ("#b99566", "#9aa4ab", "#d8c196", "#94694a", "#c8ccce", "#8a9c8d", "#77808f", "#ded6bd")
_WATER = ((18, 52, 74), (28, 104, 128), (74, 160, 172), (160, 212, 208), (236, 246, 238))
"""From cool to warm: teal, getting lighter; one hue, so that no one takes it for the ramp of the other layers."""


def material_colours(solids: Sequence[Solid]) -> dict[str, str]:
    """A colour for each label, as "#rrggbb"; several coverings, and blocks, each get their own."""
    found: dict[str, str] = {}
    count: dict[str, int] = {}
    for solid in solids:
        if solid.label not in found:
            number = count[solid.kind] = count.get(solid.kind, -1) + 1
            choice = _FURTHER.get(solid.kind) or ((_KINDS[solid.kind],) if solid.kind in _KINDS else _BLOCKS)
            found[solid.label] = choice[number % len(choice)]
    return found


def ramps() -> npt.NDArray[np.uint8]:
    """The ramps (2, 256, 3): temperatures as in all pictures, and water."""
    stations, at = np.linspace(0.0, 255.0, len(_WATER)), np.arange(256.0)
    water = np.stack([np.interp(at, stations, [colour[k] for colour in _WATER]) for k in range(3)], axis=1)
    return np.stack([colour_table(), np.round(water).astype(np.uint8)])
