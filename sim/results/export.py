"""Exports of a run: the solid cells as a hexahedron mesh (VTU, XDMF), the floor map as CSV.

meshio enters the program here and is imported when a mesh is really written.
"""

from __future__ import annotations

import csv
import json
import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.machine.helpers import CrashError, in_own_process
from sim.store.read_check import DIMENSIONS, DamagedError, intact
from sim.store.run_folder import FIELDS_FILE, StoreError

if TYPE_CHECKING:
    import xarray

    from sim.store.run_folder import StoredRun

ZERO_CELSIUS = 273.15

# Corners of a cell in the order of a VTK hexahedron: bottom face counter-clockwise, then the top face.
_CORNERS = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))


def export_run(run: StoredRun, target: str | Path, kind: str) -> Path:
    """Write a run for other programs.

    Parameters
    ----------
    run : StoredRun
        From `read_run`.
    target : path
        File to write; the ending of the kind is added when it is not there. "xdmf" keeps its arrays in
        an .h5 file beside it; both mesh kinds put the names of the materials in `<name>_materials.csv`.
    kind : "vtu", "xdmf" or "csv"
        "vtu" and "xdmf": hexahedra of the solid cells with `temperature_C`, `temperature_K` and
        `material` per cell, lengths in m. "csv": the floor surface, one line per cell.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        For a kind that is not known.
    StoreError
        When the file cannot be written.
    """
    if kind not in _WRITERS:
        raise ValueError(f"cannot export to {kind!r}; choose one of {', '.join(_WRITERS)}")
    target = Path(target)
    if target.suffix.lower() != f".{kind}":
        target = target.with_name(f"{target.name}.{kind}")
    fields = _loaded(run)
    try:
        _write_whole(target, fields, _WRITERS[kind])
    except OSError as error:
        raise StoreError(f"{target}: cannot be written ({error.strerror or error})") from error
    except CrashError as crash:  # HDF5 does not survive a disk that is full
        raise StoreError(f"{target}: cannot be written (the process that wrote it ended with {crash})") from None
    return target


def _loaded(run: StoredRun) -> xarray.Dataset:
    """The fields of a run in memory, before anything is written."""
    try:
        if is_air_alone(run.fields):
            return air_cells(intact(FIELDS_FILE, run.fields.load))
        names = [name for name in DIMENSIONS if name in run.fields]
        fields = intact(FIELDS_FILE, lambda: run.fields[[*names, *run.fields.coords]].load())
        intact(FIELDS_FILE, lambda: _check_materials(fields))
    except DamagedError as error:
        raise StoreError(f"{run.folder}: cannot be read ({error})") from None
    return fields


def is_air_alone(fields: xarray.Dataset) -> bool:
    """Whether a run's fields are those of air alone."""
    return "temperature" not in fields and "air_temperature" in fields


def air_cells(fields: xarray.Dataset) -> xarray.Dataset:
    """Mean temperature and velocity of air alone under the names that exports write: `temperature`, `velocity_x` …"""
    names = {f"air_{name}": name for name in ("temperature", "velocity_x", "velocity_y", "velocity_z")}
    places = {f"air_{axis}{end}": f"{axis}{end}" for axis in "xyz" for end in ("", "_edge")}
    return fields[[*names, *places]].rename(names | places)


def _check_materials(fields: xarray.Dataset) -> None:
    """Refuse numbers of materials that have no name."""
    if "material" in fields and fields["material"].values.max(initial=0) >= len(material_names(fields)):
        raise DamagedError(f"{FIELDS_FILE} is damaged: materials lack names")


def solid_hexahedra(
    fields: xarray.Dataset,
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Return the solid cells of a run as hexahedra.

    Parameters
    ----------
    fields : xarray.Dataset
        With `temperature` (x, y, z), NaN where there is no solid, and `x_edge`, `y_edge`, `z_edge` [m].

    Returns
    -------
    points : (points, 3) array
        Corners that are used [m].
    cells : (cells, 8) array
        Corner numbers of each solid cell, in the order of a VTK hexahedron.
    solid : (nx, ny, nz) array of bool
        Which cells these are; `field[solid]` gives cell values in the same order.
    """
    edges = [fields[f"{axis}_edge"].values for axis in "xyz"]
    solid = np.isfinite(fields["temperature"].values)
    shape = tuple(edge.size for edge in edges)
    cell = np.nonzero(solid)
    corners = np.stack(
        [
            np.ravel_multi_index(tuple(c + d for c, d in zip(cell, corner, strict=True)), shape)
            for corner in _CORNERS
        ],
        axis=1,
    )
    used, numbers = np.unique(corners, return_inverse=True)
    at = np.unravel_index(used, shape)
    points = np.stack([edge[index] for edge, index in zip(edges, at, strict=True)], axis=1)
    return points, numbers.reshape(corners.shape), solid


def material_names(fields: xarray.Dataset) -> list[str]:
    """Return the material names of a run; the value of `material` in a cell is the place in this list."""
    names = fields["material"].attrs.get("names", [])
    return list(json.loads(names)) if isinstance(names, str) else [str(name) for name in np.atleast_1d(names)]


def _write_mesh(kind: str) -> Callable[[Path, xarray.Dataset], None]:
    """Make the writer of one mesh format."""

    def write(path: Path, fields: xarray.Dataset) -> None:
        points, cells, solid = solid_hexahedra(fields)
        if "velocity_x" in fields:
            in_own_process(_write_hexahedra, path, kind, points, cells, _air_values(fields, solid))
            return
        kelvin = fields["temperature"].values[solid]
        values = {
            "temperature_C": [kelvin - ZERO_CELSIUS],
            "temperature_K": [kelvin],
            "material": [fields["material"].values[solid].astype(np.int32)],
        }
        in_own_process(_write_hexahedra, path, kind, points, cells, values)
        names = enumerate(material_names(fields))
        _write_table(path.with_name(f"{path.stem}_materials.csv"), ("material", "name"), names)

    return write


def _air_values(fields: xarray.Dataset, solid: Any) -> dict[str, Any]:
    """Temperature and velocity of the cells of air; in ΔT and α/L where the case is dimensionless."""
    velocity = np.stack([fields[f"velocity_{axis}"].values[solid] for axis in "xyz"], axis=1)
    kelvin = fields["temperature"].values[solid]
    if fields.attrs.get("dimensionless", 0):
        return {"temperature": [kelvin], "velocity": [velocity]}
    return {"temperature_C": [kelvin - ZERO_CELSIUS], "temperature_K": [kelvin], "velocity_m_s": [velocity]}


def _write_hexahedra(path: Path, kind: str, points: Any, cells: Any, values: Any) -> None:
    """Write a mesh file."""
    import meshio

    meshio.Mesh(points, [("hexahedron", cells)], cell_data=values).write(path, file_format=kind)


def _write_floor(path: Path, fields: xarray.Dataset) -> None:
    """Write the floor surface, one line per cell, x changing slowest; of air alone every cell of air."""
    if "velocity_x" in fields:
        _write_air(path, fields)
        return
    x, y = np.meshgrid(fields["x"].values, fields["y"].values, indexing="ij")
    celsius = fields["floor_temperature"].values - ZERO_CELSIUS
    flux = fields["floor_heat_flux"].values
    columns = [
        np.round(a, digits).ravel().tolist() for a, digits in ((x, 6), (y, 6), (celsius, 4), (flux, 4))
    ]
    header = ("x_m", "y_m", "floor_temperature_C", "floor_heat_flux_W_m2")
    _write_table(path, header, zip(*columns, strict=True))


def _write_air(path: Path, fields: xarray.Dataset) -> None:
    """Write place, temperature and velocity of every cell of air."""
    solid = np.isfinite(fields["temperature"].values)
    places = np.meshgrid(*(fields[axis].values for axis in "xyz"), indexing="ij")
    values = _air_values(fields, solid)
    plain = bool(fields.attrs.get("dimensionless", 0))
    columns = [*(place[solid] for place in places), next(iter(values.values()))[0], *list(values.values())[-1][0].T]
    ends = ("", "", "") if plain else ("_m", "_C", "_m_s")
    header = [f"{axis}{ends[0]}" for axis in "xyz"] + [f"temperature{ends[1]}"]
    header += [f"velocity_{axis}{ends[2]}" for axis in "xyz"]
    rows = zip(*(column.tolist() for column in columns), strict=True)
    _write_table(path, tuple(header), rows)


def _write_table(path: Path, header: tuple[str, ...], rows: Any) -> None:
    """Write a CSV file."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


_WRITERS: Mapping[str, Callable[[Path, Any], None]] = {
    "vtu": _write_mesh("vtu"),
    "xdmf": _write_mesh("xdmf"),
    "csv": _write_floor,
}


def _write_whole(target: Path, fields: xarray.Dataset, write: Callable[[Path, Any], None]) -> None:
    """Write in a temporary sibling folder and move the finished files into place."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent) as partial:
        write(Path(partial) / target.name, fields)
        files = sorted(Path(partial).iterdir())
        beside = [target.parent / file.name for file in files if file.name != target.name]
        if not target.exists() and (there := [path for path in beside if path.exists()]):
            raise StoreError(f"{there[0]}: is in the way and of no earlier export; move it, or choose another --out")
        for file in files:
            os.replace(file, target.parent / file.name)
