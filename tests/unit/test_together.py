"""Choices that are solved together: searches in lockstep, a comparison and a study in batches, `--device`."""

from dataclasses import dataclass, field
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest

from sim.airflow.device.batches import find_batches
from sim.case.load import parse_case
from sim.cli.main import main
from sim.study import on_device, together
from sim.study.compare import AskedChoice
from sim.study.sampling import Draw
from sim.study.water import UnreachableError
from tests.unit.test_cli import TINY


def pair_of_numbers(start):
    """A search that wants two numbers solved and then their sum."""
    first, second = yield [start, start + 1]
    (last,) = yield [first + second]
    return last


def failing(start):
    """A search whose case cannot be solved."""
    yield [-1]
    return "never"


@pytest.fixture
def doubled(monkeypatch):
    """Solving doubles a number; negative ones cannot be solved. Keeps what each call was given."""
    calls = []

    def solve(cases, **choices):
        calls.append(list(cases))
        return [ValueError("negative") if case < 0 else 2 * case for case in cases]

    monkeypatch.setattr(together, "solve_many", solve)
    return calls


def test_searches_go_in_lockstep(doubled):
    first, second, third = together.pursue([pair_of_numbers(1), failing(0), pair_of_numbers(5)], "cpu")
    assert (first, third) == (2 * (2 + 4), 2 * (10 + 12))
    assert isinstance(second, ValueError)
    assert doubled == [[1, 2, -1, 5, 6], [6, 22]]


@dataclass
class Floor:
    """A made-up case: its flux is a factor times water above the room."""

    factor: float
    air: SimpleNamespace = field(default_factory=lambda: SimpleNamespace(device="gpu", error=0.01))
    supply: float = 313.15
    name: str = "floor"
    plates = None
    tube = SimpleNamespace(positions=None, direction="along")
    floor = SimpleNamespace(coverings=())

    @property
    def water(self):
        return SimpleNamespace(supply=self.supply)

    @property
    def room(self):
        return SimpleNamespace(temperature=293.15)

    def resolved(self):
        return {"factor": self.factor, "water": {"supply": self.supply}}

    def with_(self, **values):
        return Floor(values.get("factor", self.factor), supply=values.get("water.supply", self.supply))


def test_comparison_in_batches(monkeypatch):
    """Every choice at the case's water, then all searches for equal heat together; out of reach and failed are said."""
    sizes = []

    def solve(cases, device, listener=None, hands=None):
        sizes.append(len(cases))
        assert device == "gpu"
        return [
            RuntimeError("broken") if case.factor < 0 else
            SimpleNamespace(report={"heat_flux_up_W_m2": case.factor * (case.supply - 293.15)})
            for case in cases
        ]  # fmt: skip

    monkeypatch.setattr(together, "solve_many", solve)
    monkeypatch.setattr(together, "begin_hands", lambda choices: together.Hands())
    monkeypatch.setattr(together, "reports_by_films", lambda cases, hands: [RuntimeError("no films")] * len(cases))
    factors = {"a": 4.0, "b": 2.0, "c": 0.1, "d": -1.0}
    choices = [AskedChoice(name, Floor(factor), {"factor": factor}) for name, factor in factors.items()]
    found = together.compare_together(Floor(1.0), choices)
    a, b, c, d = found.choices
    assert found.flux == pytest.approx(80.0)
    assert a.at_heat.solves == 0 and b.at_heat.supply == pytest.approx(333.15, rel=1e-2)
    assert c.at_heat is None and "is wanted" in c.shortfall
    assert d.at_water is None and "broken" in d.failure
    assert sizes[0] == 4 and sizes[1] == 2


def test_equal_heat_is_followed_beside_equal_water(monkeypatch):
    """Films that tell right how choices differ spare the second batch; the water found gives the first one's heat."""
    sizes = []

    def solve(cases, device, listener=None, hands=None):
        sizes.append(len(cases))
        flux = "heat_flux_up_W_m2"
        return [SimpleNamespace(report={flux: c.factor * (c.supply - 293.15) ** together.RISE_POWER}) for c in cases]

    monkeypatch.setattr(together, "solve_many", solve)
    monkeypatch.setattr(together, "begin_hands", lambda choices: together.Hands())
    by_films = lambda cases, hands: [{"heat_flux_up_W_m2": 0.97 * c.factor} for c in cases]  # noqa: E731
    monkeypatch.setattr(together, "reports_by_films", by_films)
    choices = [AskedChoice(name, Floor(factor), {"factor": factor}) for name, factor in (("a", 4.0), ("b", 3.0))]
    a, b = together.compare_together(Floor(1.0), choices).choices
    assert sizes == [3]
    assert b.at_heat.supply > a.at_heat.supply
    assert b.at_heat.result.report["heat_flux_up_W_m2"] == pytest.approx(a.at_water.report["heat_flux_up_W_m2"])


def test_films_that_are_wrong_cost_only_a_second_batch(monkeypatch):
    sizes = []

    def solve(cases, device, listener=None, hands=None):
        sizes.append(len(cases))
        return [SimpleNamespace(report={"heat_flux_up_W_m2": c.factor * (c.supply - 293.15)}) for c in cases]

    monkeypatch.setattr(together, "solve_many", solve)
    monkeypatch.setattr(together, "begin_hands", lambda choices: together.Hands())
    by_films = lambda cases, hands: [{"heat_flux_up_W_m2": c.factor ** 2} for c in cases]  # noqa: E731
    monkeypatch.setattr(together, "reports_by_films", by_films)
    choices = [AskedChoice(name, Floor(factor), {"factor": factor}) for name, factor in (("a", 4.0), ("b", 3.0))]
    _, b = together.compare_together(Floor(1.0), choices).choices
    assert sizes[0] == 3 and len(sizes) > 1
    assert b.at_heat.result.report["heat_flux_up_W_m2"] == pytest.approx(80.0, rel=0.011)


def test_study_in_one_batch(monkeypatch):
    def solve(cases, device, harvest):
        assert harvest is together.report_values
        return [{"flux": case.factor} if case.factor < 5 else RuntimeError("broken") for case in cases]

    monkeypatch.setattr(together, "solve_many", solve)
    trials = [Draw("usual"), Draw("more", {"factor": 3.0}), Draw("too much", {"factor": 9.0})]
    usual, more, failed = together.perform_together(Floor(1.0), trials)
    assert (usual.report["flux"], more.report["flux"]) == (1.0, 3.0)
    assert failed.failure == "RuntimeError: broken"


def test_water_out_of_reach_ends_only_its_own_search():
    search = together.supply_cases(
        Floor(0.1), SimpleNamespace(report={"heat_flux_up_W_m2": 2.0}),
        together.Target("heat_flux_up_W_m2", 80.0), 1e-4,
    )  # fmt: skip
    (case,) = next(search)
    with pytest.raises(UnreachableError):
        while True:
            (case,) = search.send([SimpleNamespace(report={"heat_flux_up_W_m2": 0.1 * (case.supply - 293.15)})])


def test_bays_of_like_size_share_a_batch():
    """A whole bay among pitches would leave most of the common grid empty; the device's memory ends a batch, too."""

    def problem(shape, faces=3):
        domain = SimpleNamespace(shape=shape, cells=int(np.prod(shape)))
        return SimpleNamespace(domain=domain, influence=SimpleNamespace(matrix=np.broadcast_to(0.0, (faces, faces))))

    pitches = [problem((60, 26, 16)), problem((50, 40, 16))] * 10
    assert find_batches(dict(enumerate([problem((60, 500, 40)), *pitches]))) == [list(range(1, 21)), [0]]
    heavy = dict(enumerate([problem((20, 20, 20), 30_000)] * 5))
    assert [len(batch) for batch in find_batches(heavy)] == [3, 2]
    assert find_batches({}) == []


def test_bays_of_a_house_in_batches(monkeypatch, tmp_path):
    """Curves, water for a flux, and a mean water, each from one search a bay, all bays of a pass in one call."""
    from sim.house import bay_solver

    calls = []

    def solve(cases, device, listener=None, hands=None):
        calls.append([round(case.water.supply - case.room.temperature, 6) for case in cases])
        return [SimpleNamespace(report=Report(case)) for case in cases]

    def flux_at(excess):
        """40 W/m² at 20 K, and more than in proportion, as where air moves."""
        return 40.0 * (excess / 20.0) ** 1.14

    class Report(dict):
        def __init__(self, case):
            excess = case.water.supply - case.room.temperature
            super().__init__(heat_flux_up_W_m2=flux_at(excess), water_mean_C=case.water.supply - 273.15 - 1.0)

        as_dict = dict.copy

    monkeypatch.setattr(together, "solve_many", solve)
    monkeypatch.setattr(on_device, "goes_together", lambda case: case.air.device == "gpu")
    case = parse_case(RESOLVED).with_(**{"air.device": "gpu"})
    told = []

    def batch(what, count):
        told.append((what, count))
        return lambda outcome: told.append(outcome.folder.parent)

    solver = bay_solver.BaySolver(tmp_path, batch=batch)
    (answer,) = solver._answers([bay_solver._job(case, bay_solver.solve_points, (6.0, 30.0))], "points")
    assert [report["heat_flux_up_W_m2"] for report in answer.reports] == pytest.approx([flux_at(6.0), flux_at(30.0)])
    (needed,) = solver.needed([(case, 50.0, 20.0)])
    assert needed.reports[0]["heat_flux_up_W_m2"] == pytest.approx(50.0, rel=1e-2) and needed.solves == 2
    (mean,) = solver.at([(case, 30.0, 0.0)])
    assert mean["water_mean_C"] == pytest.approx(case.room.temperature - 273.15 + 30.0)
    assert calls == [[6.0, 30.0], [20.0], [pytest.approx(20.0 * 1.25 ** (1.0 / 1.14))], [30.0], [31.0]]
    assert solver.asked == solver.made == 2 + 2 + 2
    assert told[:3] == [("points", 1), tmp_path, ("water needed", 1)]
    again = bay_solver.BaySolver(tmp_path)  # a house that was stopped, or is asked once more
    assert again.needed([(case, 50.0, 20.0)]) == [needed] and again.at([(case, 30.0, 0.0)]) == [mean]
    assert len(calls) == 5 and (again.made, again.taken_up) == (0, 4)
    (foreseen,) = solver.at([(case, 30.0, 1.0)])  # a fall known beforehand saves the second solve
    assert foreseen == mean and calls[5:] == [[31.0]] and solver.made == 2 + 2 + 2 + 1


RESOLVED = TINY + '\n[air]\nmodel = "resolved"\n'


@pytest.mark.parametrize("text, said", [(RESOLVED, "accelerator"), (TINY, 'is for air.model = "resolved"')])
@pytest.mark.parametrize("command", ["run", "compare"])
def test_device_that_cannot_be_used(command, text, said, tmp_path, monkeypatch, capsys):
    """One clear line, exit 2, nothing solved."""
    from sim.airflow.device import seam

    def missing():
        raise seam.NoDeviceError("air.device is \"gpu\" but this machine shows no accelerator")

    monkeypatch.setattr(seam, "accelerator", missing)
    path = tmp_path / "tiny.toml"
    path.write_text(text)
    assert main([command, str(path), "--device", "gpu", "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1 and not (tmp_path / "out").exists()


@pytest.mark.parametrize("installed", [True, False])
def test_comparison_begins_processes_before_it_wakes_the_accelerator(installed, monkeypatch):
    """Both take seconds; without libraries for one no process is begun, and with them none is left where it fails."""
    from sim.airflow.device import seam
    from sim.cli import compare

    done = []

    def missing(device):
        done.append("woken")
        raise seam.NoDeviceError("no accelerator")

    hands = SimpleNamespace(close=lambda: done.append("closed"))
    monkeypatch.setattr("sim.study.on_device.find_spec", lambda name: name if installed else None)
    monkeypatch.setattr(together, "begin_hands", lambda *given: done.append("begun") or hands)
    monkeypatch.setattr(seam, "choose_backend", missing)
    case = parse_case(RESOLVED + 'device = "gpu"\n')
    with pytest.raises(seam.NoDeviceError):
        compare._hands([AskedChoice("one", case)], SimpleNamespace(passing=lambda: None))
    assert done == (["begun", "woken", "closed"] if installed else ["woken"])


def test_pictures_are_begun_before_films_are_taught(tmp_path, monkeypatch):
    """In a draft: the folder itself appears once the films are in it, with what was drawn meanwhile."""
    from sim.cli import compare
    from sim.cli.drawers import Begun

    told, out = [], tmp_path / "compared"

    class Here:
        def __init__(self, count):
            """No process: all is drawn here."""

        def __enter__(self):
            return self

        def __exit__(self, *_):
            """Nobody goes."""

        def begin(self, works):
            told.append("begun")
            return Begun(works, [None] * len(works))

    def teach(result, folder):
        told.append("taught")
        assert not out.exists()
        (folder / "air_films.json").write_text("{}")

    (store := tmp_path / "store").mkdir()
    monkeypatch.setattr(compare, "_hands", lambda *given: together.Hands(partial(together.keep_result, store=store)))
    monkeypatch.setattr(compare, "Drawers", Here)
    monkeypatch.setattr("sim.problems.bay.teach", teach)
    (tmp_path / "tiny.toml").write_text(TINY)
    options = ["--spacing", "200mm,none", "--no-pictures", "--out", str(out)]
    assert main(["compare", str(tmp_path / "tiny.toml"), *options]) == 0
    assert told[0] == "begun" and set(told[1:]) == {"taught"}
    assert len(list(out.glob("equal_*/*/air_films.json"))) == len(list(out.glob("equal_*/*"))) == 4
    assert "plates every" in (out / "report.html").read_text() and (out / "written.toml").is_file()


def test_auto_says_which(monkeypatch, capsys):
    from sim.airflow.device import seam
    from sim.cli.load import on_device

    monkeypatch.setattr(seam, "choose_backend", lambda device: SimpleNamespace(name="device seven"))
    case = on_device(parse_case(RESOLVED), "auto")
    assert case.air.device == "auto" and "air on device seven" in capsys.readouterr().err
