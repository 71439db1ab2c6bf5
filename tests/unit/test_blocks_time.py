"""Time and waves in a case of blocks: what is read, what is refused, how it is driven and reported."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
import tomli_w
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.cli.main import main
from sim.problems.blocks_in_time import block_drivers, follow_blocks, march_options
from sim.resolved import in_time
from sim.run import prepare
from sim.store.run_folder import read_run

CASES = Path(__file__).parents[2] / "cases"
CASE = """
kind = "blocks"
[mesh]
across = "50 mm"
[time]
duration = "2 h"
start_temperature = "20 degC"
report_at = ["1 h", "30 min"]
[[box]]
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0 m", "0.1 m"]
conductivity = "1 W/(m*K)"
[[face]]
name = "low"
on = "x-"
film = "10 W/(m^2*K)"
ambient = "20 degC"
wave = { amplitude = "5 K", period = "24 h", delay = "6 h" }
[[face]]
name = "high"
on = "x+"
temperature = "20 degC"
[[probe]]
name = "middle"
point = ["50 mm", "50 mm", "50 mm"]
"""


def parsed(old="", new=""):
    assert old in CASE
    return parse_case(CASE.replace(old, new, 1), "cube")


def problems(old, new):
    with pytest.raises(CaseError) as caught:
        parsed(old, new)
    return {problem.key: problem for problem in caught.value.problems}


def test_time_and_wave_are_read_in_si_and_written_back():
    case = parsed()
    assert (case.time.duration, case.time.start_temperature, case.time.report_at) == (7200.0, 293.15, (3600.0, 1800.0))
    wave = case.faces[0].wave
    assert (wave.amplitude, wave.period, wave.delay) == (5.0, 86400.0, 21600.0)
    assert case.faces[1].wave is None
    assert parse_case(tomli_w.dumps(case.resolved()), "cube") == case
    assert "swings by 5 K" in str(case) and "in time for 2 h" in str(case)
    assert "every 90 s" in str(parsed('period = "24 h"', 'period = "1.5 min"'))


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ('report_at = ["1 h", "30 min"]', 'report_at = ["3 h"]', "time.report_at[0]", "must be at most the duration"),
        ('duration = "2 h"\n', "", "time.duration", "missing"),
        ('duration = "2 h"', 'duration = "0 h"', "time.duration", "greater than 0"),
        ('film = "10 W/(m^2*K)"\nambient = "20 degC"', 'flux = "1 W/m^2"', "face[0].wave", "could swing"),
        ('period = "24 h"', 'period = "-1 h"', "face[0].wave.period", "greater than 0"),
        ("amplitude", "amplitud", "face[0].wave.amplitud", 'did you mean "amplitude"?'),
    ],
)
def test_bad_times_get_a_clear_line(old, new, key, words):
    found = problems(old, new)
    assert words in f"{found[key].rule} {found[key].way_out}"


def test_only_a_wave_needs_time():
    timeless = CASE[: CASE.index("[time]")] + CASE[CASE.index("[[box]]") :]
    with pytest.raises(CaseError, match="only swings in time"):
        parse_case(timeless, "cube")
    still = "\n".join(line for line in timeless.splitlines() if not line.startswith("wave"))
    assert parse_case(still, "cube").time is None


LID = (CASES / "verification" / "lump-over-still-air" / "case.toml").read_text()


def lid(old="", new=""):
    assert old in LID
    return parse_case(LID.replace(old, new, 1), "lid")


def test_computed_air_in_time_is_followed_on_the_processor():
    with pytest.raises(CaseError, match="on the processor"):
        lid('model = "resolved"', 'model = "resolved"\ndevice = "gpu"')


@pytest.mark.parametrize(
    ("line", "way_out"),
    [
        ("growth = 0.1", "use air.cell and air.wall_cell"), ("steady = 0.02", "use air.error"),
        ('start = "roll"', "starts from the state of films"),
        ("two_dimensional = true", "in the plane anyway"), ('average_from = "9 s"', "add [time] with duration"),
    ],
)  # fmt: skip
def test_what_only_air_alone_knows_names_what_serves_beside_solids(line, way_out):
    timeless = LID[: LID.index("[time]")].replace('model = "resolved"', f'model = "resolved"\n{line}', 1)
    with pytest.raises(CaseError) as caught:
        parse_case(timeless, "lid")
    (problem,) = caught.value.problems
    assert problem.key == f"air.{line.split()[0]}" and way_out in problem.way_out


@pytest.mark.parametrize("key", ['start_temperature = "305 K"', 'average_from = "30 s"', 'scheme = "central"'])
def test_start_average_and_scheme_go_with_air_in_time(key):
    assert lid('model = "resolved"', f'model = "resolved"\n{key}').air.is_resolved


def test_averaging_begins_before_the_end_of_time():
    with pytest.raises(CaseError, match="beyond the end of"):
        lid('model = "resolved"', 'model = "resolved"\naverage_from = "60 s"')


def test_without_time_air_among_solids_has_no_start_of_its_own():
    own = 'model = "resolved"\nstart_temperature = "305 K"'
    timeless = LID[: LID.index("[time]")].replace('model = "resolved"', own, 1)
    with pytest.raises(CaseError, match="air.start_temperature"):
        parse_case(timeless, "lid")


QUICK = [
    ('cell = "2 mm"', 'cell = "5 mm"'),
    ('wall_cell = "1 mm"', 'wall_cell = "5 mm"'),
    ('duration = "60 s"', 'duration = "4 s"'),
    ('report_at = ["5 s", "20 s"]', 'report_at = ["1.3 s"]'),
]


@pytest.fixture
def few_meetings(monkeypatch):
    monkeypatch.setattr(in_time, "LEAST_INTERVALS", 20)


def quick_lid(*changes):
    text = LID
    for old, new in (*QUICK, *changes):
        assert old in text
        text = text.replace(old, new, 1)
    return parse_case(text, "lid")


def test_solids_and_air_exchange_exactly_what_they_lose(few_meetings):
    """What lid and floor give the air is what it holds more than at the start; the lid gives up what it stored less."""
    found = follow_blocks(quick_lid())
    assert found.history.residual < 1e-6
    air, domain = found.air, found.air.domain
    capacity = 0.026 / 2.2e-5
    risen = float(np.sum((air.now.temperature - 310.0) * domain.volumes * domain.air))
    assert_allclose(air.stored, capacity * risen, rtol=1e-6, atol=0.0)
    given = -found.history.energy("delivered", "cavity air settling")[-1]
    # but for the 1e-3 W/m²K with which held faces answer within an interval
    assert_allclose(given, -air.stored, rtol=1e-3, atol=0.0)
    lid_fall = 120.0 * 100.0 * 0.05 * 0.01 * 0.01 * (310.0 - 273.15 - found.end.report["wall_lid_mean_C"])
    assert_allclose(-found.history.stored()[-1], lid_fall, rtol=2e-3, atol=0.0)


def test_reports_fall_on_their_times_and_means_begin_where_they_are_told(tmp_path, few_meetings):
    found = follow_blocks(quick_lid(('model = "resolved"', 'model = "resolved"\naverage_from = "2 s"')))
    assert list(found.reports) == [1.3, 4.0]
    rows = [row["wall_lid_mean_C"] for row in found.rows() if row["time_s"] > 2.0]
    assert min(rows) <= found.means()["mean_wall_lid_mean_C"] <= max(rows)
    # air of 310 K that cools ever more slowly: in the last 2 s of 4 it is warmer than at their end, and on the mean has
    # cooled more than by the three quarters of a straight line
    mean, now = (state.temperature.mean() for state in (found.air.mean, found.air.now))
    assert now < mean < 310.0 - 0.75 * (310.0 - now)
    assert main(["warmup", str(_written(tmp_path)), "--out", str(tmp_path / "run")]) == 0
    assert {"air_temperature", "air_temperature_now"} <= set(read_run(tmp_path / "run").fields)


def _written(folder):
    path = folder / "lid.toml"
    path.write_text(tomli_w.dumps(quick_lid().resolved()))
    return path


def test_air_of_its_own_warmth_begins_with_it(few_meetings):
    """Air 10 K cooler than lid and floor takes heat from both."""
    cool = quick_lid(('model = "resolved"', 'model = "resolved"\nstart_temperature = "290 K"'))
    first = follow_blocks(cool).rows()[1]
    assert first["wall_lid_convective_W"] > 0.0 and first["wall_cold_convective_W"] > 0.0


def test_halving_the_interval_between_air_and_solids_changes_little(monkeypatch):
    """Second order in the interval: with a quarter of it the lid's fall, 0.1 K in 4 s, changes by less than 1 %."""
    found = {}
    for share in (0.4, 0.1):
        monkeypatch.setattr(in_time, "SHARE", share)
        monkeypatch.setattr(in_time, "LEAST_INTERVALS", 4)
        found[share] = 310.0 - 273.15 - follow_blocks(quick_lid()).end.report["wall_lid_mean_C"]
    assert_allclose(found[0.4], found[0.1], rtol=0.01)


def test_the_step_of_the_air_changes_little(monkeypatch):
    """Third order in the step: with a third of it the lid's fall changes by less than 0.2 %."""
    found = []
    monkeypatch.setattr(in_time, "LEAST_INTERVALS", 4)
    for safety in (0.9, 0.3):
        monkeypatch.setattr("sim.airflow.pace.SAFETY", safety)
        found.append(310.0 - 273.15 - follow_blocks(quick_lid()).end.report["wall_lid_mean_C"])
    assert_allclose(*found, rtol=0.002)


def test_faces_of_a_group_swing_together():
    with pytest.raises(CaseError, match="swing together"):
        parse_case(CASE.replace('name = "low"', 'group = "ends"').replace('name = "high"', 'group = "ends"'), "cube")


def test_signals_follow_the_faces():
    drivers = block_drivers(parsed(), prepare(parsed()))
    assert list(drivers.ambients) == ["low"]
    signal = drivers.ambients["low"]
    # 20 °C + 5 K sin 2π (t − 6 h)/24 h
    found = [signal.value(hour * 3600.0) - 273.15 for hour in (0, 6, 12, 18)]
    assert_allclose(found, [15, 20, 25, 20], rtol=0, atol=1e-9)


def test_a_held_temperature_swings_about_itself():
    wave = 'wave = { amplitude = "1 K", period = "4 h" }'
    case = parsed('on = "x+"\ntemperature = "20 degC"', f'on = "x+"\ntemperature = "30 degC"\n{wave}')
    signal = block_drivers(case, prepare(case)).ambients["high"]
    assert_allclose(signal.value(3600.0), 304.15, rtol=0, atol=1e-9)


def test_steps_end_on_reports_and_follow_waves():
    options = march_options(parsed('period = "24 h"', 'period = "36 min"'))
    assert options.stops == (1800.0, 3600.0)
    assert options.longest_step == 60.0


def test_reports_in_the_order_of_time():
    heard = []
    found = follow_blocks(parsed(), listener=lambda moment, step: heard.append(step))
    assert list(found.reports) == [1800.0, 3600.0, 7200.0]
    assert len(heard) == len(found.history.steps)
    assert found.history.residual < 1e-6
    # cooled from the side of the low ambient, ever more
    middle = [report["probe_middle_C"] for report in found.reports.values()]
    assert np.all(np.diff([20.0, *middle]) < 0.0)
    assert "1800, 3600, 7200 s" in str(found)


def test_only_a_case_with_time_is_followed():
    case = parsed().model_copy(update={"time": None})
    with pytest.raises(ValueError, match="cube.*\\[time\\]"):
        follow_blocks(case)


def test_check_names_the_command_that_follows_a_case_in_time(tmp_path, capsys):
    (tmp_path / "cube.toml").write_text(CASE, "utf-8")
    assert main(["check", str(tmp_path / "cube.toml")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "joistbay warmup" in told and "follows its [time]" in told and told.endswith("solves its steady state.")


def test_run_says_that_it_gives_the_steady_state(tmp_path, capsys):
    (tmp_path / "cube.toml").write_text(CASE, "utf-8")
    assert main(["run", str(tmp_path / "cube.toml"), "--out", str(tmp_path / "out"), "--no-pictures"]) == 0
    assert "joistbay warmup follows [time]" in capsys.readouterr().out


@pytest.fixture
def cube(tmp_path):
    path = tmp_path / "cube.toml"
    path.write_text(CASE, "utf-8")
    return path


def test_warmup_follows_blocks_as_the_python_call_does(cube, tmp_path, capsys):
    folder = tmp_path / "out"
    assert main(["warmup", str(cube), "--out", str(folder), "--units", "si"]) == 0
    printed = capsys.readouterr().out
    assert re.search(r"1800 s +3600 s +7200 s", printed)
    want = follow_blocks(parsed())
    middle = [report["probe_middle_C"] for report in want.reports.values()]
    (line,) = [line for line in printed.splitlines() if line.startswith("probe middle")]
    assert line.split()[2:] == ["°C", *(f"{value:.2f}" for value in middle)]
    with read_run(folder) as run:
        assert [row["time_s"] for row in run.history] == pytest.approx(list(want.history.time))
        assert_allclose(run.report["probe_middle_C"], middle[-1], rtol=0, atol=1e-9)
        assert_allclose(run.fields["temperature"], want.end.solution.temperature, rtol=0, atol=1e-9)
        assert run.fields.attrs["time"] == 7200.0


def test_warmup_of_blocks_as_json(cube, tmp_path, capsys):
    assert main(["warmup", str(cube), "--out", str(tmp_path / "out"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [one["time_s"] for one in found["reports"]] == [1800.0, 3600.0, 7200.0]


@pytest.mark.parametrize("option", [["--vary", "a=1"], ["--spacing", "9in"], ["--snapshots", "1h"], ["--workers", "2"]])
def test_warmup_of_blocks_refuses_options_of_bays(cube, capsys, option):
    assert main(["warmup", str(cube), *option]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert option[0] in line and str(cube) in line


def test_warmup_of_blocks_needs_time(tmp_path, capsys):
    path = CASES / "verification" / "layered-floor" / "case.toml"
    assert main(["warmup", str(path)]) == 2
    assert "has no [time]; write duration and start_temperature there" in capsys.readouterr().err
    assert main(["warmup", str(CASES / "air" / "square-from-below.toml")]) == 2
    assert "joistbay run follows its flow" in capsys.readouterr().err
