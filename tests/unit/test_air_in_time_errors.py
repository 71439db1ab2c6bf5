"""Bands of computed air in time: a march on cells twice as large, and words where there is none."""

import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.case.load import parse_case
from sim.cli.main import main
from sim.problems.blocks_in_time import follow_blocks
from sim.resolved import in_time

LID = (Path(__file__).parents[2] / "cases" / "verification" / "lump-over-still-air" / "case.toml").read_text()


def quick(**changes):
    """The lid over still air on few cells for a moment."""
    wanted = {"cell": '"2.5 mm"', "wall_cell": '"2.5 mm"', "duration": '"1 s"', "report_at": '["0.5 s"]'} | changes
    text = LID
    for key, value in wanted.items():
        old = re.search(rf"\n{key} = .*", text)
        text = text.replace(old[0], f"\n{key} = {value}", 1) if old else text.replace(
            'model = "resolved"', f'model = "resolved"\n{key} = {value}', 1
        )
    return text


@pytest.fixture(autouse=True)
def few_meetings(monkeypatch):
    monkeypatch.setattr(in_time, "LEAST_INTERVALS", 10)


def test_a_band_is_what_cells_twice_as_large_change():
    found, larger = (
        follow_blocks(parse_case(quick(cell=f'"{size} mm"', wall_cell=f'"{size} mm"'))) for size in (2.5, 5.0)
    )
    for time in (0.5, 1.0):
        here, there = found.reports[time], larger.reports[time]
        apart = abs(here["wall_lid_mean_C"] - there["wall_lid_mean_C"])
        assert_allclose(here["wall_lid_mean_C_uncertainty"], apart, rtol=1e-6)
    assert apart > 0.0 and "left out" in found.remarks[0]
    assert_allclose(found.end.report["wall_lid_mean_C_uncertainty"], apart, rtol=1e-6)


@pytest.mark.parametrize(
    ("changes", "why"), [({"companion": "false"}, "air.companion is false"), ({"cell": '"10 mm"'}, "too few")]
)
def test_numbers_without_a_band_say_so(changes, why):
    more = {"wall_cell": '"10 mm"'} if "cell" in changes else {}
    found = follow_blocks(parse_case(quick(**changes, **more)))
    assert not any(key.endswith("_uncertainty") for key in found.reports[1.0].values)
    assert why in found.remarks[0] and "No error is told" in found.remarks[0]


def test_bands_stand_below_their_numbers(tmp_path, capsys):
    (tmp_path / "lid.toml").write_text(quick())
    assert main(["warmup", str(tmp_path / "lid.toml"), "--out", str(tmp_path / "run"), "--no-page"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"wall lid mean .*\n.*\n +± +K .*[1-9]", told)
    assert "left out" in " ".join(told.split()) and "uncertainty" not in told and "mesh error" not in told


def test_the_quickest_cell_is_what_it_stores_over_what_its_film_passes():
    """Cells of 50, 8 and 0 J/K behind films of 2, 1 and 1 W/K, one of 0.5 J/K that no air reaches: 8 s."""
    contact = SimpleNamespace(on_solid=np.array([2.0, 1.0, 1.0, 0.0]))
    cavity = SimpleNamespace(cell=np.array([[0, 0, 0], [0, 0, 1], [0, 0, 2], [0, 0, 3]]))
    system = SimpleNamespace(cavity=cavity, shape=(1, 1, 4))
    storage = SimpleNamespace(cells=np.array([50.0, 8.0, 0.0, 0.5]))
    assert in_time.quickest(system, storage, contact, np.ones(4)) == 8.0
    held = SimpleNamespace(cells=np.zeros(4))
    assert in_time.quickest(system, held, contact, np.ones(4)) == np.inf, "all are held at temperatures"


def test_mean_flow_counts_what_ends_after_its_start_by_how_long_it_held():
    """From 1 s on: 2 for 0.25 s and 5 for 0.5 s are 4 in the mean; what ended at 1 s is left out."""
    means = in_time._Means(1.0, [np.zeros(2) for _ in range(4)])
    for end, span, value in ((1.0, 1.0, 9.0), (1.25, 0.25, 2.0), (1.75, 0.5, 5.0)):
        means.add(end, span, [np.full(2, value)] * 4)
    flow = means.flow(SimpleNamespace(time=1.75, steps=3))
    np.testing.assert_allclose([*flow.velocity[0], *flow.temperature], 4.0, rtol=1e-12)


def test_heat_into_the_air_is_shared_by_trapezoids_and_sums_to_what_the_air_holds_more(monkeypatch):
    """Two walls that give 10 and −2 W at first, 20 and −4 W after 1 s and 40 and −8 W after 3 s: 75 and −15 J by the
    trapezoids. Air of 1 J/K that has become 66 K warmer holds 6 J more: 5 from the first and 1 from the second wall."""
    flows = iter([[10.0, -2.0], [20.0, -4.0], [40.0, -8.0]])
    domain = SimpleNamespace(air=np.array([True, False]), volumes=np.ones(2))
    stepper = SimpleNamespace(
        walls=SimpleNamespace(count=2), time=100.0, steps=7, domain=domain, air=SimpleNamespace(heat_capacity=1.0),
        state=SimpleNamespace(temperature=np.array([300.0, 0.0])), heat_flow=lambda: np.array(next(flows)),
    )  # fmt: skip
    kept = []

    def march_on(stepper, limits, sample):
        stepper.state.temperature = np.array([366.0, 999.0])
        for time in (101.0, 103.0):
            sample(SimpleNamespace(time=time), stepper)

    monkeypatch.setattr(in_time, "march_on", march_on)
    means = SimpleNamespace(add=lambda end, span, state: kept.append((end, span)))
    given = in_time._flow(SimpleNamespace(stepper=stepper, means=means), 103.0)
    np.testing.assert_allclose(given, [80.0 / 3.0, -14.0 / 3.0], rtol=1e-12)
    assert kept == [(101.0, 1.0), (103.0, 2.0)]
