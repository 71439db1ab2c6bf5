"""Run folders and side files that were damaged or made by something else: one line that names the file, exit code 2."""

import json
import shutil
import warnings

import fake_run
import h5py
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.case.errors import CaseError
from sim.case.weather import read_weather
from sim.cli.main import main
from sim.house.sources import load_sources
from sim.resolved.calibration_file import read_calibration
from sim.results.air_fields import read_flow, read_frames
from sim.store.read_check import DIMENSIONS
from sim.store.run_folder import StoreError, read_run, write_run
from viz.drawings.drawing_set import write_drawings
from viz.house_page import write_house_page


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """A sound run folder, small."""
    fields = fake_run.make_fields(length=0.45, step=0.03)
    parts = {"report": fake_run.make_report(fields), "history": fake_run.HISTORY, "versions": {"python": "3"}}
    return write_run(tmp_path_factory.mktemp("runs") / "den", case_text=fake_run.CASE_TEXT, fields=fields, **parts)


@pytest.fixture
def den(sound, tmp_path):
    return shutil.copytree(sound, tmp_path / "den")


def one_line(capsys, *arguments):
    """Exit code, and what a command said; never more than a line."""
    code = main([str(argument) for argument in arguments])
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert code in (0, 2)
    if code:
        assert told.count("\n") == 1 and len(told) < 600 and told[:-1].isprintable()
    return code, told


def in_fields(change):
    def damage(folder):
        with h5py.File(folder / "fields.nc", "r+") as file:
            change(file)

    return damage


def text_in(name, text):
    return lambda folder: (folder / name).write_text(text, "utf-8")


def bytes_in(name, content):
    return lambda folder: (folder / name).write_bytes(content)


def cut(name, share):
    def damage(folder):
        content = (folder / name).read_bytes()
        (folder / name).write_bytes(content[: int(share * len(content))])

    return damage


def replaced(name, make):
    def change(file):
        old = file[name][...]
        del file[name]
        file[name] = make(old)

    return in_fields(change)


def a_folder(name):
    def damage(folder):
        (folder / name).unlink()
        (folder / name).mkdir()

    return damage


DAMAGES = {
    "fields missing": lambda folder: (folder / "fields.nc").unlink(),
    "fields empty": bytes_in("fields.nc", b""),
    "fields cut": cut("fields.nc", 0.5),
    "fields cut late": cut("fields.nc", 0.98),
    "fields text": text_in("fields.nc", "no netCDF"),
    "fields a folder": a_folder("fields.nc"),
    "report empty": text_in("report.json", ""),
    "report list": text_in("report.json", "[1, 2]"),
    "report number": text_in("report.json", "7"),
    "report null": text_in("report.json", "null"),
    "report deep": text_in("report.json", "[" * 100_000),
    "report bytes": bytes_in("report.json", b"\xff\xfe\x00"),
    "report cut": cut("report.json", 0.5),
    "versions list": text_in("versions.json", "[]"),
    "versions text": text_in("versions.json", "{"),
    "history bytes": bytes_in("history.csv", b"\xff\xfe\x00\x00"),
    "history nul": bytes_in("history.csv", b"a,b\n1\x00,2\n"),
    "case bytes": bytes_in("case.toml", b"\xff"),
    "no edges": in_fields(lambda file: file.pop("x_edge") if hasattr(file, "pop") else None),
    "no material": in_fields(lambda file: file.__delitem__("material")),
    "no flux": in_fields(lambda file: file.__delitem__("floor_heat_flux")),
    "edges fall": in_fields(lambda file: file["z_edge"].__setitem__(..., file["z_edge"][...][::-1])),
    "edges nan": in_fields(lambda file: file["y_edge"].__setitem__(0, np.nan)),
    "material beyond its names": in_fields(lambda file: file["material"].__setitem__((0, 0, 0), 99)),
    "material without names": in_fields(lambda file: file["material"].attrs.__delitem__("names")),
    "names no JSON": in_fields(lambda file: file["material"].attrs.__setitem__("names", "[[[")),
    "temperature of text": replaced("temperature", lambda old: np.bytes_("warm")),
    "temperature flat": replaced("temperature", lambda old: old[0]),
}
EITHER = {"case bytes", "history nul", "edges nan", "no edges"}
"""What some reader may pass over."""


@pytest.mark.parametrize("kind", ["vtu", "csv"])
@pytest.mark.parametrize("damage", DAMAGES)
def test_export_of_a_damaged_run_is_one_line(damage, kind, den, tmp_path, capsys):
    DAMAGES[damage](den)
    target = tmp_path / f"out.{kind}"
    code, told = one_line(capsys, "export", den, "--to", kind, "--out", target)
    assert code == 2 or damage in EITHER or kind == "csv"
    assert not (code and target.exists())
    assert not code or "den" in told


def test_a_sound_run_is_exported(den, tmp_path, capsys):
    assert one_line(capsys, "export", den, "--to", "vtu", "--out", tmp_path / "den.vtu")[0] == 0


def flipped(content, places):
    """Bytes with some of them changed."""
    changed = bytearray(content)
    for place, value in places:
        changed[place % len(changed)] = value
    return bytes(changed)


FLIPS = st.lists(st.tuples(st.integers(0, 10**7), st.integers(0, 255)), min_size=1, max_size=6)
FILES = st.sampled_from(["fields.nc", "report.json", "versions.json", "history.csv", "case.toml"])


def export_of_flipped_bytes(sound, folder, capsys, name, places):
    den = folder / "den"
    shutil.rmtree(den, ignore_errors=True)
    shutil.copytree(sound, den)
    (den / name).write_bytes(flipped((sound / name).read_bytes(), places))
    one_line(capsys, "export", den, "--to", "csv", "--out", folder / "out.csv")


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=FILES, places=FLIPS)
def test_flipped_bytes_are_met(sound, tmp_path, capsys, name, places):
    export_of_flipped_bytes(sound, tmp_path, capsys, name, places)


@pytest.mark.slow
@settings(max_examples=1500, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=FILES, places=FLIPS)
def test_many_flipped_bytes_are_met(sound, tmp_path, capsys, name, places):
    export_of_flipped_bytes(sound, tmp_path, capsys, name, places)


ROW = {"wall": "plate", "looks": "up", "air": "gap", "height": "low", "plate": "at"}
ROW |= {"area": 1.0, "heat": 1.0, "film": 3.0}
FILMS = {"case": "den", "misfit": 0.1, "films": [ROW | {"factor": 1.2}]}
ODD = [0, 1e-300, -1.0, 1e300, float("nan"), float("inf"), "text", None, [], {}, True, 10**400]


def taught(tmp_path, data):
    (tmp_path / "air_films.json").write_text(data if isinstance(data, str) else json.dumps(data), "utf-8")
    return read_calibration(str(tmp_path / "case.toml"), "air_films.json")


def test_taught_films_are_read(tmp_path):
    assert taught(tmp_path, FILMS).rows[0].factor == 1.2


@pytest.mark.parametrize("factor", ODD, ids=range(len(ODD)))
def test_an_odd_factor_is_refused(tmp_path, factor):
    with pytest.raises(CaseError, match="factor"):
        taught(tmp_path, FILMS | {"films": [ROW | {"factor": factor}]})


@pytest.mark.parametrize(
    "data",
    ["", "[]", "null", "7", '"text"', "{", "[" * 100_000, "{}", FILMS | {"films": []}, FILMS | {"films": {}}]
    + [FILMS | {"films": [None]}, FILMS | {"films": [ROW]}, FILMS | {"misfit": None}, FILMS | {"case": 3}]
    + [FILMS | {"films": [ROW | {"factor": 1.0, "odd": 1}]}, FILMS | {"films": [ROW | {"factor": 1.0, "wall": 3}]}]
    + [FILMS | {"films": [ROW | {"factor": 1.0, "area": "x"}]}, FILMS | {"films": 10 * [[]]}],
    ids=range(18),
)
def test_odd_films_are_refused(tmp_path, data):
    with pytest.raises(CaseError) as caught:
        taught(tmp_path, data)
    assert len(str(caught.value)) < 500 and caught.value.problems[0].key == "air.calibration"


@pytest.mark.parametrize("named", ["\x00", "a" * 5000, ".", "..", "", "/dev/null/x"], ids=range(6))
def test_odd_names_of_films_are_refused(tmp_path, named):
    with pytest.raises(CaseError):
        read_calibration(str(tmp_path / "case.toml"), named)


@pytest.mark.parametrize(
    "text",
    ["0,nan\n1,2\n", "nan,2\n1,2\n", "0,1\nnan,2\n", "inf,2\n", "0,inf\n", "0,1e300\n", "1e300,1\n", "0,1\n-1,2\n"]
    + ["0,1,2\n", "0,1\nx,y\n", "", "\n\n", "hour,degC\n", "0,999\n", "0,1\n1,2\x00\n", '"' + "9" * 200_000]
    + ["0,1\n0,\n0,b\n", "2,1\n0,1\n"]
    + ["0,1\n3,\n6,2\n", "0,1\n5\n", "5\n0,1\n", "hour,degF\n0,20\n3,25\n", "hour,T (°F)\n0,20\n", "h,K\n0,20\n"]
    + ["\n\nminutes,degC\n0,20\n", "2024-02-29T00:00,1\n2024-02-29T01:00,1\n", "hour;degC\n0;-1,5\n"],
    ids=range(27),
)
def test_odd_weather_is_refused(tmp_path, text):
    (tmp_path / "w.csv").write_text(text, "utf-8")
    with pytest.raises(CaseError) as caught:
        read_weather(tmp_path / "w.csv")
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize("name", ["missing.csv", ".", "\x00", "a" * 5000], ids=range(4))
def test_odd_names_of_weather_are_refused(tmp_path, name):
    with pytest.raises(CaseError):
        read_weather(tmp_path / name)


@pytest.mark.parametrize("heading", ["hour,degC", "hours,T_out [°C]", "Hour of the day,outdoors", "\n\nt,C", ""])
def test_headings_of_weather_that_name_no_other_unit_are_read(tmp_path, heading):
    (tmp_path / "w.csv").write_text(f"{heading}\n0,1\n1,2\n", "utf-8")
    assert read_weather(tmp_path / "w.csv")[0] == (0.0, 3600.0)


@pytest.mark.parametrize(("hours", "told"), [([0, 1, 2, 3, 50, 51], True), ([0, 3, 6, 9], False), ([0, 72], False)])
def test_a_gap_in_the_weather_is_told(tmp_path, hours, told):
    (tmp_path / "w.csv").write_text("".join(f"{hour},-5\n" for hour in hours), "utf-8")
    with warnings.catch_warnings(record=True) as found:
        warnings.simplefilter("always")
        read_weather(tmp_path / "w.csv")
    assert ["holds nothing between 3 and 50 h" in str(each.message) for each in found] == [True] * told


def test_weather_with_a_byte_order_mark(tmp_path):
    (tmp_path / "w.csv").write_bytes(b"\xef\xbb\xbf0,1\n1,2\n")
    assert len(read_weather(tmp_path / "w.csv")[0]) == 2


@pytest.mark.parametrize(
    "text",
    ["source = 3", "source = []", "source = [1, 2]", 'source = "text"', "[[source]]\nname = 3", "[source]"]
    + ["[[source]]\nkind = []", "[[source]]\nperformance = [[1, 2, 3], [nan, 1, 'x']]"]
    + [f"[[source]]\ndrop_from_K = {'9' * 400}"]
    + ["[[source]]\nname = {}", "[[source]]\nperformance = [[[], [], []]]", "source = {a = 1}", ""],
    ids=range(13),
)
def test_odd_profiles_of_sources_are_refused(tmp_path, text):
    (tmp_path / "s.toml").write_text(text, "utf-8")
    with pytest.raises(CaseError):
        load_sources(tmp_path / "s.toml")


GOOD = '[[check]]\nsource = "s"\nunit = "K"\nabsolute = 1\n[check.published]\nsurface_mean_C = 20\n'


@pytest.mark.parametrize(
    "text",
    ["check = 3", "check = [1]", "check = 'x'", "mesh = 3\n" + GOOD, "halving = 3\n" + GOOD, "["]
    + ["halving = [1]\n" + GOOD]
    + ["mesh = {coarse = 1.5}\n" + GOOD, "mesh = {full = 'x'}\n" + GOOD, "mesh = {full = 1000000}\n" + GOOD, ""]
    + [GOOD.replace(" 20", " 'x'"), GOOD.replace(" 20", " nan"), GOOD.replace(" 20", f" {'9' * 400}")]
    + ["a = " + "[" * 9999]
    + [GOOD.replace(" 1\n", " 'x'\n"), GOOD.replace('"s"', "[]"), GOOD.replace('"K"', "{}"), GOOD + "x = []\n"]
    + [GOOD.replace("[check.published]\nsurface_mean_C", "published"), "\x00"],
    ids=range(21),
)
def test_odd_expectations_are_refused(tmp_path, text, capsys):
    from sim.verify.folder import load_checks

    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "expected.toml").write_text(text, "utf-8")
    with pytest.raises(ValueError, match="one"):
        load_checks(tmp_path / "one")
    assert one_line(capsys, "verify", "--cases", tmp_path)[0] == 2


@pytest.mark.parametrize("count", ["1000000000", "9" * 400, "-1", "0", "1e9", "nan", "x"])
def test_samples_beyond_reason_are_refused(count, tmp_path, capsys):
    case = tmp_path / "bay.toml"
    case.write_text('[water]\nsupply = "45 degC"\n[room]\ntemperature = "20 degC"\n', "utf-8")
    assert one_line(capsys, "study", case, "--inputs", "air.film_factor=0.7..1.4", "--samples", count)[0] == 2


def in_report(**changes):
    """Numbers of report.json changed; None leaves one out."""

    def damage(folder):
        values = json.loads((folder / "report.json").read_text("utf-8")) | changes
        (folder / "report.json").write_text(json.dumps({k: v for k, v in values.items() if v != "gone"}), "utf-8")

    return damage


def garbled(name):
    """Compressed values that cannot be unpacked, in a file that is whole otherwise."""

    def change(file):
        old = file[name][...]
        del file[name]
        made = file.create_dataset(name, data=old, chunks=old.shape, compression="gzip")
        for axis, label in zip(old.shape, DIMENSIONS[name], strict=True):
            assert axis == file[label].shape[0]
            made.dims[DIMENSIONS[name].index(label)].attach_scale(file[label])
        made.id.write_direct_chunk((0,) * old.ndim, b"no deflated bytes")

    return in_fields(change)


READ = {
    "a number of text": in_report(surface_mean_C="warm"),
    "a number of tables": in_report(surface_mean_C={}),
    "a number too large": in_report(surface_mean_C=10**400),
    "true for a number": in_report(surface_mean_C=True),
    "a number gone": in_report(surface_mean_C="gone", surface_peak_C="gone", heat_flux_up_W_m2="gone"),
    "values garbled": garbled("temperature"),
    "versions of numbers": text_in("versions.json", '{"joistbay": 7, "form": 1, "numpy": []}'),
    "a case with keys missing": text_in("case.toml", 'title = "none"\n'),
    "a case that is none": text_in("case.toml", "no case at all"),
}
"""Damages that only show where a value is used."""
PASSED_OVER = {"a number gone", "versions of numbers"}


@pytest.mark.parametrize("damage", READ)
@pytest.mark.parametrize("command", ["report", "view"])
def test_a_damaged_value_is_one_line_in_every_reader(damage, command, den, tmp_path, capsys):
    READ[damage](den)
    more = ["--no-pdf"] if command == "report" else ["--out", tmp_path / "view.html"]
    code, told = one_line(capsys, command, den, *more)
    assert code == 2 or damage in PASSED_OVER or (damage.startswith("a case") and command == "report")
    assert not code or "den" in told


def test_a_number_that_is_missing_is_named_with_its_file(den):
    with read_run(den) as run, pytest.raises(StoreError, match=r"den.*report\.json.*no_such_C"):
        run.report["no_such_C"]


@pytest.mark.parametrize("choices", [7, [7], {"name": "a"}, [[]]], ids=range(4))
def test_choices_of_a_warm_up_that_are_none(choices, tmp_path):
    from sim.cli.report_records import _names_of

    file = tmp_path / "warmup.json"
    file.write_text(json.dumps({"choices": choices}), "utf-8")
    with pytest.raises(StoreError, match=r"warmup\.json is damaged: choices"):
        _names_of(file)


@pytest.mark.parametrize(
    "told", [{"shortfalls": []}, {"failures": 3}, {"equal_water": [1]}, {"equal_heat": {}}, {"flux_compared_W_m2": "x"}]
)
def test_a_damaged_comparison_is_one_line(told, tmp_path, capsys):
    (tmp_path / "comparison.json").write_text(json.dumps(told), "utf-8")
    code, said = one_line(capsys, "report", tmp_path, "--no-pdf")
    assert code == 2 and "comparison.json" in said and next(iter(told)) in said


HOUSE = {"house": {"title": "Cabin"}, "storeys": [], "bays": [], "needs": [], "layouts": [{"source": "boiler"}]}


@pytest.mark.parametrize(
    ("text", "named"),
    [("", "damaged"), ("[1]", "no names"), ("{", "damaged"), ("[" * 100_000, "damaged"), ("{}", "layouts is missing")]
    + [(json.dumps(HOUSE | {"layouts": []}), "no layout"), (json.dumps(HOUSE | {"bays": [3]}), "bays")]
    + [(json.dumps(HOUSE), "is missing"), (json.dumps(HOUSE | {"layouts": [{"source": 3}]}), "damaged")],
    ids=range(9),
)
@pytest.mark.parametrize("make", [write_house_page, write_drawings])
def test_a_damaged_house_is_named(text, named, make, tmp_path):
    (tmp_path / "house.json").write_text(text, "utf-8")
    with pytest.raises(StoreError, match=named) as caught:
        make(tmp_path)
    assert "house.json" in str(caught.value) and len(str(caught.value)) < 400
    assert [path.name for path in tmp_path.iterdir()] == ["house.json"]


@pytest.mark.parametrize("make", [write_house_page, write_drawings])
def test_a_house_of_a_later_form_is_refused(make, tmp_path):
    (tmp_path / "house.json").write_text(json.dumps(HOUSE), "utf-8")
    (tmp_path / "versions.json").write_text('{"joistbay": "9", "form": "99"}', "utf-8")
    with pytest.raises(StoreError, match="later joistbay"):
        make(tmp_path)


@pytest.mark.parametrize("command", ["report", "view"])
def test_a_case_file_in_place_of_a_folder_is_told_what_to_do(command, tmp_path, capsys):
    file = tmp_path / "bay.toml"
    file.write_text('[water]\nsupply = "45 degC"\n', "utf-8")
    code, told = one_line(capsys, command, file)
    assert code == 2 and "nothing is solved yet" in told and f"joistbay {command}" in told


@pytest.mark.parametrize(
    ("damage", "said"), [("none", "holds no flow to start from"), ("fields cut", r"fields\.nc is damaged")]
)
def test_a_start_from_a_folder_without_a_flow_is_named(damage, said, den):
    DAMAGES.get(damage, lambda folder: None)(den)
    with pytest.raises(StoreError, match=said):
        read_flow(den, None)


def test_damaged_pictures_of_a_start_are_named(den):
    (den / "air_frames.nc").write_bytes(b"no netCDF")
    with pytest.raises(StoreError, match=r"den.*air_frames\.nc is damaged"):
        read_frames(den)
