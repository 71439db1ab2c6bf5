"""What ± of computed air holds and leaves out is said wherever it is told, with the way to a smaller one."""

import pytest

from sim.results.air_covered import covered_alone, covered_among_solids

FLUX = "heat_flux_up_W_m2"


def banded(mesh, chance):
    return {FLUX: 50.0, f"{FLUX}_uncertainty": mesh + 2.0 * chance, f"{FLUX}_mesh_error": mesh,
            f"{FLUX}_standard_error": chance}  # fmt: skip


@pytest.mark.parametrize(
    ("mesh", "chance", "cells", "way"),
    [
        (2.0, 0.5, False, "mesh.fineness"), (2.0, 0.5, True, "air.wall_cell 0.7 times"),
        (0.9, 0.5, False, "half of air.error"), (0.1, 0.1, False, None),
    ],
)  # fmt: skip
def test_the_larger_part_of_a_band_names_its_own_way_out(mesh, chance, cells, way):
    """Twice the standard error beside the mesh's; below a hundredth of the number nothing is asked for."""
    said = covered_among_solids(banded(mesh, chance), cells)
    assert len(said) == 1 + (way is not None) and "the solids' cells" in said[0].partition("Left out: ")[2]
    assert way is None or way in said[1]


def test_a_band_says_that_another_lasting_pattern_is_not_in_it():
    alone = covered_alone({"nusselt_warm": 4.5, "nusselt_warm_uncertainty": 0.1})
    for said in (covered_among_solids(banded(0.9, 0.1)), alone):
        assert "another pattern of flow that could last" in said[0].partition("Left out: ")[2]


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ({"": 2, "_coarser": 1}, "1 plume on the coarsest mesh, then 2: "), ({"": 2, "_coarser": 2}, ""), ({"": 2}, ""),
        ({"": 1, "_middle": 2, "_coarser": 2}, "2 plumes on the coarsest mesh, then 2, then 1: "),
    ],
)  # fmt: skip
def test_a_flow_that_changes_its_pattern_between_meshes_is_told(counts, said):
    report = banded(0.1, 0.1) | {f"air_plumes{mesh}": float(count) for mesh, count in counts.items()}
    told = [line for line in covered_among_solids(report) if "plume" in line]
    assert [line.partition(": ")[0] + ": " for line in told] == ([said] if said else [])


def test_nothing_is_said_of_bands_where_none_are_told():
    assert covered_among_solids({FLUX: 50.0}) == covered_alone({"nusselt_warm": 4.5}) == []


def test_air_alone_says_whether_chance_is_in_it():
    steady = {"nusselt_warm": 4.5, "nusselt_warm_uncertainty": 0.1, "nusselt_warm_standard_error": 1e-14}
    assert "no chance" in covered_alone(steady)[0]
    assert "chance in the means" in covered_alone(steady | {"nusselt_warm_standard_error": 0.02})[0]
