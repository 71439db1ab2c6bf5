"""The page of a study: what it says of made-up results, in both unit systems, whatever its folder holds."""

import json
import re
from functools import partial

import pytest

from sim.case.load import parse_case
from sim.cli.main import main
from sim.cli.report import page_of
from sim.store.run_folder import CASE_FILE
from sim.study.inputs import parse_inputs
from sim.study.sampling import perform_trials_here, study
from sim.study.save_study import STUDY_FILE, save_study
from tests.tiny_bays import HUNG
from viz.report.drawing import TextMark
from viz.report.html import page_html
from viz.report.parts import Figure, Table

CASE = parse_case(HUNG, "den")
TEXTS = ["water.supply=40..60 degC", "plates.drop=20..40 mm"]


def by_water(case):
    """50 W/m² at 50 °C and 1 W/m² for each kelvin; a ripple that nothing moves."""
    return {"heat_flux_up_W_m2": 50.0 + case.water.supply - 323.15, "ripple_K": 2.0, "cells": 1.0}


def kept(folder, samples=30, solver=by_water):
    found = study(CASE, parse_inputs(CASE, TEXTS), samples, perform=partial(perform_trials_here, solver=solver))
    save_study(found, folder)
    return found


@pytest.fixture
def folder(tmp_path):
    kept(tmp_path / "out")
    return tmp_path / "out"


def parts_of(page, kind):
    return [part for chapter in page.chapters for part in chapter.parts if isinstance(part, kind)]


def test_the_answer_says_between_what_and_what_moves_it(folder):
    page, own = page_of(folder)
    html = page_html(page, own)
    first, second = (part.text for part in page.chapters[0].parts[:2])
    # uniform between 40 and 60 °C: 5 and 95 % lie at 41 and 59 °C, in 30 draws of a Latin hypercube within a draw
    low, high = map(float, re.findall(r"(\d+\.\d) W/m²", first.si))
    assert low == pytest.approx(41.0, abs=0.7) and high == pytest.approx(59.0, abs=0.7)
    assert first.si.endswith("in 9 of 10 draws; water.supply moves it most.") and "Btu/h·ft²" in first.ip
    assert second.si.endswith("no input moves it.")
    assert "What moves each result" in html and "plates.drop" in html


def test_ends_of_inputs_stand_in_both_systems(folder):
    page, _ = page_of(folder)
    heat = next(table for table in parts_of(page, Table) if table.caption.si == "upward heat flux.")
    name, low, at_low, high, at_high, ranks = heat.rows[0]
    assert (name.si, low.si, low.ip, high.si, high.ip) == ("water.supply", "40 °C", "104 °F", "60 °C", "140 °F")
    assert (at_low.si, at_high.si, ranks.si) == ("40.0 W/m²", "60.0 W/m²", "+1.00")
    assert heat.rows[1][1].ip == "0.79 in"  # 20 mm / 25.4


@pytest.mark.parametrize("width", [660.0, 350.0])
def test_bars_go_from_end_to_end_and_stay_within_the_figure(folder, width):
    page, _ = page_of(folder)
    for figure in parts_of(page, Figure):
        drawing = figure.draw(width)
        for mark in drawing.marks:
            if not isinstance(mark, TextMark):
                assert all(0.0 <= x <= width and 0.0 <= y <= drawing.height for x, y in mark.points)
    drawing = parts_of(page, Figure)[0].draw(width)
    supply, drop = [mark for mark in drawing.marks if getattr(mark, "fill", "none") == "up"]
    wide = [max(x for x, _ in bar.points) - min(x for x, _ in bar.points) for bar in (supply, drop)]
    assert wide[0] == pytest.approx(width - 140.0) and wide[1] == pytest.approx(1.0)
    (own,) = [mark for mark in drawing.marks if getattr(mark, "fill", "none") == "none" and not hasattr(mark, "text")]
    assert own.points[0][0] == pytest.approx(width / 2.0), "the case's own 50 W/m² lie halfway between 40 and 60"


def test_few_draws_and_failed_ones_are_told(tmp_path):
    def fails_hot(case):
        if case.water.supply > 331.0:
            raise ValueError("too hot")
        return by_water(case)

    kept(tmp_path / "out", samples=5, solver=fails_hot)
    page, own = page_of(tmp_path / "out")
    assert "draws, too few to say how often" in page.chapters[0].parts[0].text.si
    html = page_html(page, own)
    assert "water.supply high." in html and "Failed: ValueError: too hot" in html


def test_a_study_of_an_earlier_version_lacks_ends_only(folder):
    told = json.loads((folder / STUDY_FILE).read_text("utf-8"))
    del told["ends"], told["air"]
    (folder / STUDY_FILE).write_text(json.dumps(told), "utf-8")
    page, own = page_of(folder)
    assert "water.supply" in page_html(page, own)


@pytest.mark.parametrize("damage", ['{"numbers": 3}', '{"numbers": {"ripple_K": {}}}', "[", '{"ends": []}'])
def test_a_damaged_study_is_one_line(damage, folder, capsys):
    (folder / STUDY_FILE).write_text(damage, "utf-8")
    assert main(["report", str(folder), "--no-pdf"]) == 2
    said = capsys.readouterr().err
    assert STUDY_FILE in said and "Traceback" not in said


def test_report_sets_it_on_paper(folder, capsys):
    (folder / CASE_FILE).write_text("not a case", "utf-8")  # as one of a later version is to this one
    assert main(["report", str(folder)]) == 0
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF") and (folder / "report.html").is_file()
