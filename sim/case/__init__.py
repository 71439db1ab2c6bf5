"""Case files: text becomes a checked case in SI, with a library of materials."""

from __future__ import annotations

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.errors import CaseError, Problem
from sim.case.load import load_case, parse_case
from sim.case.materials import Material, load_materials

__all__ = [
    "BlocksCase",
    "Case",
    "CaseError",
    "Material",
    "Problem",
    "load_case",
    "load_materials",
    "parse_case",
]
