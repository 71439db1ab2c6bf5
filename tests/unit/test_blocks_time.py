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


def test_resolved_air_does_not_go_with_time():
    assert "time" in problems("[[box]]", '[air]\nmodel = "resolved"\n[[box]]')


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
