"""Lessons are data over one machine: every folder is whole, its cases can be read, and a lesson runs to its page."""

import re

import pytest
from PIL import Image

from sim.case import CaseError
from sim.cli.lesson import _added, _told_in
from sim.cli.main import main
from sim.cli.options import Output
from sim.lesson.data import LessonError, filled, lesson_names, load_lesson
from sim.lesson.follow import lesson_case
from sim.problems.kinds import kind_of
from sim.results.air_motion import told_number
from viz import lesson_page

NAMES = lesson_names()


def test_there_are_the_ten_lessons():
    assert set(NAMES) >= {
        "below-above", "growing-gap", "radiation", "still-moving", "plume-stripe", "fin", "heat-rises", "depth",
        "warm-up", "heat-goes",
    }  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_is_whole_and_its_cases_are_sound(name):
    lesson = load_lesson(name)
    assert lesson.options and lesson.tasks and lesson.numbers and lesson.question.endswith("?")
    assert lesson.seconds <= 60.0 and 1 <= lesson.right <= len(lesson.options)
    for asked in lesson.all_cases():
        case = lesson_case(asked)
        kind_of(case).check(case)


def test_the_list_says_questions_and_times(capsys):
    assert main(["lesson"]) == 0
    told = capsys.readouterr().out
    assert all(name in told for name in NAMES)
    assert "about 10 s" in told and told.count("in class 20 min") + told.count("in class 25 min") == len(NAMES)
    assert load_lesson("fin").minutes == 20 and load_lesson("growing-gap").minutes == 25  # 22 and 26, to five


def test_an_unknown_lesson_names_the_nearest(capsys):
    assert main(["lesson", "growing-gaps"]) == 2
    assert 'did you mean "growing-gap"?' in capsys.readouterr().err


@pytest.mark.parametrize(("values", "said"), [("100", "6 to 30 mm"), ("a,b", "not numbers")])
def test_values_of_a_class_are_checked(values, said, capsys, tmp_path):
    assert main(["lesson", "growing-gap", "--values", values, "--out", str(tmp_path / "o")]) == 2
    told = capsys.readouterr().err
    assert said in told and "Traceback" not in told


def test_values_of_a_class_are_in_the_readers_units_or_in_their_own(capsys, tmp_path):
    asked = load_lesson("growing-gap")
    assert _added("10,12.5", asked, "si") == (10.0, 12.5)
    assert _added("0.5, 15 mm,3/4 in", asked, "ip") == pytest.approx((12.7, 15.0, 19.05), rel=1e-12)
    assert main(["lesson", "growing-gap", "--values", "10", "--units", "ip", "--out", str(tmp_path / "o")]) == 2
    assert "--values 10 in: must be 0.24 to 1.2 in" in capsys.readouterr().err  # 6 to 30 mm


def test_a_lesson_without_a_sweep_takes_no_values():
    with pytest.raises(LessonError, match="leave --values out"):
        load_lesson("fin").all_cases((3.0,))


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_is_told_in_inches_where_these_are_asked_for(name):
    """No unit of SI stays in its texts; shares "of each 100 W" are no unit's."""
    told = _told_in(load_lesson(name), Output(units="ip"))
    texts = " ".join((told.title, told.question, *told.options, told.answer, told.fidelity, *sum(told.tasks, ())))
    assert not re.search(r"\d (mm|K|m/s|W/m²)(?![\w/²])|°C|aluminium|millimetre", texts), texts
    assert _told_in(told, Output(units="si")) is told


def test_words_are_filled_in():
    assert filled("{gap*gap*2} {gap}", {"gap": 3.0}) == "18 3"


def test_a_new_folder_is_a_new_lesson(tmp_path, capsys):
    """One folder with a file of questions and one case; what is wrong with it is one line."""
    folder = tmp_path / "mine"
    folder.mkdir()
    source = load_lesson("depth").folder
    (folder / "slab.toml").write_text((source / "slab.toml").read_text("utf-8"), "utf-8")
    text = (source / "lesson.toml").read_text("utf-8")
    (folder / "lesson.toml").write_text(text, "utf-8")
    assert lesson_names(tmp_path) == ["mine"]
    (folder / "lesson.toml").write_text(text.replace("seconds = 5", "seconds = 900"), "utf-8")
    assert main(["lesson", "mine", "--cases", str(tmp_path)]) == 2
    assert "seconds" in capsys.readouterr().err


def test_a_lesson_ends_in_picture_worksheet_and_key(tmp_path, capsys):
    out = tmp_path / "depth"
    assert main(["lesson", "depth", "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert told.index("Predict first") < told.index("Answer:")
    picture = Image.open(out / "pictures" / "picture.png")
    assert picture.width >= 1280
    sheet, key = ((out / name).read_text("utf-8") for name in ("worksheet.html", "key.html"))
    lesson = load_lesson("depth")
    assert lesson.question[:40] in sheet and lesson.question[:40] in key
    assert "<li class=right>next to nothing" in key and "class=right" not in sheet
    assert "Next to nothing" in key and "Next to nothing" not in sheet
    assert main(["lesson", "depth", "--out", str(out), "--no-pictures"]) == 0  # its own folder is replaced


def test_a_row_of_a_worksheet_keeps_its_number_with_its_unit():
    """On a phone "12.5 mm" must not stand in two lines."""
    rows = [{"case": "12.5 mm", "report": {}, "added": False}]
    assert "<th>12.5\u00a0mm</th>" in lesson_page._table(rows, [], key=False, units="si")


def test_the_right_option_is_one_of_them(tmp_path, capsys):
    folder = tmp_path / "mine"
    folder.mkdir()
    text = (load_lesson("depth").folder / "lesson.toml").read_text("utf-8")
    (folder / "lesson.toml").write_text(text.replace("right = 3", "right = 4"), "utf-8")
    assert main(["lesson", "mine", "--cases", str(tmp_path)]) == 2
    assert "right: must be the number of an option" in capsys.readouterr().err


def test_air_at_rest_has_no_speed_and_numbers_have_their_error():
    report = {"peclet": 1e-4, "air_speed_highest_mm_s": 2e-4, "nusselt_floor": 1.0, "nusselt_floor_uncertainty": 0.007}
    assert told_number(report, "air_speed_highest_mm_s") == "at rest"
    moving = report | {"peclet": 20.0, "air_speed_highest_mm_s": 5.0}
    assert told_number(moving, "air_speed_highest_mm_s") == "5.000 mm/s"
    assert told_number(report, "nusselt_floor") == "1.0000 ± 0.0070"


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_every_lesson_runs(name, tmp_path, capsys):
    assert main(["lesson", name, "--out", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "pictures" / "picture.png").is_file()
    assert "n/a" not in capsys.readouterr().out


def test_a_broken_change_is_refused_before_anything_is_solved(tmp_path):
    lesson = load_lesson("fin")
    broken = lesson.cases[0].__class__("x", lesson.cases[0].text, {"water.supply": "warm"})
    with pytest.raises(CaseError):
        lesson_case(broken)
