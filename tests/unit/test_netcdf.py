"""Our netCDF files are what xarray's own reader and writer make of the same fields."""

import copy
import pickle
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from sim.store.netcdf import open_netcdf, write_netcdf

SMALL = {"compression": "gzip", "compression_opts": 1, "shuffle": True}


@pytest.fixture
def fields():
    """Every kind of value that a folder may hold: an axis without numbers, words, truths, gaps, one number alone."""
    warm = np.linspace(280.0, 300.0, 24).reshape(2, 3, 4)
    warm[0, 1] = np.nan
    return xarray.Dataset(
        {
            "temperature": (("x", "y", "z"), warm, {"units": "K"}),
            "floor": (("time", "x"), warm[0].T[:, :2].astype(np.float32)),
            "material": (("x", "z"), np.arange(8, dtype=np.int8).reshape(2, 4), {"flag_values": np.int8([0, 7])}),
            "heating": ("time", np.array([True, False, True, True])),
            "name": ("x", np.array(["rim, Nördlich", "joist"], object)),
            "area": ((), 3.5, {"many": 1.5, "note": "", "three": [1.0, 2.0, 3.0]}),
            "empty": ("nothing", np.empty(0)),
        },
        coords={
            "x": ("x", [0.1, 0.2], {"units": "m"}),
            "time": ("time", np.arange(4.0), {"units": "s"}),
            "depth": ("z", np.arange(4.0)),
        },
        attrs={"title": "a ≤ b", "runs": 2, "Conventions": "CF-1.11"},
    )


def theirs(path):
    return xarray.open_dataset(path, engine="h5netcdf", decode_timedelta=False)


def test_other_readers_find_what_was_given(fields, tmp_path):
    write_netcdf(tmp_path / "ours.nc", fields, {"temperature": SMALL})
    with theirs(tmp_path / "ours.nc") as found:
        xarray.testing.assert_identical(found.load(), fields)
        assert found["heating"].dtype == bool and found["floor"].dtype == np.float32
        assert found["temperature"].encoding["complevel"] == 1


def test_it_is_read_as_others_read_it(fields, tmp_path):
    """Both files, ours and that of xarray's own writer."""
    write_netcdf(tmp_path / "ours.nc", fields, {"temperature": SMALL})
    fields.to_netcdf(tmp_path / "theirs.nc", engine="h5netcdf")
    for name in ("ours.nc", "theirs.nc"):
        with open_netcdf(tmp_path / name) as found, theirs(tmp_path / name) as expected:
            assert list(found.data_vars) == list(expected.data_vars)
            xarray.testing.assert_identical(found.load(), expected.load())
            assert {n: v.dtype for n, v in found.variables.items()} == {n: v.dtype for n, v in fields.variables.items()}


def test_parts_are_read_from_the_disk(fields, tmp_path):
    write_netcdf(tmp_path / "ours.nc", fields, {})
    with open_netcdf(tmp_path / "ours.nc") as found:
        part = found["temperature"][1, ::2]
        assert not part.variable._in_memory
        np.testing.assert_array_equal(part, fields["temperature"][1, ::2])
        np.testing.assert_array_equal(found["temperature"][:, [2, 0]][0], fields["temperature"][0, [2, 0]])


def test_fields_on_the_disk_can_be_sent_and_copied(fields, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write_netcdf(tmp_path / "ours.nc", fields, {})
    with open_netcdf(Path("ours.nc")) as found:
        sent = pickle.dumps(found)
        copied = copy.deepcopy(found)
    monkeypatch.chdir(tmp_path.parent)
    for other in (pickle.loads(sent), copied):
        with other:
            assert not other["temperature"].variable._in_memory
            xarray.testing.assert_identical(other.load(), fields)


def test_axes_are_scales_of_netcdf(fields, tmp_path):
    """NetCDF-4's layout in HDF5 (its format specification, from memory): scales, their numbers, an axis alone."""
    write_netcdf(tmp_path / "ours.nc", fields, {})
    with h5py.File(tmp_path / "ours.nc") as file:
        numbers = {int(file[axis].attrs["_Netcdf4Dimid"]) for axis in fields.sizes}
        assert numbers == set(range(len(fields.sizes)))
        assert [dim[0].name for dim in file["temperature"].dims] == ["/x", "/y", "/z"]
        assert file["y"].attrs["NAME"] == b"This is a netCDF dimension but not a netCDF variable.         3"
        assert file["x"].attrs["NAME"] == b"x"
        assert file.attrs["_NCProperties"].startswith(b"version=2,")
