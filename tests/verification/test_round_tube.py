"""A round tube in solid matter gives its heat whichever way the cells cut it."""

import pytest
import tomli_w
from numpy.testing import assert_allclose

from sim.bay.grid import Fineness
from sim.build_up import build_geometry, mesh_fineness
from sim.case.load import parse_case
from sim.run import solve
from tests.verification.small_bays import small_bay

SLAB = {"x": ["0 m", "0.3 m"], "y": ["0 m", "1 m"], "z": ["0 m", "0.1 m"], "conductivity": "1 W/(m*K)"}
PLACE = {"axis": "y", "centre": ["0.15 m", "0.05 m"], "along": ["0 m", "1 m"], "outer_diameter": "40 mm"}
EXACT = 54.3684
"""Cylinder of 40 mm midway between planes 0.1 m apart, 10 K, k = 1, 1 m long [W]: by fundamental solutions, see
cases/verification/shape-factors."""


@pytest.mark.parametrize("across", [8, 9, 10, 12, 16])
def test_heat_of_a_cylinder_midway_between_planes(across):
    # steps in the outline would be up to 4 % off; what is left is the mesh further out
    faces = [{"name": side, "on": side, "temperature": "0 degC"} for side in ("z-", "z+")]
    rod = PLACE | {"name": "rod", "temperature": "10 degC"}
    case = parse_case(tomli_w.dumps({"kind": "blocks", "box": [SLAB], "tube": [rod], "face": faces}), "rod")
    found = solve(case, fineness=Fineness((0.005, 1.0, 0.005), 2, 0.005, across, 0.2))
    assert_allclose(found.report["heat_flow_rod_W"], EXACT, rtol=4e-3, atol=0)


TIGHT = {"plates": "none", "tube": {"depth": "0 mm"}, "cavity": {"air_gap": "0 mm"}}
COARSE = {"mesh": {"fineness": "normal", "across": "15 mm", "along": "150 mm", "through": "25 mm"}}


def test_a_bare_tube_pressed_against_the_sheathing_does_not_depend_on_the_mesh():
    # heat crowds where round tube and sheathing part: 2 % off before the mesh there was fine and the outline round
    case = small_bay("no plates", **TIGHT, **COARSE)
    own, fine = (solve(case, fineness=mesh_fineness(case).refined(n)).report for n in (1, 2))
    assert_allclose(own["heat_flux_up_W_m2"], fine["heat_flux_up_W_m2"], rtol=1e-2, atol=0)
    assert_allclose(own["surface_peak_C"], fine["surface_peak_C"], rtol=0, atol=0.1)


@pytest.mark.parametrize(
    ("changes", "detail"),
    [
        (TIGHT, 2),
        (TIGHT | {"cavity": {"air_gap": "50 mm"}}, 1),
        (TIGHT | {"cavity": {}}, 1),  # insulation rests below
        (TIGHT | {"cavity": {"insulation": "none"}}, 1),
        (TIGHT | {"plates": {}, "tube": {}}, 1),
        (TIGHT | {"tube": {"depth": "40 mm"}, "cavity": {"air_gap": "80 mm"}}, 1),
    ],
)
def test_only_a_wrapped_bare_tube_is_cut_finely(changes, detail):
    assert {tube.detail for tube in build_geometry(small_bay(**changes)).tubes} == {detail}


def test_heat_through_insulation_has_a_share_of_its_own():
    wrapped = solve(small_bay(**TIGHT)).report
    names = ("radiant", "convective", "contact", "joist", "insulation")
    assert_allclose(sum(wrapped[f"{name}_share_percent"] for name in names), 100.0, rtol=0, atol=1e-6)
    # the tube heats what is pressed round it, which lies between it and the far joists
    assert wrapped["insulation_share_percent"] > abs(wrapped["joist_share_percent"])
    assert solve(small_bay(**TIGHT | {"cavity": {}})).report.get("insulation_share_percent") is None
