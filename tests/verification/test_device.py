"""On an accelerator: the processor's steps, runs that repeat, coupled bays, flow folders. `pytest -m gpu`."""

import numpy as np
import pytest

from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.seam import NoDeviceError, accelerator
from sim.airflow.device.tables import flow_problem
from sim.case.load import load_case
from sim.study.many import solve_many
from sim.verify.accuracy import compare_folder
from sim.verify.folder import folders
from tests.unit.device_cases import KINDS, both_after, farthest, problem_of

pytestmark = pytest.mark.gpu

FLOW_FOLDERS = ("side-heated-square-1e4", "square-heated-from-below-5e4", "layer-above-onset", "side-heated-cube-1e4")
KITCHEN = "cases/demo/kitchen-vinyl.toml"


@pytest.fixture(scope="module")
def device():
    """The accelerator, named in the output; without one the tests say why they are skipped."""
    try:
        found = accelerator()
    except NoDeviceError as error:
        pytest.skip(str(error))
    print(f"\non {found.name}")
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_step_is_the_processors(kind, device):
    rng = np.random.default_rng(KINDS.index(kind))
    for pair in both_after([problem_of(kind, rng, cells) for cells in (3, 8)], device, lengths=(0.5, 0.4, 0.45)):
        errors = farthest(pair)
        print(kind, pair[0][3].shape, errors)
        assert max(errors) < 1e-11


def test_runs_repeat_to_the_bit(device):
    """Two runs, one of them after others, and through recorded graphs."""
    problem = flow_problem(*problem_of(KINDS[1], np.random.default_rng(7), 6))
    ends = []
    for _ in range(2):
        batch = FlowBatch([problem, problem], device)
        for bay in (0, 1):
            batch.go_until(bay, 20.0 * batch.largest_step(0))
        while batch.busy:
            batch.look()
        ends += [batch.fields(0), batch.fields(1)]
    for other in ends[1:]:
        for mine, theirs in zip(ends[0], other, strict=True):
            np.testing.assert_array_equal(mine, theirs)


def test_arrays_and_kernels_stay_on_one_stream(device):
    """Also after copies to the processor: on two streams kernels would read tables and clocks before they are there."""
    batch = FlowBatch([flow_problem(*problem_of(KINDS[1], np.random.default_rng(7), 6))], device)
    batch.go_until(0, 12.0 * batch.largest_step(0))
    while batch.busy:
        batch.look(4)
    batch.fields(0)
    assert device.xp.cuda.get_current_stream() == device.stream
    device.to_host(device.xp.zeros((4, 4))[:, 1])
    assert device.xp.cuda.get_current_stream() == device.stream


def test_coupled_bays_are_the_processors(device):
    """Every path's mean heat within twice the standard errors of both runs."""
    case = load_case(KITCHEN).with_(**{"air.model": "resolved", "mesh.fineness": "coarse"})
    cases = [case, case.with_text("plates.spacing", "none")]
    for mine, theirs in zip(solve_many(cases, device="gpu"), solve_many(cases), strict=True):
        assert mine.air.stop_reason == theirs.air.stop_reason == "steady"
        for key, path in (("heat_flow_up_W", "up"), ("heat_flow_down_W", "down"), ("heat_flow_supplied_W", "water")):
            error = np.hypot(mine.air.evidence.error[path], theirs.air.evidence.error[path])
            print(key, mine.report[key], theirs.report[key], f"±{error:.2%}")
            assert mine.report[key] == pytest.approx(theirs.report[key], rel=2.0 * error)


@pytest.mark.parametrize("name", FLOW_FOLDERS)
def test_flow_folders(name, device):
    (folder,) = folders([name])
    for row in compare_folder(folder, device="gpu"):
        print(row)
        assert row.passed, str(row)
