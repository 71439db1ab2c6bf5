"""Fields say what they are, so that readers of the CF conventions and of units understand them.

Expected: CF conventions 1.11, sections 2.6.1 (Conventions), 3.1 (units), 3.5 (flags), 4 (axes), and names and canonical
units of the standard name table, from memory.
"""

from pathlib import Path

import numpy as np
import pytest
import xarray
from pint import get_application_registry

import joistbay
from sim.results.cf import FIELDS, flags
from tests.tiny_bays import QUICK

ROOT = Path(__file__).parents[2]
UNITS = get_application_registry()

CANONICAL = {
    "air_temperature": "K",
    "surface_temperature": "K",
    "surface_upward_heat_flux_in_air": "W m^-2",
    "x_wind": "m s^-1",
    "y_wind": "m s^-1",
    "upward_air_velocity": "m s^-1",
}
"""Standard names and their canonical units."""


@pytest.fixture(scope="module")
def datasets():
    bay = joistbay.load_bay(ROOT / "cases/demo/kitchen-vinyl.toml").with_(QUICK)
    changes = {"air.cell": "0.1 m", "air.wall_cell": "0.05 m", "air.longest": "0.02 s", "air.frames_until": "0.01 s"}
    square = joistbay.load_case(ROOT / "cases/air/square-from-below.toml").with_(changes)
    warm = joistbay.warm_up(bay.with_({"time.duration": "10 min", "time.snapshots": ["5 min"]}))
    air = joistbay.solve(square)
    return {"bay": warm.steady.fields, "series": warm.series, "air": air.fields, "frames": air.frames_dataset}


@pytest.mark.parametrize("name", ["bay", "series", "air", "frames"])
def test_every_variable_has_a_unit_and_a_name(datasets, name):
    fields = datasets[name]
    assert fields.attrs["Conventions"].startswith("CF-1.") and fields.attrs["title"]
    for variable in fields.variables:
        told = fields[variable].attrs
        assert told["long_name"], variable
        UNITS.parse_units(told["units"])
        if "standard_name" in told:
            assert UNITS(told["units"]).units == UNITS(CANONICAL[told["standard_name"]]).units, variable


def test_one_unit_of_temperature(datasets):
    """Kelvin throughout, in the floor's map too; its numbers are those of the dataset."""
    for fields in (datasets["bay"], datasets["series"]):
        warm = [name for name in fields.data_vars if "temperature" in str(name)]
        assert len(warm) >= 1 and {fields[name].attrs["units"] for name in warm} == {"K"}
        assert all(float(fields[name].max()) > 250.0 for name in warm)


@pytest.mark.parametrize(("name", "variable"), [("bay", "material"), ("bay", "air_zone"), ("series", "material")])
def test_whole_numbers_stand_for_words(datasets, name, variable):
    values = datasets[name][variable]
    numbers, words = values.attrs["flag_values"], values.attrs["flag_meanings"].split()
    assert len(numbers) == len(words) == len(set(words)) and numbers.dtype == values.dtype
    assert set(np.unique(values)) <= set(numbers)


def test_the_material_of_the_floor_is_named(datasets):
    """The topmost cells of the kitchen are vinyl."""
    material = datasets["bay"]["material"]
    meaning = dict(zip(material.attrs["flag_values"], material.attrs["flag_meanings"].split(), strict=True))
    assert {meaning[number] for number in np.unique(material[:, :, -1])} <= {"vinyl", "vinyl_plank", "vinyl_sheet"}


def test_a_dimensionless_run_says_so(datasets):
    for name in ("air", "frames"):
        fields = datasets[name]
        assert "dimensionless" in fields.attrs["comment"] and "L^2/alpha" in fields.attrs["comment"]
        assert {fields[variable].attrs["units"] for variable in fields.variables} == {"1"}
        assert not any("standard_name" in fields[variable].attrs for variable in fields.variables)


def test_what_is_said_is_kept_in_netcdf(tmp_path):
    case = joistbay.load_case(ROOT / "cases/verification/layered-floor/case.toml")
    folder = joistbay.save(joistbay.solve(case), tmp_path / "run")
    with xarray.open_dataset(folder / "fields.nc", engine="h5netcdf") as kept:
        assert kept.attrs["Conventions"].startswith("CF-1.")
        assert kept["temperature"].attrs["units"] == "K" and kept["z"].attrs["positive"] == "up"
        assert len(np.atleast_1d(kept["material"].attrs["flag_values"])) == len(
            kept["material"].attrs["flag_meanings"].split()
        )


def test_flags_are_one_word_each():
    assert flags(["cavity air", "", "oak"], -1)["flag_meanings"] == "cavity_air unnamed oak"
    foam = flags(["PUR foam, closed cell", "gypsum (12.5)"], 0)["flag_meanings"]  # commas and brackets are not allowed
    assert foam == "PUR_foam_closed_cell gypsum_12.5"
    assert all(unit and words for unit, _, words in FIELDS.values())
