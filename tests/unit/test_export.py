"""Exports: hexahedra keep volume and values, files are read back by an independent reader, CSV adds up."""

import csv
import os
from pathlib import Path

import fake_run
import meshio
import numpy as np
import pytest

from sim.results import export
from sim.results.export_mesh import air_mesh, at_points, solid_hexahedra
from sim.store.run_folder import StoredRun, StoreError


@pytest.fixture(scope="module")
def run():
    fields = fake_run.make_fields(length=0.45, step=0.03)
    return StoredRun(Path("den"), fake_run.CASE_TEXT, fake_run.make_report(fields), (), {}, fields)


def hexahedron_volume(points, cells):
    """Volume from the triple product of the edges at corner 0; negative if turned inside out."""
    corner = points[cells]
    a, b, c = (corner[:, k] - corner[:, 0] for k in (1, 3, 4))
    return np.einsum("ij,ij->i", np.cross(a, b), c)


def test_hexahedra_fill_the_solid_once(run):
    points, cells, solid = solid_hexahedra(run.fields)
    volume = hexahedron_volume(points, cells)
    assert (volume > 0).all()
    widths = [np.diff(run.fields[f"{axis}_edge"].values) for axis in "xyz"]
    expected = np.einsum("i,j,k->ijk", *widths)[solid]
    np.testing.assert_allclose(volume, expected, rtol=1e-12, atol=0.0)
    assert np.unique(cells).size == points.shape[0]


def test_hexahedra_have_straight_edges_in_vtk_order(run):
    # VTK file formats, VTK_HEXAHEDRON: corners 0-3 go round the bottom, 4-7 lie above them.
    points, cells, _ = solid_hexahedra(run.fields)
    ring = [(0, 1), (1, 2), (2, 3), (3, 0)]
    edges = ring + [(a + 4, b + 4) for a, b in ring] + [(a, a + 4) for a in range(4)]
    for first, second in edges:
        moved = np.abs(points[cells[:, second]] - points[cells[:, first]]) > 1e-9
        assert (moved.sum(axis=1) == 1).all()


def test_hexahedra_sit_where_the_cells_are(run):
    points, cells, solid = solid_hexahedra(run.fields)
    centre = points[cells].mean(axis=1)
    grids = np.meshgrid(*(run.fields[axis].values for axis in "xyz"), indexing="ij")
    np.testing.assert_allclose(centre, np.stack([g[solid] for g in grids], axis=1), rtol=0.0, atol=1e-12)


@pytest.mark.parametrize("kind", ["vtu", "xdmf"])
def test_mesh_files_are_read_back(run, tmp_path, kind):
    path = export.export_run(run, tmp_path / "out" / "den", kind)
    assert path == tmp_path / "out" / f"den.{kind}"
    mesh = meshio.read(path)
    solid = np.isfinite(run.fields["temperature"].values)
    (block,) = mesh.cells
    assert block.type == "hexahedron" and len(block.data) == solid.sum()
    kelvin = run.fields["temperature"].values[solid]
    np.testing.assert_array_equal(mesh.cell_data["temperature_K"][0], kelvin)
    assert set(mesh.cell_data) == {"temperature_K", "material"}
    at_corners = mesh.point_data["temperature_K"]
    slack = 1e-9  # round-off of a mean
    assert kelvin.min() - slack <= at_corners.min() and at_corners.max() <= kelvin.max() + slack
    np.testing.assert_array_equal(mesh.cell_data["material"][0], run.fields["material"].values[solid])
    names = (path.parent / "den_materials.csv").read_text().splitlines()
    assert names[0] == "material,name" and names[6] == "5,covering"
    stated = {name: int(np.atleast_1d(number)[0]) for name, number in mesh.field_data.items()}
    assert stated == {name: number for number, name in enumerate(export.material_names(run.fields))}


def test_a_viewer_reads_the_names_in_the_mesh(run, tmp_path):
    """VTK itself, another reader than the writer's: cells, and every material's number under its name."""
    vtk = pytest.importorskip("vtkmodules.vtkIOXML")
    fields = run.fields.copy()
    names = [f"{name} <&\">" for name in export.material_names(fields)]
    fields["material"] = fields["material"].assign_attrs(names=names)
    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(export.export_run(StoredRun(Path("d"), "", {}, (), {}, fields), tmp_path / "d", "vtu")))
    reader.Update()
    grid = reader.GetOutput()
    assert grid.GetNumberOfCells() == np.isfinite(fields["temperature"].values).sum()
    data = grid.GetFieldData()
    assert [int(data.GetArray(name).GetTuple1(0)) for name in names] == list(range(len(names)))


def test_floor_csv_has_every_cell_in_kelvin(run, tmp_path):
    path = export.export_run(run, tmp_path / "floor.csv", "csv")
    with path.open() as file:
        rows = list(csv.DictReader(file))
    floor = run.fields["floor_temperature"]
    assert len(rows) == floor.size
    values = np.array([float(row["floor_temperature_K"]) for row in rows]).reshape(floor.shape)
    np.testing.assert_allclose(values, floor.values, rtol=0.0, atol=1e-4)
    np.testing.assert_allclose(float(rows[1]["y_m"]), floor["y"].values[1], rtol=0.0, atol=1e-6)
    assert os.listdir(tmp_path) == ["floor.csv"]


def test_floor_csv_in_inches_says_so_in_its_heads(run, tmp_path):
    """By the definitions: 25.4 mm an inch, 9/5 K a °F and 32 °F at 0 °C, 1055.05585262 J a Btu, 0.3048 m a foot."""
    path = export.export_run(run, tmp_path / "floor.csv", "csv", units="ip")
    with path.open() as file:
        (row, *_) = rows = list(csv.DictReader(file))
    assert list(row) == ["x_in", "y_in", "floor_temperature_F", "floor_heat_flux_Btu_h_ft2"]
    floor, flux = run.fields["floor_temperature"], run.fields["floor_heat_flux"]
    assert float(rows[-1]["x_in"]) == pytest.approx(float(floor["x"][-1]) / 0.0254, abs=1e-5)
    assert float(rows[-1]["y_in"]) == pytest.approx(float(floor["y"][-1]) / 0.0254, abs=1e-5)
    assert float(row["floor_temperature_F"]) == pytest.approx(float(floor[0, 0] - 273.15) * 1.8 + 32.0, abs=1e-3)
    factor = 3600.0 * 0.3048**2 / 1055.05585262
    assert float(row["floor_heat_flux_Btu_h_ft2"]) == pytest.approx(float(flux[0, 0]) * factor, abs=1e-3)
    with pytest.raises(ValueError, match="vtu is written in m and K"):
        export.export_run(run, tmp_path / "den.vtu", units="ip")


def test_where_there_is_no_floor_there_is_no_line(run, tmp_path):
    """Over a rim joist a floor's map holds NaN: eight such places are eight lines less."""
    fields = run.fields.copy(deep=True)
    for name in ("floor_temperature", "floor_heat_flux"):
        fields[name].values[:2, :4] = np.nan
    path = export.export_run(StoredRun(Path("d"), "", {}, (), {}, fields), tmp_path / "rim.csv", "csv")
    lines = path.read_text().splitlines()
    assert len(lines) - 1 == fields["floor_temperature"].size - 8 and "nan" not in path.read_text()


def with_air(fields):
    """The invented run with computed air in its cavity: a linear temperature, a known velocity."""
    edges = [np.linspace(0.02, 0.38, 7), np.linspace(0.0, 0.45, 4), np.linspace(0.11, 0.24, 5)]
    x, y, z = np.meshgrid(*(0.5 * (e[1:] + e[:-1]) for e in edges), indexing="ij")
    solid = (x < 0.1) & (z < 0.14)
    dims = ("air_x", "air_y", "air_z")
    own = {"temperature": 300.0 + 10.0 * x, "velocity_x": 0.1 * z, "velocity_y": 0.0 * x, "velocity_z": 0.2 + 0.0 * x}
    late = {f"air_{name}_now": (dims, np.where(solid, np.nan, 2.0 * values)) for name, values in own.items()}
    mean = {f"air_{name}": (dims, np.where(solid, np.nan, values)) for name, values in own.items()}
    coords = {f"air_{a}_edge": (f"air_{a}_edge", e) for a, e in zip("xyz", edges, strict=True)}
    return fields.assign(mean | late).assign_coords(coords), int((~solid).sum())


@pytest.mark.parametrize("kind", ["vtu", "xdmf"])
def test_computed_air_lies_beside_the_solids(run, tmp_path, kind):
    """Mean and last state, in cells and at points; an independent reader finds what the fields hold."""
    fields, count = with_air(run.fields)
    export.export_run(StoredRun(Path("den"), "", {}, (), {}, fields), tmp_path / "den", kind)
    mesh = meshio.read(tmp_path / f"den_air.{kind}")
    assert len(mesh.cells[0].data) == count
    kelvin = fields["air_temperature"].values
    np.testing.assert_array_equal(mesh.cell_data["temperature_K"][0], kelvin[np.isfinite(kelvin)])
    np.testing.assert_allclose(mesh.cell_data["velocity_now_m_s"][0], 2.0 * mesh.cell_data["velocity_m_s"][0])
    np.testing.assert_allclose(mesh.point_data["velocity_m_s"][:, 2], 0.2, rtol=1e-12)


def test_points_take_the_mean_of_their_cells(run):
    """Where a field is linear, a point among even cells has its very value; means of cells never leave their range."""
    fields, _ = with_air(run.fields)
    mesh = air_mesh(fields)
    inner = (mesh.points[:, 0] > 0.15) & (mesh.points[:, 0] < 0.35)
    exact = 300.0 + 10.0 * mesh.points[inner, 0]
    np.testing.assert_allclose(mesh.point_values["temperature_K"][inner], exact, rtol=1e-12)
    points = np.array([[x, y, z] for x in (0.0, 1.0, 4.0) for y in (0.0, 1.0) for z in (0.0, 1.0)])
    cells = np.array([[0, 4, 6, 2, 1, 5, 7, 3], [4, 8, 10, 6, 5, 9, 11, 7]])
    shared = at_points(points, cells, np.array([1.0, 5.0]))[4]
    assert shared == pytest.approx((1.0 * 1.0 + 3.0 * 5.0) / 4.0)  # cells of volume 1 and 3


def test_material_names_as_text_or_list(run):
    assert export.material_names(run.fields)[4] == "sheathing"
    listed = run.fields.copy()
    listed["material"] = listed["material"].assign_attrs(names=["cavity air", "oak"])
    assert export.material_names(listed) == ["cavity air", "oak"]


def test_unknown_kind_and_place_that_cannot_be_written(run, tmp_path):
    with pytest.raises(ValueError, match="vtu, xdmf, csv"):
        export.export_run(run, tmp_path / "den", "stl")
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be written"):
        export.export_run(run, tmp_path / "file" / "den.csv", "csv")


def test_both_mesh_formats_share_the_names_of_the_materials(run, tmp_path):
    for kind in ("vtu", "xdmf"):
        export.export_run(run, tmp_path / f"den.{kind}", kind)
    assert (tmp_path / "den.vtu").exists() and (tmp_path / "den.xdmf").exists()
    (tmp_path / "attic_materials.csv").write_text("my own table\n")
    with pytest.raises(StoreError, match="in the way"):
        export.export_run(run, tmp_path / "attic.vtu", "vtu")
    assert (tmp_path / "attic_materials.csv").read_text() == "my own table\n"


def told(capsys, *arguments):
    """Exit code and what a command says on stderr."""
    from sim.cli.main import main

    code = main([str(argument) for argument in arguments])
    return code, capsys.readouterr().err


@pytest.mark.parametrize("command", [["export", "--to", "vtu"], ["report"]])
def test_what_is_no_run_is_named_with_the_way_out(command, tmp_path, capsys):
    case = tmp_path / "b.toml"
    case.write_text('title = "b"\n')
    code, said = told(capsys, command[0], case, *command[1:])
    assert code == 2 and said == (
        f"{case}: is a case file, nothing is solved yet; joistbay run {case} makes a folder for joistbay {command[0]}\n"
    )
    for way, end in (("gone", "no such folder"), (".", "holds no run, comparison or warm-up")):
        code, said = told(capsys, command[0], tmp_path / way, *command[1:])
        assert code == 2 and end in said and said.count("\n") == 1


def test_a_study_is_called_a_study(tmp_path, capsys):
    (tmp_path / "study.json").write_text("{}")
    code, said = told(capsys, "export", tmp_path, "--to", "vtu")
    assert code == 2 and f"{tmp_path}: is a study, which keeps no temperatures: its page is report.html" in said


def test_a_comparison_is_not_exported_whole(tmp_path, capsys):
    run = tmp_path / "cmp" / "equal_water" / "1-plates"
    run.mkdir(parents=True)
    for name in ("case.toml", "report.json", "fields.nc", "history.csv", "versions.json"):
        (run / name).touch()
    (tmp_path / "cmp" / "comparison.json").write_text("{}")
    code, said = told(capsys, "export", tmp_path / "cmp", "--to", "csv")
    assert code == 2 and said == f"{tmp_path / 'cmp'}: is a comparison; name one of its runs, such as {run}\n"
