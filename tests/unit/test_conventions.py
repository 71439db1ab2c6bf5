"""Fields say what they are: CF attributes, one temperature unit in files and in memory."""

from pathlib import Path

import numpy as np
import pytest
import xarray

import sim
from sim.results.cf import describe

CASE = Path(__file__).parents[2] / "cases/demo/kitchen-vinyl.toml"


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A solved bay, and its fields as they lie on the disk."""
    case = sim.load_case(CASE)
    result = sim.solve(case.with_(**{"mesh.fineness": "coarse"}))
    folder = sim.save_result(result, tmp_path_factory.mktemp("kept") / "run")
    return result, xarray.load_dataset(Path(folder) / "fields.nc", engine="h5netcdf")


def test_every_temperature_is_kelvin_on_the_scale(kept):
    """The same unit in files and in memory."""
    result, fields = kept
    warm = [name for name in fields.variables if "temperature" in str(name)]
    assert len(warm) >= 4
    for name in warm:
        assert fields[name].attrs["units"] == "K", name
    assert result.floor.attrs["units"] == "K"
    np.testing.assert_array_equal(result.floor.values, fields["floor_temperature"].values)
    assert result.floor.values.max() - 273.15 == pytest.approx(result.report["surface_peak_C"])


def test_every_field_says_what_it_is(kept):
    _, fields = kept
    assert fields.attrs["Conventions"] == "CF-1.11" and "joistbay" in fields.attrs["source"]
    assert not [name for name in fields.variables if not fields[name].attrs.get("long_name")]
    assert {axis: fields[axis].attrs["axis"] for axis in "xyz"} == {"x": "X", "y": "Y", "z": "Z"}
    assert fields["z"].attrs["positive"] == "up"


def test_materials_are_flags_with_meanings(kept):
    """CF 1.11, 3.5: as many blank-separated words as values."""
    _, fields = kept
    flags = fields["material"].attrs
    meanings = flags["flag_meanings"].split(" ")
    assert len(meanings) == len(flags["flag_values"]) and "plywood" in meanings


def test_air_has_its_standard_name():
    fields = xarray.Dataset({"air_temperature": ("air_x", [300.0], {"units": "K", "long_name": "mean temperature"})})
    assert describe(fields)["air_temperature"].attrs["standard_name"] == "air_temperature"
