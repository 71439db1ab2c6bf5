"""Each kind of problem knows its cases, and can check, prepare, solve, tell and save them."""

from pathlib import Path

import pytest

import joistbay
from sim.case.load import load_case, parse_case
from sim.problems.kind import TooLargeError, timed
from sim.problems.kinds import (
    AIR_ALONE,
    AT_REST,
    BAY,
    BAY_IN_TIME,
    BLOCKS,
    BLOCKS_IN_TIME,
    IN_TIME,
    kind_in_time,
    kind_of,
    kind_stated,
)
from sim.problems.save_warm_up import is_warm_up
from sim.results.stored import StoredResult
from sim.store.run_folder import StoreError, read_run
from tests.tiny_bays import MESH, PLAIN

ROOT = Path(__file__).parents[2] / "cases"
CASES = [*ROOT.glob("[adi]*/*.toml"), *ROOT.glob("house/bays/*.toml"), *ROOT.glob("verification/*/case.toml")]
TIME = '[time]\nduration = "10 min"\nstart_temperature = "20 degC"\n'
BAY_TEXT = PLAIN + MESH
BLOCK_TEXT = """
kind = "blocks"
[mesh]
across = "50 mm"
[[box]]
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0 m", "0.1 m"]
conductivity = "1 W/(m*K)"
[[face]]
name = "low"
on = "x-"
film = "10 W/(m^2*K)"
ambient = "30 degC"
[[face]]
name = "high"
on = "x+"
temperature = "20 degC"
[[face]]
name = "side"
on = "y+"
film = "5 W/(m^2*K)"
ambient = "25 degC"
[[face]]
name = "top"
on = "z+"
film = "5 W/(m^2*K)"
ambient = "25 degC"
"""
AIR_TEXT = """
kind = "blocks"
[air]
model = "resolved"
cell = "12.5 mm"
wall_cell = "12.5 mm"
longest = "2 s"
two_dimensional = true
[[box]]
air = true
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0 m", "0.1 m"]
[[face]]
name = "west"
on = "x-"
temperature = "25 degC"
[[face]]
name = "east"
on = "x+"
temperature = "15 degC"
"""
TINY = {
    BAY: BAY_TEXT,
    BAY_IN_TIME: BAY_TEXT + TIME,
    BLOCKS: BLOCK_TEXT,
    BLOCKS_IN_TIME: BLOCK_TEXT + TIME,
    AIR_ALONE: AIR_TEXT,
}


def tiny(kind):
    return parse_case(TINY[kind], "tiny")


@pytest.mark.parametrize("path", CASES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_a_shipped_case_is_of_one_kind_at_rest(path):
    case = load_case(path)
    assert [kind.holds(case) for kind in AT_REST].count(True) == 1
    assert [kind.holds(case) for kind in IN_TIME].count(True) <= 1


def test_what_a_case_states_is_solved():
    assert [kind_of(tiny(kind)) for kind in TINY] == [BAY, BAY, BLOCKS, BLOCKS, AIR_ALONE]
    assert [kind_stated(tiny(kind)) for kind in TINY] == [BAY, BAY, BLOCKS, BLOCKS_IN_TIME, AIR_ALONE]


def test_what_a_case_states_is_followed():
    followed = [BAY_IN_TIME, BAY_IN_TIME, None, BLOCKS_IN_TIME, None]
    assert [kind_in_time(tiny(kind)) for kind in TINY] == followed
    assert [kind.until(tiny(kind)) for kind in IN_TIME] == [600.0, 600.0]
    for kind, way in ((BLOCKS, "write duration and start_temperature there"), (AIR_ALONE, "joistbay run follows")):
        with pytest.raises(ValueError, match=f"tiny: .*no .time.; .*{way}"):
            joistbay.warm_up(tiny(kind))


def test_only_a_joist_bay_is_one():
    """Floor, limits, plates and their comparison at equal heat are asked of what a case says is its bay."""
    for kind in TINY:
        case = tiny(kind)
        assert case.joist_bay is (case if kind in (BAY, BAY_IN_TIME) else None)
        assert kind_of(case).at_equal_heat is (case.joist_bay is not None)


@pytest.mark.parametrize("kind", TINY, ids=lambda kind: kind.name)
def test_each_kind_does_all_its_work(kind, tmp_path):
    case, heard = tiny(kind), []
    assert kind.holds(case)
    kind.check_whole(case)
    assert all(str(part) for part in kind.parts(kind.prepare(case)))
    found = kind.solve(case, tell=heard.append)
    assert heard
    kept = kind.save(found, tmp_path / "kept")
    if kind is BAY_IN_TIME:
        assert is_warm_up(kept)
        assert kind.summarise(found)["steps"] > 1
        return
    with read_run(kept) as run:
        assert parse_case(run.case_text, "tiny").kind == case.kind
        told = kind.summarise(found)
        assert {key: told[key] for key in run.report if key in told} == pytest.approx(
            {key: value for key, value in run.report.items() if key in told}, nan_ok=True
        )
        assert len(set(run.report) & set(told)) > 3


def test_python_keeps_what_followed_a_bay(tmp_path):
    kept = joistbay.save(joistbay.warm_up(tiny(BAY_IN_TIME)), tmp_path / "kept")
    assert is_warm_up(kept)
    with pytest.raises(TypeError, match="a result is wanted, not int"):
        joistbay.save(3, tmp_path / "other")


def test_only_runs_of_bays_are_choices(tmp_path):
    """Choices of a comparison lie in run folders; one of blocks has no water to compare."""
    kept = BLOCKS.save(BLOCKS.solve(tiny(BLOCKS)), tmp_path / "block")
    with pytest.raises(StoreError, match="block: is not the run of a joist bay"):
        _ = StoredResult(kept).case


def test_numbers_of_a_moment_name_it():
    told = BLOCKS_IN_TIME.summarise(BLOCKS_IN_TIME.solve(tiny(BLOCKS_IN_TIME)))
    end = timed("heat_flow_low_W", 600.0)
    assert end == "heat_flow_low_W at 600 s"
    assert told[end] == told["heat_flow_low_W"] != 0.0


@pytest.mark.parametrize("kind", [BAY, BAY_IN_TIME, BLOCKS, BLOCKS_IN_TIME], ids=lambda kind: kind.name)
def test_an_absurd_mesh_is_refused_before_it_is_made(kind):
    with pytest.raises(TooLargeError, match=r"tiny: the mesh would have .* million cells, more than 16"):
        kind.check(tiny(kind), 3000)


def test_an_absurd_grid_of_air_is_refused_before_it_is_made():
    with pytest.raises(ValueError, match="the air would have .* million cells"):
        AIR_ALONE.check(tiny(AIR_ALONE), 20_000)
