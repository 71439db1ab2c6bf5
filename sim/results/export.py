"""Exports of a run: solids and computed air as hexahedron meshes (VTU, XDMF), the floor map as CSV.

Lengths are metres and temperatures kelvin, as in fields.nc; the floor map has both names and units in its heads.

meshio enters the program here and is imported when a mesh is really written.
"""

from __future__ import annotations

import csv
import json
import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from filecmp import cmp
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.machine.helpers import CrashError, in_own_process
from sim.results.export_mesh import CellMesh, air_mesh, solid_mesh
from sim.results.people import UNITS, Units
from sim.store.read_check import DIMENSIONS, DamagedError, intact
from sim.store.run_folder import FIELDS_FILE, StoreError, read_run

if TYPE_CHECKING:
    import xarray

FLOOR_HEADS: Mapping[Units, tuple[str, ...]] = {
    "si": ("x_m", "y_m", "floor_temperature_K", "floor_heat_flux_W_m2"),
    "ip": ("x_in", "y_in", "floor_temperature_F", "floor_heat_flux_Btu_h_ft2"),
}
"""Heads of the floor's columns, each with its unit: places across and along the joists, from the bay's corner."""


class Exported(Protocol):
    """What holds fields: a result, or what `read_run` gives."""

    @property
    def fields(self) -> xarray.Dataset:
        """Its fields [SI, K]."""


def export_run(
    run: Exported | str | Path, target: str | Path, kind: str | None = None, *, units: Units = "si"
) -> Path:
    """Write a run for other programs: `export_run(result, "oak.vtu")`.

    Parameters
    ----------
    run : a result, what `read_run` gives, or the path of a run folder
    target : path
        File to write; the ending of the kind is added when it is not there. "xdmf" keeps its arrays in
        an .h5 file beside it; both mesh kinds hold the names of the materials as field data (name to number), and a
        table of them lies beside them in `<name>_materials.csv`.
    kind : "vtu", "xdmf" or "csv"; by default as the target ends
        "vtu" and "xdmf": hexahedra of the solid cells with `temperature_K` and `material` per cell and
        `temperature_K` at points, lengths in m; computed air, which has a grid of its own, in `<name>_air` beside it
        (alone in the file, where the run is air alone). "csv": the floor surface, one line per cell.
    units : "si" or "ip"
        Of the floor surface in "csv": m, K and W/m², or in, °F and Btu/(h·ft²). Meshes are in SI.

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
    target = Path(target)
    kind = target.suffix.lower().removeprefix(".") if kind is None else kind
    if kind not in _WRITERS:
        turned = str(target) in _WRITERS
        way_out = "the file comes second, its kind third" if turned else f"choose one of {', '.join(_WRITERS)}"
        raise ValueError(f"cannot export to {kind or str(target)!r}; {way_out}")
    if units != "si" and kind != "csv":
        raise ValueError(f"{kind} is written in m and K; leave units out, or choose csv")
    if target.suffix.lower() != f".{kind}":
        target = target.with_name(f"{target.name}.{kind}")
    if isinstance(run, str | Path):
        with read_run(run) as kept:
            fields = _loaded(kept)
    else:
        fields = _loaded(run)
    try:
        _write_whole(target, fields, partial(_write_floor, units=units) if kind == "csv" else _WRITERS[kind])
    except OSError as error:
        raise StoreError(f"{target}: cannot be written ({error.strerror or error})") from error
    except CrashError as crash:  # HDF5 does not survive a disk that is full
        raise StoreError(f"{target}: cannot be written (the process that wrote it ended with {crash})") from None
    return target


def _loaded(run: Exported) -> xarray.Dataset:
    """The fields of a run in memory, before anything is written."""
    try:
        found = run.fields
        air = [name for name in found if str(name).startswith(("air_temperature", "air_velocity"))]
        names = [*(name for name in DIMENSIONS if name in found), *air]
        fields = intact(FIELDS_FILE, lambda: found[[*names, *found.coords]].load())
        intact(FIELDS_FILE, lambda: _check_materials(fields))
    except DamagedError as error:
        raise StoreError(f"{getattr(run, 'folder', FIELDS_FILE)}: cannot be read ({error})") from None
    return fields


def _check_materials(fields: xarray.Dataset) -> None:
    """Refuse numbers of materials that have no name."""
    if "material" in fields and fields["material"].values.max(initial=0) >= len(material_names(fields)):
        raise DamagedError(f"{FIELDS_FILE} is damaged: materials lack names")


def material_names(fields: xarray.Dataset) -> list[str]:
    """Return the material names of a run; the value of `material` in a cell is the place in this list."""
    names = fields["material"].attrs.get("names", [])
    return list(json.loads(names)) if isinstance(names, str) else [str(name) for name in np.atleast_1d(names)]


def _write_mesh(kind: str) -> Callable[[Path, xarray.Dataset], None]:
    """Make the writer of one mesh format."""

    def write(path: Path, fields: xarray.Dataset) -> None:
        solids = "temperature" in fields
        if solids:
            names = material_names(fields)
            in_own_process(_write_hexahedra, path, kind, solid_mesh(fields), names)
            _write_table(path.with_name(f"{path.stem}_materials.csv"), ("material", "name"), enumerate(names))
        if "air_temperature" in fields:
            beside = path.with_name(f"{path.stem}_air{path.suffix}") if solids else path
            in_own_process(_write_hexahedra, beside, kind, air_mesh(fields))

    return write


def _write_hexahedra(path: Path, kind: str, mesh: CellMesh, materials: Sequence[str] = ()) -> None:
    """Write a mesh file; each material's name stands in it with its number, as field data."""
    import meshio

    cell_data = {name: [values] for name, values in mesh.cell_values.items()}
    cells = [("hexahedron", mesh.cells)]
    meshio.Mesh(mesh.points, cells, dict(mesh.point_values), cell_data).write(path, file_format=kind)
    if materials:  # which meshio reads and does not write
        opening, told = (b"<UnstructuredGrid>", _vtu_names) if kind == "vtu" else (b'<Grid Name="Grid">', _xdmf_names)
        head, grid, rest = path.read_bytes().partition(opening)
        path.write_bytes(head + grid + told(materials).encode() + rest)


def _vtu_names(materials: Sequence[str]) -> str:
    """One array a material, its number under its name."""
    arrays = (
        f'<DataArray type="Int32" Name={quoteattr(name)} NumberOfTuples="1" format="ascii">{number}</DataArray>\n'
        for number, name in enumerate(materials)
    )
    return f"\n<FieldData>\n{''.join(arrays)}</FieldData>\n"


def _xdmf_names(materials: Sequence[str]) -> str:
    """Names with their numbers and the dimension of their cells, as an XML text within the grid's information."""
    maps = (f'<map key={quoteattr(name)} dim="3">{number}</map>' for number, name in enumerate(materials))
    text = escape(f"<main>{''.join(maps)}</main>")
    return f'<Information Name="materials" Value="{len(materials)}">{text}</Information>'


def _write_floor(path: Path, fields: xarray.Dataset, units: Units = "si") -> None:
    """Write the floor surface, one line per cell of it, x changing slowest; over a rim joist there is none."""
    x, y = np.meshgrid(fields["x"].values, fields["y"].values, indexing="ij")
    kelvin = fields["floor_temperature"].values
    flux = fields["floor_heat_flux"].values
    on = np.isfinite(kelvin)
    values = [x[on], y[on], kelvin[on], flux[on]]
    if units == "ip":
        in_si = ("mm", 1e3 * values[0]), ("mm", 1e3 * values[1]), ("C", values[2] - ZERO_CELSIUS), ("W_m2", values[3])
        values = [UNITS[name].convert(value, units) for name, value in in_si]
    columns = [np.round(a, digits).tolist() for a, digits in zip(values, (6, 6, 4, 4), strict=True)]
    _write_table(path, FLOOR_HEADS[units], zip(*columns, strict=True))


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


def _differs(path: Path, new: Path) -> bool:
    """Whether something else than `new` lies at `path`; the names of the materials are those of any other export."""
    return path.exists() and not (path.is_file() and cmp(path, new, shallow=False))


def _write_whole(target: Path, fields: xarray.Dataset, write: Callable[[Path, Any], None]) -> None:
    """Write in a temporary sibling folder and move the finished files into place."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent) as partial:
        write(Path(partial) / target.name, fields)
        files = sorted(Path(partial).iterdir())
        beside = [(file, target.parent / file.name) for file in files if file.name != target.name]
        if not target.exists() and (there := [path for file, path in beside if _differs(path, file)]):
            raise StoreError(f"{there[0]}: is in the way and of no earlier export; move it, or choose another --out")
        for file in files:
            os.replace(file, target.parent / file.name)
