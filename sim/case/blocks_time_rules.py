"""What contradicts the time of a case of blocks, or needs it."""

from __future__ import annotations

from collections.abc import Iterator

from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_parts import Face
from sim.case.errors import Problem


def time_problems(case: BlocksKeys) -> Iterator[Problem]:
    """What contradicts the time of a case, or needs it."""
    if case.time is not None and case.air.is_resolved and case.air.device != "cpu":
        rule = "air among solids is followed in time on the processor"
        yield Problem("air.device", case.air.device, rule, "leave it out")
    for index, face in enumerate(case.faces):
        if face.wave is not None:
            yield from _wave_problems(case, face, f"face[{index}]")


def _wave_problems(case: BlocksKeys, face: Face, where: str) -> Iterator[Problem]:
    if case.time is None:
        yield Problem(f"{where}.wave", "", "only swings in time", "add [time] with duration and start_temperature")
    if face.condition in ("flux", "adiabatic"):
        rule = f"a face with {face.condition} faces nothing whose temperature could swing"
        yield Problem(f"{where}.wave", "", rule, "leave it out")
    if any(other.group == face.group and not _alike(other, face) for other in case.faces if face.group):
        rule = "faces of one group swing together"
        yield Problem(f"{where}.group", f'"{face.group}"', rule, "give them the same wave, or two groups")


def _alike(one: Face, other: Face) -> bool:
    """Whether two faces swing in the same way about the same mean."""
    return (one.wave, one.temperature, one.ambient) == (other.wave, other.temperature, other.ambient)
