"""The water that a bay needs, where the law of its air changes on the way: one law a search, and it is said."""

import pickle
from types import SimpleNamespace

import pytest

from sim.case.load import load_case
from sim.case.taught import uses_learned_films
from sim.study import water
from sim.study.water import BetweenLawsError, required_supply

FILMS_END = 355.0 + 5.0
"""Water up to which learned films serve [K], as `sim.case.taught` says."""


class Straight:
    """A model whose upward flux is a conductance [W/m²K] times water minus room, one by each law of the air."""

    def __init__(self, case, conductances, learned=None):
        self.case, self.conductances = case, conductances
        self.by_learned_films = uses_learned_films(case) if learned is None else learned
        self.system = SimpleNamespace(cavity=object())

    def with_supply(self, supply):
        return Straight(self.case.with_(**{"water.supply": supply}), self.conductances, self.by_learned_films)


def solved(model, listener=None, start=None):
    by = model.conductances[0 if model.by_learned_films else 1]
    flux = by * (model.case.water.supply - model.case.room.temperature)
    return SimpleNamespace(
        case=model.case, report={"heat_flux_up_W_m2": flux}, solution=SimpleNamespace(state=None), by=by
    )


@pytest.fixture
def needed(monkeypatch):
    """The water for a flux by conductances of learned films and of correlations."""

    def found(flux, *conductances):
        case = load_case("cases/demo/kitchen-vinyl.toml").with_(**{"water.supply": 323.15, "room.temperature": 293.15})
        monkeypatch.setattr(water, "prepare", lambda changed: Straight(changed, conductances))
        monkeypatch.setattr(water, "solve_model", solved)
        model = Straight(case, conductances)
        return required_supply(model, solved(model), flux)

    return found


def test_within_the_learned_films_one_search_is_made(needed):
    found = needed(50.0, 1.0, 0.9)
    assert found.supply == pytest.approx(343.15, abs=0.01)
    assert found.result.by == 1.0


def test_beyond_them_the_search_is_made_by_correlations(needed):
    # 68 W/m² by learned films at 361.15 K, which do not hold there; by correlations at 293.15 + 68 / 0.97 = 363.25 K
    found = needed(68.0, 1.0, 0.97)
    assert found.supply == pytest.approx(293.15 + 68.0 / 0.97, abs=0.02)
    assert found.supply > FILMS_END and found.result.by == 0.97


def test_between_two_laws_there_is_no_answer_and_both_are_told(needed):
    # learned films want 361.15 K, where they do not hold; correlations 293.15 + 68 / 1.1 = 354.97 K, where they do not
    both = r"88\.0 °C by learned films and 81\.8 °C by correlations, and neither"
    with pytest.raises(BetweenLawsError, match=both) as caught:
        needed(68.0, 1.0, 1.1)
    assert min(caught.value.supplies) == pytest.approx(354.97, abs=0.02)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
