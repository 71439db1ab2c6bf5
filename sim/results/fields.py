"""A solved case as a labelled dataset, ready for netCDF and for the pictures."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.bay.cells import VOID, Cells
from sim.bay.geometry import BayPath, Geometry, Tube
from sim.results.air_fields import air_coordinates, air_variables
from sim.results.air_walls import wall_variables
from sim.results.cf import describe, flags
from sim.results.floor import surface_map
from sim.solver.steady import Solution

if TYPE_CHECKING:
    import xarray

    from sim.resolved.air import ResolvedAir


def build_fields(
    geometry: Geometry, cells: Cells, solution: Solution, air: ResolvedAir | None = None, **attributes: object
) -> xarray.Dataset:
    """Cell temperatures, materials, surface maps, water and air temperatures with their units; resolved air too.

    Extra `attributes` (title, span, room) are stored with the dataset.
    """
    import xarray

    variables = _volume(cells, solution) | _plans(cells, solution) | _water(solution) | _air(cells, solution)
    coordinates = _coordinates(cells)
    if air is not None:
        variables = variables | air_variables(air.domain, air.mean, air.now) | wall_variables(air)
        coordinates = coordinates | air_coordinates(air.domain)
    attrs = {"title": geometry.name, "outlines": json.dumps(outlines(geometry))} | attributes
    return describe(xarray.Dataset(variables, coords=coordinates, attrs=attrs))


def floor_kelvin(cells: Cells, solution: Solution) -> xarray.DataArray:
    """Floor surface temperature [K] (x, y)."""
    import xarray

    floor = surface_map(cells, solution, BayPath.UP)
    coords = {axis: (axis, cells.grid.centres(n)) for n, axis in enumerate("xy")}
    return describe(xarray.Dataset({"floor": (("x", "y"), floor.temperature)}, coords))["floor"]


def outlines(geometry: Geometry) -> list[dict[str, object]]:
    """Name, kind and box [x0, x1, y0, y1, z0, z1] of every part but air, in paint order."""
    parts = [
        (box.name, box.kind, [box.span(axis) for axis in range(3)])
        for box in geometry.boxes
        if box.material is not None
    ]
    parts += [(tube.name, "tube", [tube.bounds(axis) for axis in range(3)]) for tube in geometry.tubes]
    return [
        {"name": name, "kind": kind, "box": [float(end) for span in spans for end in span]}
        for name, kind, spans in parts
    ]


def _coordinates(cells: Cells) -> dict[str, Any]:
    grid, metre = cells.grid, {"units": "m"}
    centres = {axis: (axis, grid.centres(n), metre) for n, axis in enumerate("xyz")}
    return centres | {f"{axis}_edge": (f"{axis}_edge", grid.edges[n], metre) for n, axis in enumerate("xyz")}


def _volume(cells: Cells, solution: Solution) -> dict[str, Any]:
    names = list(dict.fromkeys(_material(body) for body in cells.bodies))
    numbers = np.array([names.index(_material(body)) for body in cells.bodies] + [-1], np.int16)
    space = ("x", "y", "z")
    return {
        "temperature": (space, solution.temperature, {"units": "K", "long_name": "temperature"}),
        "material": (
            space,
            numbers[np.where(cells.body == VOID, -1, cells.body)],
            {"names": json.dumps(names)} | flags(["void", *names], -1),
        ),
    }


def _material(body) -> str:
    if isinstance(body, Tube):
        return "tube"
    return "cavity air" if body.material is None else body.material.name


def _plans(cells: Cells, solution: Solution) -> dict[str, Any]:
    """Surface maps seen from above and from below, where the case has such surfaces."""
    found: dict[str, Any] = {}
    paths = {surface.path for surface in solution.system.surfaces}
    for name, path, side in (("floor", BayPath.UP, 5), ("ceiling", BayPath.DOWN, 4)):
        if path in paths:
            plan = surface_map(cells, solution, path, side)
            found[f"{name}_temperature"] = (("x", "y"), plan.temperature, {"units": "K"})
            found[f"{name}_heat_flux"] = (("x", "y"), plan.heat_flux, {"units": "W/m2"})
    return found


def _water(solution: Solution) -> dict[str, Any]:
    """Mean water temperature of every segment of every run, with its place along the run's axis."""
    runs = solution.system.runs
    if not runs:
        return {}
    segments = max(len(run.length) for run in runs)
    water = np.full((len(runs), segments), np.nan)
    place = np.full_like(water, np.nan)
    for number, (run, state) in enumerate(zip(runs, solution.flows.waters, strict=True)):
        water[number, : len(run.length)] = state.temperature
        place[number, : len(run.length)] = run.position
    dims = ("run", "segment")
    return {
        "water_temperature": (dims, water, {"units": "K"}),
        "water_position": (dims, place, {"units": "m", "long_name": "place along the run, in flow order"}),
    }


def _air(cells: Cells, solution: Solution) -> dict[str, Any]:
    """Zone number and mean air temperature of each zone, unless air only conducts."""
    if not len(solution.state.air):
        return {}
    names = json.dumps(list(cells.zone_names))
    return {
        "air_zone": (("x", "y", "z"), cells.zone, {"names": names} | flags(["none", *cells.zone_names], -1)),
        "zone_temperature": ("zone", solution.state.air, {"units": "K"}),
    }
