"""What `joistbay run` says of limits and cautions: only what is broken in full, the rest by subject."""

from types import SimpleNamespace

import pytest

from sim.case.load import load_case
from sim.cli.warnings import print_warnings, warnings_as_dict


class Paper:
    """Keeps lines instead of printing them."""

    def __init__(self):
        self.lines = []

    def print(self, text, **options):
        self.lines.append(text)


def result(**values):
    report = SimpleNamespace(values=values)
    return SimpleNamespace(case=load_case("cases/demo/family-oak.toml"), report=report)


@pytest.mark.parametrize(("peak", "broken"), [(28.9, 0), (29.1, 1)])
def test_only_what_is_broken_is_told_in_full(peak, broken):
    paper = Paper()
    print_warnings(paper, result(surface_peak_C=peak), "si")
    told = [line for line in paper.lines if line.startswith("BROKEN")]
    assert len(told) == broken
    assert all("EN 1264-2" in line and "29.1 °C, at most 29.0 °C" in line for line in told)


def test_cautions_by_subject():
    paper = Paper()
    print_warnings(paper, result(water_supply_C=55.0), "si")
    assert paper.lines[-1].startswith("To mind: ")
    assert "hot water" in paper.lines[-1]
    assert "pressure test" in paper.lines[-1]


def test_a_broken_caution_is_told_in_full():
    paper = Paper()
    print_warnings(paper, result(cavity_air_C=61.0), "ip")
    assert any(line.startswith("BROKEN: wiring: cavity air 142 °F") for line in paper.lines)


def test_json_has_all_with_sources():
    told = warnings_as_dict(result(surface_peak_C=30.0, water_supply_C=55.0))
    assert [row["kept"] for row in told["limits"] if row["key"] == "surface_peak_C"] == [False]
    assert all(row["source"] for row in told["limits"] + told["cautions"])


def test_other_cases_have_none():
    assert warnings_as_dict(SimpleNamespace(case=SimpleNamespace(kind="blocks"))) == {}
