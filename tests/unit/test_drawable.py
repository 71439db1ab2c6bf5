"""Pictures take what there is: a choice, a result, a run folder, a comparison."""

from pathlib import Path

import pytest

import joistbay
from tests.tiny_bays import QUICK
from viz.choice import Choice
from viz.drawable import choice_of

DEMO = Path(__file__).parents[2] / "cases/demo/family-oak.toml"


@pytest.fixture(scope="module")
def solved():
    return joistbay.solve(joistbay.load_bay(DEMO).with_(QUICK))


def test_a_result_and_its_folder_are_drawn_alike(solved, tmp_path):
    folder = joistbay.save(solved, tmp_path / "oak")
    shown, again = choice_of(solved), choice_of(folder)
    assert shown.name == again.name == "plates every 225 mm" and shown.case == again.case
    assert shown.fields.equals(again.fields) and choice_of(shown) is shown
    for source in (solved, folder, str(folder), Choice("mine", solved.fields, solved.report.as_dict())):
        assert joistbay.draw_floor_map(source, units="ip").axes
    assert joistbay.draw_section(solved).axes


def test_several_are_drawn_together(solved):
    compared = joistbay.compare({"as built": solved.case, "cool": solved.case.with_({"water.supply": "40 degC"})})
    assert str(compared).endswith("K, at equal heat the same as as built"), "it differs by its water alone"
    for sources in (compared, [solved, compared.choices[1].at_water], solved):
        assert joistbay.draw_profiles(sources).axes and joistbay.draw_floor_maps(sources).axes


def test_what_cannot_be_drawn_is_named(tmp_path):
    with pytest.raises(TypeError, match="a result or the folder of a run is wanted, not int"):
        joistbay.draw_floor_map(3)
    with pytest.raises(joistbay.StoreError, match="no such run folder"):
        joistbay.draw_floor_map(tmp_path / "nowhere")
    with pytest.raises(ValueError, match="no run to draw"):
        joistbay.draw_profiles([])
    with pytest.raises(TypeError, match="flows of air alone are wanted, as compare gives them, not int"):
        joistbay.draw_air_sweep(3)


def test_a_bay_at_rest_has_nothing_over_time(solved):
    with pytest.raises(ValueError, match=r"was not followed in time; warm_up\(case\) gives"):
        joistbay.draw_time_series(solved)
