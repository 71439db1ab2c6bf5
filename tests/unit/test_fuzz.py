"""Mutated cases, houses and command lines: a valid case, or a few clear lines; never a traceback, never long.

The default tier tries some hundreds of inputs, the slow tier more than ten thousand.
"""

import contextlib
import copy
import datetime
import io
import random
import shlex
import tomllib
from functools import cache
from pathlib import Path

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.case.errors import CaseError
from sim.case.house_load import parse_house
from sim.case.load import parse_case
from sim.case.vary import vary
from sim.cli.errors import UsageError
from sim.cli.load import check_size
from sim.cli.main import main

CASES = Path(__file__).resolve().parents[2] / "cases"
FILES = sorted(CASES.glob("[adi]*/*.toml")) + sorted(CASES.glob("house/bays/*.toml"))
HOUSES = sorted(CASES.glob("house/*.toml"))

QUICK = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
LONG = settings(max_examples=4000, deadline=None, suppress_health_check=list(HealthCheck))

SCALARS = st.one_of(
    st.sampled_from(
        ["", "none", "0", "-1 mm", "3/4 in", '16"', "1e300 m", "1e-300 m", "R-19", "-500 degC", "50 m^9^9"]
    ),
    st.sampled_from(
        ["1 in/0", "16 dB m", "400 mm!", "oak", "hung", "1,5 m", "x" * 300, "é日\u202e", "../..", "/", "a\tb"]
    ),
    st.sampled_from([0, -1, 1, 10**400, -(10**20), 2**63, True, False, 0.5, 1e300, -1e300, float("nan"), float("inf")]),
    st.text(max_size=8),
    st.integers(),
    st.floats(),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["material", "thickness", "x", "kind", "", "a.b", "spacing"]), inner, max_size=3
        )
    ),
    max_leaves=6,
)
NAMES = st.sampled_from(["material", "thickness", "kind", "x", "name", "path", "title", "spacing", "", " ", "a b", "0"])


@cache
def data_of(path):
    return tomllib.loads(path.read_text("utf-8"))


def places(value, path=()):
    """Every key and list entry inside plain data, as paths."""
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in entries:
        yield (*path, key)
        yield from places(inner, (*path, key))


def mutated(data, draw):
    """One to three changes: a value replaced, a key dropped, renamed or doubled, a strange key put in."""
    data = copy.deepcopy(data)
    for _ in range(draw(st.integers(1, 3))):
        *way, last = draw(st.sampled_from(list(places(data)) or [("title",)]))
        here = data
        for step in way:
            here = here[step]
        action = draw(st.sampled_from(["replace", "replace", "replace", "drop", "rename", "add", "double"]))
        if action == "drop":
            del here[last]
        elif action == "rename" and isinstance(here, dict):
            here[draw(NAMES)] = here.pop(last)
        elif action == "add" and isinstance(here, dict):
            here[draw(NAMES)] = draw(VALUES)
        elif action == "double" and isinstance(here, list):
            here.append(copy.deepcopy(here[last]))
        else:
            here[last] = draw(VALUES)
    return data


def few_clear_lines(error):
    text = str(error)
    assert len(text) < 20_000
    assert text.replace("\n", " ").isprintable()
    assert all(problem.rule for problem in error.problems)


def sound_or_refused(read, text, path):
    try:
        return read(text, path.stem, str(path))
    except CaseError as error:
        few_clear_lines(error)
        return None


def case_is_met(data):
    path = data.draw(st.sampled_from(FILES))
    text = tomli_w.dumps(mutated(data_of(path), data.draw))
    case = sound_or_refused(parse_case, text, path)
    if case is not None:
        str(case), repr(case)


def geometry_is_met(data):
    """What is left of a case after changes of its quantities goes through geometry and mesh, as far as `check_size`."""
    path = data.draw(st.sampled_from(FILES))
    changed = copy.deepcopy(data_of(path))
    for *way, last in data.draw(st.lists(st.sampled_from(list(places(changed))), min_size=1, max_size=3)):
        here = changed
        for step in way:
            here = here[step]
        if not isinstance(here[last], dict | list):
            here[last] = data.draw(QUANTITIES)
    case = sound_or_refused(parse_case, tomli_w.dumps(changed), path)
    if case is None or getattr(case, "air_alone", False):
        return
    try:
        check_size(case)
    except CaseError as error:
        few_clear_lines(error)
    except UsageError as error:
        assert str(error).isprintable() and len(str(error)) < 500


QUANTITIES = st.one_of(
    st.builds(
        "{:.4g} {}".format, st.floats(1e-6, 1e3), st.sampled_from(["mm", "m", "in", "K", "degC", "degF", "W/m^2"])
    ),
    st.sampled_from(["0 mm", "1 um", "2 m", "300 m", "R-40", "12 tog", "50 degC", "3/4 in", '16"', "1000 W/(m*K)"]),
    st.integers(0, 12),
    st.floats(0.0, 1.0),
)


def house_is_met(data):
    path = data.draw(st.sampled_from(HOUSES))
    sound_or_refused(parse_house, tomli_w.dumps(mutated(data_of(path), data.draw)), path)


def bytes_are_met(data):
    """A text with pieces cut, doubled or replaced: mostly no TOML any more."""
    path = data.draw(st.sampled_from(FILES + HOUSES))
    text = path.read_text("utf-8")
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        piece = data.draw(
            st.one_of(st.text(max_size=4), st.sampled_from(['"', "[", "]]", "=", "\n", "'''", "#", "\\", "\r"]))
        )
        text = text[:start] + piece + text[start + data.draw(st.integers(0, 12)) :]
    sound_or_refused(parse_house if path in HOUSES else parse_case, text, path)


KEYS = st.sampled_from(
    [
        "plates.spacing",
        "plates",
        "tube.runs",
        "floor.covering[0].thickness",
        "floor.covering.9.material",
        "water.supply",
        "",
    ]
    + [
        ".",
        "a.b.c",
        "floor.covering",
        "plates.spacing.x",
        "[0]",
        "floor.covering[",
        "control.curve",
        "name",
        "path",
        "title",
    ]
    + ["air.model", "below.kind", "time.start_temperature", "mesh.fineness", "compare.spacing", "floor.covering[0][1]"]
)
BAY = "demo/kitchen-vinyl.toml"


def change_is_met(data):
    """What `--vary` and `case.with_` do."""
    case = parse_case((CASES / BAY).read_text("utf-8"), "kitchen")
    try:
        vary(case, data.draw(st.dictionaries(KEYS, VALUES, min_size=1, max_size=2)))
    except CaseError as error:
        few_clear_lines(error)


WORDS = st.one_of(
    st.sampled_from(["run", "check", "compare", "keys", "materials", "export", "water", "spacing", "study", "house"]),
    st.sampled_from(
        ["--json", "--out", "--fineness", "coarse", "--spacing", "--vary", "--flux", "--inputs", "--to", "vtu"]
    ),
    st.sampled_from(
        [
            "--",
            "verify",
            "missing.toml",
            "",
            " ",
            "/",
            ".",
            "/dev/null",
            "--samples=1e9",
            "--units",
            "ip",
            "-1",
            "--at",
            "2h",
            "==",
        ]
    ),
    st.sampled_from(
        ["nonsense", "-x", "--nonsense", "plates", "oak", "a\x1b[2Jb", "1 in/0", "é", "\udcff", "x" * 5000]
    ),
    st.text(alphabet=st.characters(exclude_characters="\x00"), max_size=6),
)


def command_line_is_met(data, folder):
    """Any words; the only files they can name are missing, empty or no case."""
    tokens = data.draw(st.lists(WORDS, max_size=6))
    if tokens[:1] == ["verify"]:
        tokens[1:1] = ["--cases", str(folder)]
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), contextlib.chdir(folder):
        code = main(tokens)
    told = err.getvalue()
    assert code in (0, 2), shlex.join(map(repr, tokens))
    assert "Traceback" not in told and len(told) < 2_000
    assert (code == 0) or told.strip()
    assert not list(folder.iterdir())


KINDS = {
    "case": case_is_met,
    "house": house_is_met,
    "geometry": geometry_is_met,
    "bytes": bytes_are_met,
    "change": change_is_met,
}


@pytest.mark.parametrize("kind", KINDS)
@QUICK
@given(data=st.data())
def test_hundreds_of_mutants_are_met(kind, data):
    KINDS[kind](data)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@LONG
@given(data=st.data())
def test_thousands_of_mutants_are_met(kind, data):
    KINDS[kind](data)


@settings(QUICK, max_examples=80)
@given(data=st.data())
def test_command_lines_are_met(data, tmp_path_factory):
    command_line_is_met(data, tmp_path_factory.mktemp("empty"))


@pytest.mark.slow
@settings(LONG, max_examples=2000)
@given(data=st.data())
def test_thousands_of_command_lines_are_met(data, tmp_path_factory):
    command_line_is_met(data, tmp_path_factory.mktemp("empty"))


WRONG = [5, -1, 0, 1e308, True, "", "x", "none", [], {}, ["a"], [[]], {"a": 1}, "1e308 m", "1e-320 m", "5 kg", "5 degC"]
WRONG += ["100 W", "nan", "nan m", "\u0663 m", "5 m 3", "1,000 mm", "=1+1", "5 m\u200b", datetime.date(2024, 2, 29)]
WRONG += [datetime.time(1, 2), "1/0 in", "-0 mm", "0x10 mm", 2**200, "5 mm; rm -rf", "file:///etc/passwd", "../../x"]
"""What a key may be given that wants something else."""


@cache
def keys_of_all_cases():
    """Every key of the cases that come with us, once each: the file where it stands, and its path there."""
    found = {}
    files = (path for path in sorted(CASES.rglob("*.toml")) if path.name not in ("expected.toml", "lesson.toml"))
    for path in files:
        if "{gap" not in path.read_text("utf-8"):
            kind = data_of(path).get("kind")
            for way in places(data_of(path)):
                found.setdefault((kind, *(step if isinstance(step, str) else 0 for step in way)), (path, way))
    return list(found.values())


def wrong_value_is_met(path, way, value):
    data = copy.deepcopy(data_of(path))
    here = data
    for step in way[:-1]:
        here = here[step]
    here[way[-1]] = value
    read = parse_house if data_of(path).get("kind") == "house" else parse_case
    sound_or_refused(read, tomli_w.dumps(data), path)


def test_keys_with_wrong_values_are_met():
    every = [(key, value) for key in keys_of_all_cases() for value in WRONG]
    for (path, way), value in random.Random(5).sample(every, 100):
        wrong_value_is_met(path, way, value)


@pytest.mark.slow
def test_every_key_with_every_wrong_value_is_met():
    for path, way in keys_of_all_cases():
        for value in WRONG:
            wrong_value_is_met(path, way, value)
