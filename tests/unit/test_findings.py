"""What stands over a picture: a sentence of its finding, and letters that hide no curve."""

from dataclasses import replace

import fake_run
import matplotlib.figure
import numpy as np
import pytest

from viz import bars, floor_map, layout, limit_marks, profiles, section
from viz.choice import Choice


@pytest.fixture(scope="module")
def bay():
    fields = fake_run.make_fields(length=0.9, step=0.03)
    return Choice("as built", fields, fake_run.make_report(fields), "Oak den")


def first_words(figure):
    """The text that stands highest on a sheet."""
    return max(figure.texts, key=lambda text: text.get_position()[1]).get_text()


def test_a_picture_begins_with_what_it_shows(bay):
    values = {"surface_mean_C": 25.6, "surface_peak_C": 26.5, "surface_trough_C": 24.1, "water_mean_C": 50.0,
              "plate_mean_C": 46.6, "cavity_air_C": None}  # fmt: skip
    told = replace(bay, report={**bay.report, **values})
    floor = "The floor is 25.6 °C on average, 26.5 °C at its warmest spot and 24.1 °C at its coolest"
    assert first_words(floor_map.draw_floor_map(told)) == floor
    assert first_words(profiles.draw_profiles([told])) == floor
    assert first_words(section.draw_section(told)) == "Water of 50.0 °C warms plates to 46.6 °C, the floor to 25.6 °C"


def test_what_the_report_does_not_tell_is_not_told(bay):
    untold = replace(bay, report={key: value for key, value in bay.report.items() if key != "surface_mean_C"})
    assert first_words(section.draw_section(untold)) == "Oak den: as built"
    assert first_words(section.draw_section(bay, title="Oak den: after 2 h")) == "Oak den: after 2 h"


def test_several_floors_are_told_by_their_ends(bay):
    ripples = {"close": 2.35, "wide": 3.8}
    close, wide = (replace(bay, name=n, report={**bay.report, "ripple_K": k}) for n, k in ripples.items())
    assert first_words(floor_map.draw_floor_maps([close, wide])).startswith("Evenest floor: close, ripple 2.35 K; most")
    assert first_words(floor_map.draw_floor_maps([close, close])) == "Oak den"
    note = floor_map.draw_floor_maps([close, wide], units="ip").texts
    assert any("brackets: the maps in order" in text.get_text() for text in note)


def test_bars_say_with_which_water(bay):
    runs = [replace(bay, name=n, report={**bay.report, "water_supply_C": c}) for n, c in (("a", 50.0), ("b", 66.1))]
    apart, alike = bars.draw_bars(runs, runs), bars.draw_bars([runs[0]] * 2, runs)
    assert first_words(apart) == "Coolest water for the same heat: a, 50.0 °C; hottest: b, 66.1 °C"
    assert any("each with its own water" in text.get_text() for text in apart.texts)
    assert any("with water of 50.0 °C" in text.get_text() for text in alike.texts)


def test_a_section_goes_through_a_plate_and_says_so(bay):
    """A bay's warmest spot may lie between hung plates."""
    middles = [500.0 * (p.box[2] + p.box[3]) for p in bay.outlines if p.kind == "plate"]
    beside = max(p.box[3] for p in bay.outlines if p.kind == "plate" and p.box[3] < 0.6) + 0.02
    warm = bay.fields.copy(deep=True)
    kelvin = warm["floor_temperature"].values.copy()
    kelvin[3, int(np.argmin(np.abs(warm["y"].values - beside)))] += 20.0
    between = replace(bay, fields=warm.assign(floor_temperature=(warm["floor_temperature"].dims, kelvin)))
    for units, place in (("si", "mm along the bay"), ("ip", "in along the bay")):
        (note,) = [t.get_text() for t in section.draw_section(between, units=units).texts if place in t.get_text()]
        assert "through a plate" in note
        at = float(note.split("through a plate, ")[1].split()[0]) * (1.0 if units == "si" else 25.4)
        assert min(abs(at - middle) for middle in middles) < 16.0
    assert any("between plates" in t.get_text() for t in section.draw_section(bay, at=beside + 0.01).texts)


def test_a_number_keeps_its_unit_at_the_end_of_a_line():
    assert layout.wrap("the floor to 81.9 °F and more", 1.0, 10.0) == ["the floor to", "81.9 °F and", "more"]
    assert layout.wrap("plates every 225 mm", 0.9, 10.0)[-1] == "225 mm"


def test_letters_stand_where_they_hide_least_of_a_curve():
    figure = matplotlib.figure.Figure(figsize=(4.0, 3.0))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8), xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    axes.plot(np.linspace(0.0, 1.0, 50), np.full(50, 0.5))
    places = [(0.9, 0.48), (0.9, 0.3), (0.9, 0.2)]
    assert limit_marks.clearest(axes, places, "2.75 K", "right") == (0.9, 0.3)
