"""The case kind "blocks": its parts, checked against each other."""

from __future__ import annotations

from typing import Any, Self

from pydantic import model_validator

from sim.case.blocks_air_rules import air_problems
from sim.case.blocks_faces import face_problems
from sim.case.blocks_keys import AXES, BlocksKeys
from sim.case.blocks_parts import Face
from sim.case.blocks_places import outside_problems
from sim.case.blocks_time_rules import time_problems
from sim.case.blocks_tree import blocks_branches, blocks_rows
from sim.case.case_keys import KeyReader
from sim.case.errors import CaseError, Problem
from sim.case.fields import fill, given
from sim.case.unused import AIR
from sim.case.whole import WholeCase


class BlocksCase(BlocksKeys, WholeCase):
    """A rectilinear build-up; SI and kelvin throughout. Cells that no box covers are void, and adiabatic."""

    @model_validator(mode="after")
    def _settle(self) -> Self:
        fill(self, faces=tuple(self._placed(face) for face in self.faces))
        if problems := self._problems():
            raise CaseError(self.path or self.name, problems)
        return self

    def _placed(self, face: Face) -> Face:
        if given(face, "at"):
            return face
        face = face.model_copy()
        fill(face, at=self.extent[AXES.index(face.axis)][face.on[1] == "+"])
        return face

    def _problems(self) -> list[Problem]:
        apart = [*face_problems(self), *air_problems(self), *time_problems(self)]
        return [*outside_problems(self), *self._repeated(), *self._undetermined(), *apart]

    def _repeated(self) -> list[Problem]:
        problems = []
        named: dict[str, tuple[Any, ...]] = {
            "face": self.faces, "probe": self.probes, "sheet": self.sheets, "tube": self.tubes,
        }  # fmt: skip
        for kind, entries in named.items():
            names = [entry.name for entry in entries]
            problems += [
                Problem(f"{kind}[{index}].name", f'"{name}"', "is used twice", "give each its own name")
                for index, name in enumerate(names)
                if name and name in names[:index]
            ]
        return problems

    def _undetermined(self) -> list[Problem]:
        held = any(box.temperature is not None for box in self.boxes)
        held = held or any(sheet.temperature is not None for sheet in self.sheets)
        free = all(face.condition in ("flux", "adiabatic") for face in self.faces)
        if self.air_alone or self.tubes or held or not free:
            return []
        return [
            Problem(
                "face", "", "nothing fixes the temperature", "add a face with temperature, film or radiation"
            )
        ]

    def rows(self) -> list[tuple[str, str]]:
        """Its parts, a line each."""
        return blocks_rows(self)

    def branches(self) -> list[tuple[str, list[str]]]:
        """Its parts with their details."""
        return blocks_branches(self)

    @property
    def joist_bay(self) -> None:
        """The joist bay that the case describes: none."""
        return None

    @property
    def readers(self) -> tuple[KeyReader, ...]:
        """Who reads keys that not every case uses."""
        return AIR

    @property
    def usual_values(self) -> dict[str, float]:
        """By dotted key what stands for keys that are left out and follow from others: among blocks nothing."""
        return {}
