"""One temperature scale for all maps of a comparison: its colours, its limits, its ticks.

The colours run from dark violet (cool) through red and orange to pale yellow (warm). They are computed
in the Oklab space (B. Ottosson, 2020, "A perceptual color space for image processing"): lightness rises
steadily and equal steps of temperature are equal steps for the eye, so the map reads the same in grey
and for colour-blind eyes, and no colour makes an edge that is not in the data.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sim.results.people import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.colors import Colormap, Normalize

Array = npt.NDArray[np.float64]

ZERO_CELSIUS = 273.15
NEUTRAL = "#dfe3e6"
"""Colour of places without a temperature (cavity air)."""

# Path of the colours: lightness, chroma and hue [degrees] in Oklab at equally spaced stations.
_LIGHTNESS = (0.27, 0.95)
_CHROMA = (0.125, 0.165, 0.185, 0.180, 0.165, 0.155, 0.095)
_HUE = (290.0, 318.0, 352.0, 388.0, 418.0, 444.0, 464.0)

# Ottosson 2020: Oklab (L, a, b) -> cube roots of cone responses -> linear sRGB.
_TO_CONES = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_TO_LINEAR_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


@dataclass(frozen=True, slots=True)
class Scale:
    """Limits of a temperature scale in the units that a person reads.

    Attributes
    ----------
    low, high : float
        Temperatures at the ends of the colours [°C or °F].
    units : "si" or "ip"
        Which of the two.
    """

    low: float
    high: float
    units: Units = "si"

    @property
    def unit(self) -> str:
        """The unit as printed: °C or °F."""
        return UNITS["C"].name(self.units)

    @property
    def norm(self) -> Normalize:
        """The matplotlib normalisation that belongs to the limits."""
        from matplotlib.colors import Normalize

        return Normalize(self.low, self.high)

    def ticks(self, most: int = 7) -> Array:
        """Return round temperatures inside the limits, at most `most` of them."""
        from matplotlib.ticker import MaxNLocator

        locator = MaxNLocator(nbins=most - 1, steps=[1, 2, 2.5, 5, 10])
        ticks: Array = np.asarray(locator.tick_values(self.low, self.high), dtype=float)
        slack = 1e-9 * (self.high - self.low)
        inside = (ticks >= self.low - slack) & (ticks <= self.high + slack)
        return np.asarray(ticks[inside])


def display_temperature(kelvin: npt.ArrayLike, units: Units = "si") -> Array:
    """Return temperatures [K] in °C ("si") or °F ("ip")."""
    celsius = np.asarray(kelvin, dtype=float) - ZERO_CELSIUS
    return celsius if units == "si" else celsius * 1.8 + 32.0


def shared_scale(
    temperatures: Iterable[npt.ArrayLike], units: Units = "si", *, least_span: float = 1.0
) -> Scale:
    """Return the one scale that covers all given temperature fields.

    Parameters
    ----------
    temperatures : iterable of array_like
        Fields [K]; NaN is ignored.
    units : "si" or "ip"
        Units of the scale.
    least_span : float
        Smallest span of the scale [K], so that a nearly even floor looks nearly even.

    Raises
    ------
    ValueError
        When no field has a finite value.
    """
    fields = [np.asarray(field, dtype=float) for field in temperatures]
    known = [field[np.isfinite(field)] for field in fields]
    known = [field for field in known if field.size]
    if not known:
        raise ValueError("no finite temperature to draw")
    low = min(float(field.min()) for field in known)
    high = max(float(field.max()) for field in known)
    widen = max(0.0, least_span - (high - low)) / 2.0
    ends = display_temperature([low - widen, high + widen], units)
    return Scale(float(ends[0]), float(ends[1]), units)


WINDOW_BELOW, WINDOW_ABOVE = 4.0, 12.0
"""Floor maps show from so far below the room to so far above it [K], whatever the floor: a ripple of 0.2 K looks like
one, a floor 3 K above the room looks warm, a cold rim is still on the scale."""


def floor_window(room: float, units: Units = "si") -> Scale:
    """The stated scale of all floor maps of a room.

    Parameters
    ----------
    room : float
        Room temperature [K].

    Examples
    --------
    >>> floor_window(293.15)
    Scale(low=16.0, high=32.0, units='si')
    """
    ends = display_temperature([room - WINDOW_BELOW, room + WINDOW_ABOVE], units)
    return Scale(round(float(ends[0]), 6), round(float(ends[1]), 6), units)


def window_of(rooms: Iterable[float | None], units: Units = "si") -> Scale | None:
    """The window round some rooms [K], from the coolest to the warmest; None where one of them is not known."""
    found = list(rooms)
    known = [room for room in found if room is not None]
    if not known or len(known) < len(found):
        return None
    return Scale(floor_window(min(known), units).low, floor_window(max(known), units).high, units)


@cache
def greys() -> Colormap:
    """White to dark, for a pattern whose scale is its own."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("pattern", ["#fafafa", "#464646"])


@cache
def colour_table() -> npt.NDArray[np.uint8]:
    """The 256 colours of all temperature pictures as bytes (256, 3)."""
    return np.asarray(np.round(255.0 * _equal_steps(256)), dtype=np.uint8)


@cache
def temperature_colours() -> Colormap:
    """Return the colour map of all temperature pictures (256 colours, dark violet to pale yellow)."""
    from matplotlib.colors import ListedColormap

    return ListedColormap(_equal_steps(256), name="joistbay").with_extremes(bad=NEUTRAL)


def line_colours(count: int) -> list[tuple[str, tuple[int, tuple[float, ...]]]]:
    """Return (colour, dash pattern) for each of several lines; colours stay apart for colour-blind eyes.

    The colours are the set of M. Okabe and K. Ito (2002) without its yellow, darkened where thin lines
    on white need it; the dashes tell lines apart without any colour.
    """
    colours: Sequence[str] = ("#0072b2", "#d55e00", "#00805c", "#b0568c", "#444444", "#3d9bd1", "#c58900")
    dashes: Sequence[tuple[float, ...]] = ((), (6, 2), (2, 1.5), (7, 2, 1.5, 2), (4, 4), (10, 3), (1, 1))
    return [(colours[k % 7], (0, dashes[(k + k // 7) % 7])) for k in range(count)]


def _equal_steps(count: int) -> Array:
    """Sample the colour path at equal perceptual distances: sRGB (count, 3)."""
    stations = np.linspace(0.0, 1.0, len(_HUE))
    fine = np.linspace(0.0, 1.0, 2001)
    hue, chroma = (_smooth(fine, stations, values) for values in (np.radians(_HUE), np.array(_CHROMA)))
    lab = np.stack([np.interp(fine, (0, 1), _LIGHTNESS), chroma * np.cos(hue), chroma * np.sin(hue)], axis=1)
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(lab, axis=0), axis=1)))
    at = np.interp(np.linspace(0.0, walked[-1], count), walked, fine)
    return _srgb(np.stack([np.interp(at, fine, lab[:, k]) for k in range(3)], axis=1))


def _smooth(at: Array, stations: Array, values: Array) -> Array:
    """Interpolate smoothly without overshoot."""
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(stations, values)(at))


def _srgb(lab: Array) -> Array:
    """Oklab (n, 3) -> sRGB (n, 3) in 0..1, clipped to what a screen can show."""
    linear = np.clip((lab @ _TO_CONES.T) ** 3 @ _TO_LINEAR_RGB.T, 0.0, 1.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
