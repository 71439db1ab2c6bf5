"""Colours of the printed page on a dark screen: readable by the contrast of WCAG 2.1 (success criterion 1.4.3)."""

import re

import pytest

from viz.page_parts import unparted
from viz.page_style import DARK, STYLE

COLOURS = dict(re.findall(r"--(\w+):(#[0-9a-f]{6})", DARK))


def luminance(colour):
    """Relative luminance as WCAG 2.1 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first, second):
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("ground", ["paper", "tint", "mark"])
@pytest.mark.parametrize("letters", ["ink", "soft", "warn"])
def test_letters_on_every_ground(letters, ground):
    assert contrast(COLOURS[letters], COLOURS[ground]) >= 4.5


def test_print_stays_white():
    assert "screen" in DARK[: DARK.index("{")] and luminance(COLOURS["paper"]) < 0.02


def test_names_of_bays_and_manifolds_stay_whole_and_text_stays_text():
    assert unparted("WK-1 & R1-5") == '<span class="whole">WK-1</span> &amp; <span class="whole">R1-5</span>'
    assert unparted("two-storey") == "two-storey"
    assert ".whole { white-space:nowrap }" in STYLE
