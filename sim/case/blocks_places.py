"""Whether planes, tubes and probes of blocks lie where there are boxes."""

from __future__ import annotations

from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_tube import BlockTube
from sim.case.errors import Problem

AXES = "xyz"


def outside_problems(case: BlocksKeys) -> list[Problem]:
    """Planes, tubes and probes that lie outside every box."""
    places: list[tuple[str, str, float]] = []
    for index, face in enumerate(case.faces):
        places.append((f"face[{index}].at", face.axis, face.at))
    for index, contact in enumerate(case.contacts):
        places.append((f"contact[{index}].at", contact.axis, contact.at))
    for index, probe in enumerate(case.probes):
        places += [(f"probe[{index}].point", *pair) for pair in zip(AXES, probe.point, strict=True)]
    for index, tube in enumerate(case.tubes):
        places += [(f"tube[{index}].{name}", axis, at) for name, axis, at in _tube_places(tube)]
    return [
        Problem(name, f"{axis} = {value:g} m", "lies outside the boxes", f"which reach from {low:g} to {high:g} m")
        for name, axis, value in places
        for low, high in [case.extent[AXES.index(axis)]]
        if not low - 1e-9 <= value <= high + 1e-9
    ]


def _tube_places(tube: BlockTube) -> list[tuple[str, str, float]]:
    """Key, axis and coordinate of every edge of a tube."""
    radius = tube.outer_diameter / 2
    others = [axis for axis in AXES if axis != tube.axis]
    places: list[tuple[str, str, float]] = [("along", tube.axis, end) for end in tube.along]
    for axis, centre in zip(others, tube.centre, strict=True):
        places += [("centre", axis, centre - radius), ("centre", axis, centre + radius)]
    return places
