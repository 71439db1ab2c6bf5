"""`import joistbay`: what one would write works, says what is wrong in one line, and shows itself short."""

import inspect
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from pint import get_application_registry

import joistbay
from joistbay.choices import _titled_cases
from sim.machine.brief import MOST
from tests.tiny_bays import QUICK

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "cases/demo/family-oak.toml"
UNITS = get_application_registry()


@pytest.fixture(scope="module")
def oak():
    return joistbay.load_bay(DEMO).with_(QUICK)


@pytest.fixture(scope="module")
def solved(oak):
    return joistbay.solve(oak)


@pytest.fixture(scope="module")
def square():
    """Air alone, on very few cells."""
    changes = {"air.cell": "0.1 m", "air.wall_cell": "0.05 m", "air.longest": "0.02 s", "air.frames_until": "0.01 s"}
    return joistbay.load_case(ROOT / "cases/air/square-from-below.toml").with_(changes)


@pytest.fixture(scope="module")
def values(oak, solved, square, tmp_path_factory):
    """A value of every kind that a caller gets."""
    folder = joistbay.save(solved, tmp_path_factory.mktemp("runs") / "oak")
    house = joistbay.load_house(ROOT / "cases/house/demo-house.toml")
    return {
        "case": oak,
        "result": solved,
        "comparison": joistbay.compare(oak, "plates.spacing", ["9 in", "none"]),
        "air": joistbay.solve(square),
        "air case": square,
        "house": house,
        "run": joistbay.read_run(folder),
        "water": joistbay.water(oak, "50 W/m^2"),
        "material": joistbay.load_materials()["oak"],
    }


def test_every_public_name_is_there_and_explained():
    for name in joistbay.__all__:
        found = getattr(joistbay, name)
        assert callable(found) and inspect.getdoc(found), name
    assert dir(joistbay) == sorted(joistbay.__all__)
    assert joistbay.__version__
    with pytest.raises(AttributeError, match="did you mean 'solve'"):
        joistbay.solv  # noqa: B018


def test_types_name_what_lazy_imports_give():
    """What type checkers see is what `__getattr__` gives."""
    source = Path(joistbay.__file__).read_text("utf-8")
    for name in joistbay.__all__:
        home = joistbay._HOME_OF[name]
        assert f"from {home} import " in source, name


def test_importing_is_quick():
    code = "import joistbay, sys; sys.exit(bool({'numpy', 'pydantic', 'numba', 'scipy', 'pandas'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


@pytest.mark.parametrize("name", ["sim", "viz"])
def test_a_stray_file_beside_the_notebook_is_named(tmp_path, name):
    (tmp_path / f"{name}.py").write_text("print('mine')\n")
    found = subprocess.run(
        [sys.executable, "-c", "import joistbay"], cwd=tmp_path, capture_output=True, text=True,
        env={"PYTHONPATH": f"{tmp_path}:{ROOT}", "PATH": ""},
    )  # fmt: skip
    last = found.stderr.strip().splitlines()[-1]
    assert found.returncode and last.startswith(f"ImportError: {tmp_path / f'{name}.py'} hides the package {name}")
    assert "rename that file" in last and "mine" not in found.stdout


def test_many_values_change_at_once_in_any_notation(oak):
    other = oak.with_(
        {
            "plates.spacing": "9 in",
            "plates.width": UNITS.Quantity(5, "inch"),
            "water.supply": UNITS.Quantity(45.0, "degC"),
            "floor.covering[0].thickness": np.float32(0.02),
        },
        title="Other",
    )
    assert other.plates.spacing == pytest.approx(9 * 0.0254)
    assert other.plates.width == pytest.approx(5 * 0.0254)
    assert other.water.supply == pytest.approx(318.15)
    assert other.floor.coverings[0].thickness == pytest.approx(0.02)
    assert other.title == "Other" and oak.title != "Other"


def test_a_whole_part_takes_the_place_of_another(oak):
    part = {"material": "oak", "conductivity": "0.3 Btu*in/(h*ft^2*degF)", "thickness": "1/2 in"}
    cork = oak.with_({"floor.covering[0]": part})
    (layer,) = cork.floor.coverings
    assert layer.thickness == pytest.approx(0.0127)
    assert layer.conductivity == pytest.approx(0.3 * 0.1442279, rel=1e-5)  # Btu·in/(h·ft²·°F) by NIST SP 811
    two = cork.with_({"floor.covering[1]": {"material": "plywood", "thickness": "1/2 in"}})
    assert len(two.floor.coverings) == 2
    with pytest.raises(joistbay.CaseError, match="there are 1, counted from 0"):
        cork.with_({"floor.covering[2]": {"material": "oak", "thickness": "1/2 in"}})


def test_parts_of_blocks_go_by_name_or_number(square):
    warm = square.with_({"face[floor].temperature": "2 K", "air.rayleigh": 2e4})
    assert warm.faces[0].temperature == 2.0 and warm.air.rayleigh == 2e4
    assert square.with_({"face[0].temperature": 2.0}).faces == warm.faces


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"plates.spcing": "9 in"}, 'did you mean "spacing"?'),
        ({"platess.spacing.x": "9 in"}, 'did you mean "plates"?'),
        ({"plates.spacing": "9"}, "the unit is missing"),
        ({"plates.spacing": UNITS.Quantity(3, "watt")}, "is not a length"),
        ({"floor.covering[3].thickness": "9 mm"}, "there are 1, counted from 0"),
        ({"plates.spacing": True}, "not a length"),
        ({"plates.spacing": [""], "plates.spacing.x": 1}, "plates.spacing is a list"),
        ({"floor.covering": [1], "floor.covering.x.y": 3}, "floor.covering is a list"),
        ({"floor.covering": [{"name": "a"}, 1], "floor.covering.x.y": 3}, "known: a"),
    ],
)
def test_what_does_not_fit_is_one_clear_error(oak, changes, words):
    with pytest.raises(joistbay.CaseError) as caught:
        oak.with_(changes)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"face[flor].temperature": "2 K"}, 'did you mean "floor"?'), ({"air.raleigh": 1e4}, 'did you mean "rayleigh"?')],
)
def test_blocks_answer_alike(square, changes, words):
    with pytest.raises(joistbay.CaseError) as caught:
        square.with_(changes)
    assert words in str(caught.value)


def test_solve_takes_every_kind_and_nothing_else(values):
    assert isinstance(values["result"], joistbay.Result) and isinstance(values["air"], joistbay.AirRun)
    with pytest.raises(TypeError, match="load_case"):
        joistbay.solve(str(DEMO))
    with pytest.raises(joistbay.CaseError, match="a joist bay is wanted"):
        joistbay.water(values["air case"], "50 W/m^2")


def test_many_are_solved_in_order_and_one_failure_stays_alone(oak, square, solved):
    """On two processes; less heat passes narrower plates, so the order shows."""
    narrow = oak.with_({"plates.width": "60 mm"})
    hopeless = oak.with_({"air.model": "correlations", "air.calibration": "no such folder"})
    cases = [oak, square, narrow, hopeless]
    first, air, second, bad = joistbay.solve_many(cases, workers=2, errors="return")
    assert isinstance(bad, Exception) and "no such folder" in str(bad)
    with pytest.raises(TypeError, match=r"cases\[1\]: a case is wanted"):
        joistbay.solve_many([oak, "oak.toml"])
    with pytest.raises(TypeError, match="a list of cases is wanted, not a single one"):
        joistbay.solve_many(oak)
    assert isinstance(air, joistbay.AirRun)
    assert first.report["heat_flux_up_W_m2"] == pytest.approx(solved.report["heat_flux_up_W_m2"], rel=1e-6)
    assert second.report["heat_flux_up_W_m2"] < first.report["heat_flux_up_W_m2"]


def test_a_choice_that_does_not_fit_is_named():
    changes = {"as it is": {}, "far too deep": {"bay.joist_depth": "10 mm"}}
    with pytest.raises(joistbay.CaseError, match="choice far too deep\n  bay.joist_depth"):
        joistbay.compare(joistbay.load_bay("cases/demo/family-oak.toml"), changes)


def test_comparisons_by_key_by_changes_and_by_cases_agree(oak, values, tmp_path):
    by_key = values["comparison"]
    bare = oak.with_({"plates.spacing": None})
    by_case = joistbay.compare({"near": oak.with_({"plates.spacing": "9 in"}), "bare": bare}, workers=2)
    by_change = joistbay.compare(oak, {"near": {"plates.spacing": "9 in"}, "bare": {"plates": "none"}}, flux="50 W/m^2")
    for other in (by_case, by_change):
        assert [row["heat_flux_up_W_m2"] for row in other.rows("water")] == pytest.approx(
            [row["heat_flux_up_W_m2"] for row in by_key.rows("water")], rel=1e-6
        )
    assert by_change.flux == 50.0
    for kept in (by_case, by_change):
        table = (joistbay.save(kept, tmp_path / kept.key) / "equal_water.csv").read_text("utf-8")
        assert [line.split(",")[0] for line in table.splitlines()] == ["choice", "near", "bare"]
    table = by_change.to_pandas("heat")
    assert list(table.index) == ["near", "bare"]
    assert table["heat_flux_up_W_m2"].to_numpy() == pytest.approx(50.0, rel=1e-3)
    with pytest.raises(joistbay.CaseError, match="nothing to compare"):
        joistbay.compare(oak, "plates.spacing", [])


@pytest.mark.parametrize("wrong", [{"a": "9 in"}, {"plates.spacing": ["9 in", "12 in"]}])
def test_changes_that_are_none_say_how_they_are_written(wrong, oak):
    with pytest.raises(TypeError, match="changes are a mapping of keys to values, not (str|list); write"):
        joistbay.compare(oak, wrong)


def test_a_comparison_is_at_equal_water_or_at_equal_heat(values):
    with pytest.raises(ValueError, match='equal is "flux"; it is "water" or "heat"'):
        values["comparison"].to_pandas("flux")


def test_a_house_is_not_solved_as_a_case(oak):
    house = joistbay.load_house(ROOT / "cases/house/demo-house.toml")
    with pytest.raises(TypeError, match=r"not House; solve_house\(house\) solves one"):
        joistbay.solve(house)


@pytest.mark.parametrize("values", [320.0, np.array([320.0]), [320.0]])
def test_one_value_or_an_array_is_a_list_of_choices(values, oak):
    assert [each["water.supply"] for each in _titled_cases(oak, "water.supply", values, None)[1].values()] == [320.0]


@pytest.fixture(scope="module")
def slab():
    """A plate of oak between a warm face and a room."""
    sizes = "".join(f'{axis} = ["0 mm", "{size} mm"]\n' for axis, size in (("x", 9), ("y", 9), ("z", 20)))
    box = f'name = "slab"\n{sizes}conductivity = "0.16 W/(m*K)"'
    warm = 'name = "warm"\non = "z-"\ntemperature = "50 degC"'
    room = 'name = "room"\non = "z+"\nfilm = "8 W/(m^2*K)"\nambient = "20 degC"'
    return joistbay.parse_case(f'kind = "blocks"\n[[box]]\n{box}\n[[face]]\n{warm}\n[[face]]\n{room}\n', "slab")


def test_blocks_are_compared_too(slab, tmp_path):
    found = joistbay.compare(slab, "face[warm].temperature", ["40 degC", "50 degC"])
    resistance = 0.02 / 0.16 + 1.0 / 8.0  # slab and film in a row
    flux = found.to_pandas()["heat_flux_room_W_m2"]
    assert flux.to_numpy() == pytest.approx([20.0 / resistance, 30.0 / resistance], rel=1e-6)
    assert found["50 degC"].case.faces[0].temperature == pytest.approx(323.15)
    assert len(repr(found)) <= MOST and "SideBySide" in found._repr_html_() and "room" in str(found)
    folder = joistbay.save(found, tmp_path / "slabs")
    assert {file.name for file in folder.iterdir()} == {"blocks.json", "blocks.csv", "choices", "versions.json"}


def test_air_alone_is_compared_too(square):
    flows = joistbay.compare({"moving": square.with_({"air.longest": "0.011 s"})})
    assert isinstance(flows["moving"], joistbay.AirRun) and "Nusselt" in repr(flows)
    with pytest.raises(KeyError, match="there are moving"):
        flows["Moving"]


def test_a_bay_is_compared_over_its_own_list(oak):
    (choice,) = joistbay.compare(oak.with_({"compare.spacing": ["9 in"]})).choices
    assert choice.name == "plates every 9 in" and choice.case.plates.spacing == pytest.approx(9 * 0.0254)


def test_files_are_read_by_their_kind():
    layer = ROOT / "cases/verification/layered-floor/case.toml"
    assert isinstance(joistbay.load_blocks(layer), joistbay.BlocksCase)
    for read, path, words in ((joistbay.load_blocks, DEMO, "load_bay"), (joistbay.load_bay, layer, "take blocks too")):
        with pytest.raises(joistbay.CaseError, match=words):
            read(path)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (("slab", "oak"), "slab is blocks, .*family-oak.toml a joist bay; only cases of one kind"),
        (("square", "slab"), "air alone, slab blocks"),
        (("slab",), "nothing to compare.*compare\\(case, key"),
    ],
)
def test_several_kinds_or_nothing_to_compare_is_one_clear_error(asked, words, oak, slab, square):
    cases = [{"oak": oak, "slab": slab, "square": square}[name] for name in asked]
    with pytest.raises(joistbay.CaseError, match=words):
        joistbay.compare(cases if len(cases) > 1 else cases[0])


@pytest.mark.parametrize("given", [5, "oak.toml", {"a": 3}])
def test_what_is_no_case_is_not_compared(given):
    with pytest.raises(TypeError, match="a case is wanted, not (int|str)"):
        joistbay.compare(given)


def test_a_result_a_kept_run_and_a_folder_are_exported_alike(slab, tmp_path):
    found = joistbay.solve(slab)
    folder = joistbay.save(found, tmp_path / "slab")
    for number, run in enumerate((found, joistbay.read_run(folder), folder, str(folder))):
        joistbay.export_run(run, tmp_path / f"{number}.vtu")
    written = {(tmp_path / f"{number}.vtu").read_bytes() for number in range(4)}
    assert len(written) == 1
    with pytest.raises(ValueError, match="cannot export to 'stl'; choose one of vtu"):
        joistbay.export_run(found, tmp_path / "slab.stl")
    with pytest.raises(ValueError, match="the file comes second"):
        joistbay.export_run(found, "vtu", "slab.vtu")


def test_materials_given_themselves(oak):
    """One of the library stands for its name; one of one's own says how it is written instead."""
    known = joistbay.load_materials()["oak"]
    assert oak.with_({"floor.covering[0].material": known}).floor.coverings[0].material == "oak"
    own = joistbay.Material("bamboo", 0.2, 700.0, 1600.0, 0.9)
    assert own.conductivity == (0.2, 0.2, 0.2) and "0.2 W" in str(own)
    with pytest.raises(joistbay.CaseError, match="is a material of your own; name the nearest of the library"):
        oak.with_({"floor.covering[0].material": own})


def test_completion_shows_keys_and_our_own_methods(oak, square, values):
    for section in (oak, oak.plates, square, values["house"]):
        names = {name for name in dir(section) if not name.startswith("_")}
        assert set(type(section).model_fields) <= names
        assert not any(name.startswith(("model_", "parse_")) for name in names) and "dict" not in names
    assert {"with_", "resolved"} <= set(dir(oak))


def test_parts_of_a_case_and_found_water_are_told_short(oak, values, square):
    assert str(oak.floor.coverings[0]) == repr(oak.floor.coverings[0]) and str(oak.floor).startswith("Floor\n")
    assert "°F)" in repr(values["water"]) and "supply in K" in repr(values["water"])
    assert "floor: z- at 0 L, 1 ΔT" in str(square) and "°C" not in str(square)


def test_water_and_spacing_by_text_and_number(oak, values):
    assert values["water"].result.report["heat_flux_up_W_m2"] == pytest.approx(50.0, rel=1e-3)
    assert joistbay.water(oak, 50.0).supply == pytest.approx(values["water"].supply)
    with pytest.raises(joistbay.CaseError, match="flux"):
        joistbay.water(oak, "50 K")
    found = joistbay.widest_spacing(oak, "50 W/m^2", supply="50 degC", ripple="2.5 K")
    assert found.found.kept and found.wish.ripple == 2.5 and len(found.to_pandas()) == found.solves


def test_a_kept_run_has_the_types_of_a_solve(values):
    run, result = values["run"], values["result"]
    assert run.case == result.case.model_copy(update={"name": run.case.name, "path": None})
    assert run.report.as_dict() == pytest.approx(result.report.as_dict(), nan_ok=True)
    assert type(run.report) is type(result.report) and type(run.balance) is type(result.balance)
    assert run.balance.delivered["up"] == pytest.approx(result.balance.delivered["up"])
    assert run.floor.attrs == result.floor.attrs
    np.testing.assert_allclose(run.floor, result.floor)


def parts(value):
    """A value and all that its public names lead to, with the way there; one of each kind."""
    seen, heap = set(), [("", value)]
    while heap:
        way, here = heap.pop()
        if isinstance(here, (tuple, list)):
            heap += [(f"{way}[{n}]", one) for n, one in enumerate(here[:3])]
        elif type(here).__module__.startswith(("sim.", "joistbay.")) and (type(here), way.count(".") > 1) not in seen:
            seen.add((type(here), way.count(".") > 1))
            yield way, here
            names = [name for name in dir(here) if not name.startswith(("_", "model_"))]
            heap += [(f"{way}.{name}", held) for name in names for held in _held(here, name)]


def _held(here, name):
    """What a public name of a value holds, unless it is a method or what the value does not have."""
    try:
        held = getattr(here, name)
    except Exception:
        return []
    return [] if callable(held) else [held]


def test_every_value_is_short_at_a_prompt(values):
    """Every value that a caller meets, and what lies in it, to any depth."""
    long = {
        f"{name}{way}": len(repr(part)) for name, value in values.items() for way, part in parts(value)
        if len(repr(part)) > MOST
    }  # fmt: skip
    assert not long
    assert sum(1 for value in values.values() for _ in parts(value)) > 100
    for name in ("case", "result", "comparison", "house", "run", "air"):
        assert "├──" in repr(values[name]), name


class _Balanced(HTMLParser):
    """Counts tags that are open, and remembers those that must not be there."""

    def __init__(self):
        super().__init__()
        self.open, self.seen = [], set()

    def handle_starttag(self, tag, attributes):
        self.seen.add(tag)
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_notebooks_get_tables_that_are_escaped_and_take_the_pages_colours(values, oak):
    evil = oak.with_({"title": "<script>alert('x')</script> & more"})
    shown = [values[name] for name in ("case", "result", "comparison", "air", "house", "run")]
    for value in (evil, *shown, values["result"].report, values["result"].balance):
        html = value._repr_html_()
        reader = _Balanced()
        reader.feed(html)
        assert not reader.open and "script" not in reader.seen and "table" in reader.seen
        assert "background:transparent" in html and "#" not in html.replace("&#", "")
    assert "&lt;script&gt;" in evil._repr_html_()


def test_tables_become_pandas(values):
    series = values["result"].report.to_pandas()
    assert series["ripple_K"] == values["result"].report["ripple_K"]
    balance = values["result"].balance.to_pandas()
    assert balance.loc["up", "heat_flow_W"] == values["result"].balance.delivered["up"]
    assert "time" in values["air"].to_pandas()


def test_a_misspelt_number_of_a_report_is_named(solved):
    with pytest.raises(KeyError, match='did you mean "ripple_K"'):
        solved.report["ripple"]
    assert "ripple_K" in solved.report and len(solved.report) == len(dict(solved.report))


def test_public_values_are_typed():
    """No public function hands out Any, and every argument says its type."""
    for name in joistbay.__all__:
        found = getattr(joistbay, name)
        if not inspect.isclass(found):
            hints = inspect.unwrap(found).__annotations__
            assert set(inspect.signature(found).parameters) | {"return"} <= set(hints), name
