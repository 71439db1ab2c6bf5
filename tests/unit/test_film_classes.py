"""Classes of faces that a computed flow teaches: their words, their files, and what an unknown class takes."""

from types import SimpleNamespace

import numpy as np
import pytest

from sim.bay.geometry import Tube
from sim.case.load import load_case
from sim.resolved.calibration import Calibration, FilmRow, Words, _similar, _tube_bands, face_classes
from sim.run import prepare

CASES = "cases/demo"


@pytest.fixture(scope="module")
def kitchen():
    model = prepare(load_case(f"{CASES}/kitchen-vinyl.toml").with_text("mesh.fineness", "coarse"))
    return model.system.cavity, face_classes(model.cells, model.system.cavity)


def row(words, factor):
    return FilmRow(words, 0.01, -0.5, 5.0, factor)


def test_only_what_looks_down_knows_its_spot(kitchen):
    _, classes = kitchen
    assert all(bool(words.tube) == bool(words.along) == (words.looks == "down") for words in classes)


def test_spots_are_measured_from_tubes_and_plates(kitchen):
    """By hand: tubes of 16 mm at 111 and 295 mm in a bay whose middle is at 203 mm; the plate's middle at 114 mm."""
    cavity, classes = kitchen
    under = [(c, words) for c, words in zip(cavity.centre, classes, strict=True) if words.wall == "sheathing"]
    for (x, y, _), words in under:
        away = min(max(abs(x - tube) - 0.008, 0.0) for tube in (0.1111, 0.2953))
        band, side = words.tube.split(" mm ")
        low, high = band.split(" to ") if " to " in band else (band.removeprefix("over "), 1e3)
        assert float(low) - 0.6 <= 1e3 * away <= float(high) + 0.6
        assert (side == "inwards") == (0.1111 < x < 0.2953)
        low, high = words.along.removesuffix(" mm").split(" to ")
        assert float(low) - 0.6 <= 1e3 * abs(y - 0.1143) <= float(high) + 0.6


def test_bands_beside_a_tube_are_told_by_their_ends():
    """Tubes of 16 mm at 0.1 and 0.3 m, faces 5 mm to 0.1 m outside them on either side."""
    tubes = [Tube("tube", 1, (at, -0.03), (0.0, 1.0), 0.016) for at in (0.1, 0.3)]
    away = np.array([0.005, 0.020, 0.030, 0.050, 0.080, 0.100])
    words = ["0 to 12", "12 to 25", "25 to 40", "40 to 60", "60 to 90", "over 90"]
    for x, side in ((0.092 - away, "outwards"), (0.308 + away, "outwards"), (0.108 + away, "inwards")):
        cavity = SimpleNamespace(centre=np.column_stack([x, np.full(6, 0.5), np.zeros(6)]))
        found = _tube_bands(tubes, cavity)
        assert found[:5] == [f"{band} mm {side}" for band in words[:5]]
        assert side == "inwards" or found[5] == "over 90 mm outwards"


def test_heights_are_thirds_of_the_air(kitchen):
    """By hand: 9 1/4 in of joist less 6 1/4 in of batt leave 3 in of air below the sheathing."""
    cavity, classes = kitchen
    top = max(z for (_, _, z), words in zip(cavity.centre, classes, strict=True) if words.looks == "down")
    seen = set()
    for z, words in zip(cavity.centre[:, 2], classes, strict=True):
        share = 3.0 * (1.0 - (top - z) / (3.0 * 0.0254))
        if abs(share - round(share)) > 1e-6:
            assert words.height == ("low", "middle", "high")[int(share)]
            seen.add(words.height)
    assert seen == {"low", "middle", "high"}


def test_both_sides_of_a_bay_are_one_class(kitchen):
    """The bay is symmetric, so its halves teach together."""
    cavity, classes = kitchen
    area = {}
    for x, own, words in zip(cavity.centre[:, 0], cavity.walls.area, classes, strict=True):
        if abs(x - 0.2032) > 1e-6:  # a face in the very middle belongs to both
            area.setdefault(words, np.zeros(2))[int(x > 0.2032)] += own
    for halves in area.values():
        np.testing.assert_allclose(halves[0], halves[1], rtol=1e-6, atol=0.0)


def test_a_calibration_survives_its_file():
    words = Words("sheathing", "down", "upper air", "high", "near", "12 to 25 mm inwards", "40 to 80 mm")
    given = Calibration("kitchen", (row(words, 2.0), row(Words("joist", "beside", "air", "low", "far"), 0.5)), 0.01)
    assert Calibration.from_dict(given.as_dict()) == given
    older = given.as_dict()
    for film in older["films"]:
        del film["tube"], film["along"]
    assert Calibration.from_dict(older).rows[1] == given.rows[1]
    with pytest.raises(KeyError):
        Calibration.from_dict({"case": "a", "misfit": 0.0, "films": [{"wall": "joist"}]})


def test_an_unknown_class_takes_the_most_similar():
    near, far = (Words("sheathing", "down", "air", "high", "near", tube, "0 to 40 mm") for tube in ("a", "b"))
    known = {near: 4.0, far: 1.0, Words("plate", "down", "air", "high", "near", "a", "0 to 40 mm"): 9.0}
    assert _similar(near._replace(along="80 to 120 mm"), known) == pytest.approx(4.0)
    assert _similar(near._replace(tube="c"), known) == pytest.approx(2.0)  # geometric mean of 4 and 1
    assert _similar(Words("tube", "up", "gap", "low", "far"), known) == 1.0
    # what looks another way is never alike, whatever else is the same
    assert _similar(near._replace(looks="up"), known) == 1.0
