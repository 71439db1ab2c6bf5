"""Bars and lumps for heat flow in time: cases small enough for closed forms."""

from __future__ import annotations

from typing import Any

import tomli_w

from sim.case.load import parse_case
from sim.run import Model, prepare
from sim.solver.storage import Storage, build_storage


def marching(data: dict[str, Any]) -> tuple[Model, Storage]:
    """A case made ready to march."""
    model = prepare(parse_case(tomli_w.dumps(data), "test"))
    return model, build_storage(model.cells, model.system)


def bar(length: float, cell: float, faces: list[dict[str, Any]], k: float = 1.0, heat: float = 1e6):
    """A bar along x with square ends of 0.1 m; `heat` is ρ c [J/(m³ K)]."""
    box = {"name": "bar", "x": ["0 m", f"{length} m"], "y": ["0 m", "0.1 m"], "z": ["0 m", "0.1 m"]}
    matter = {"conductivity": f"{k} W/(m*K)", "density": "1000 kg/m^3", "specific_heat": f"{heat / 1000} J/(kg*K)"}
    mesh = {"across": f"{cell} m", "along": "1 m", "through": "1 m"}
    return marching({"kind": "blocks", "mesh": mesh, "box": [box | matter], "face": faces})


LUMP_LOSS = 1.0
"""Of the lump to its room [W/K]: a film of 10 W/(m² K) on 0.1 m²."""


def lump(thickness: float = 0.02, tube: bool = False):
    """A strip of 0.1 m², ρ c = 1e6 J/(m³ K), that conducts too well to have gradients; a water tube may lie in it."""
    box = {"name": "lump", "x": ["0 m", "0.1 m"], "y": ["0 m", "1 m"], "z": ["0 m", f"{thickness} m"]}
    matter = {"conductivity": "5000 W/(m*K)", "density": "1000 kg/m^3", "specific_heat": "1000 J/(kg*K)"}
    top = {"name": "up", "on": "z+", "film": "10 W/(m^2*K)", "ambient": "20 degC"}
    data: dict[str, Any] = {"kind": "blocks", "mesh": {"across": "1 m", "along": "1 m", "through": "20 mm"}}
    data |= {"box": [box | matter], "face": [top]}
    if tube:
        water = {"supply": "50 degC", "flow": "0.5 kg/s", "conductivity": "0.4 W/(m*K)"}
        size = {"outer_diameter": "10 mm", "inner_diameter": "8 mm"}
        place = {"axis": "y", "centre": ["0.05 m", f"{thickness / 2} m"], "along": ["0 m", "1 m"]}
        data["tube"] = [{"name": "tube", **place, **size, **water}]
    return marching(data)
