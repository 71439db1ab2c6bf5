"""From Python: what was solved is kept and read again, whatever it is, or the message says what can be."""

import subprocess
import sys
from pathlib import Path

import pytest

import joistbay
from joistbay.runs import _inside
from sim.problems.save_warm_up import is_warm_up, read_choice

CASE = """
bay.length = "1 m"
[mesh]
fineness = "coarse"
[time]
duration = "1 h"
[water]
supply = "45 degC"
[room]
temperature = "20 degC"
"""


def test_a_warm_up_is_kept_as_the_command_keeps_it(tmp_path):
    found = joistbay.warm_up(joistbay.parse_case(CASE, "den"))
    folder = joistbay.save(found, tmp_path / "kept")
    assert is_warm_up(folder)
    (home,) = (folder / "choices").iterdir()
    series, _ = read_choice(home)
    assert float(series["heat_up"][-1]) == pytest.approx(float(found.series["heat_up"][-1]), rel=1e-6)
    with pytest.raises(joistbay.StoreError, match="it is a warm-up, whose series"):
        joistbay.read_run(folder)


def test_a_comparison_names_the_runs_that_it_holds(tmp_path):
    for place in ("equal_water/1-a", "equal_heat/2-b"):
        (tmp_path / place).mkdir(parents=True)
        (tmp_path / place / "fields.nc").write_bytes(b"")
    with pytest.raises(joistbay.StoreError, match="it holds runs, of which one can be read: .*2-b, .*1-a"):
        joistbay.read_run(tmp_path)
    assert _inside(tmp_path / "equal_water" / "1-a") == ""


@pytest.mark.slow
def test_a_checker_takes_one_conductivity_for_all(tmp_path):
    script = tmp_path / "own.py"
    lines = "from sim.case.materials import Material", 'Material("cork", 0.04, 120.0, 1800.0, 0.9)', ""
    script.write_text("\n".join(lines), encoding="utf-8")
    root = Path(__file__).parents[2]
    checker = [sys.executable, "-m", "mypy", "--config-file", str(root / "pyproject.toml"), "--follow-imports=silent"]
    done = subprocess.run([*checker, script], cwd=root, capture_output=True, text=True, check=False)
    assert "Success" in done.stdout, done.stdout
    assert "arg-type" not in done.stdout and "call-arg" not in done.stdout, done.stdout
