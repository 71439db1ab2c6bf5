"""Computed air as pictures see it: one upright section of its temperature and velocity, and its scales."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sim.results.people import UNITS, Units
from viz.choice import Array, Choice, Outline
from viz.layout import display_length, length_unit
from viz.scales import Scale, display_temperature, shared_scale

DIFFUSIVITY = 2.2e-5
"""Thermal diffusivity of air at 25 °C [m²/s] (VDI Heat Atlas, from memory); only tells rest from motion here."""

LEAST_SPAN = 1.0
"""Smallest span of a temperature scale [K]."""


class PlainScale(Scale):
    """A scale of a dimensionless case, whose temperatures are shares of ΔT."""

    __slots__ = ()

    @property
    def unit(self) -> str:
        """The unit as printed."""
        return "ΔT"


@dataclass(frozen=True, slots=True)
class AirSection:
    """Air in an upright section across the bay, at cell centres; NaN in solids.

    Attributes
    ----------
    x_edge, z_edge : (nx + 1,), (nz + 1,) [m]
    temperature : (nx, nz) [K]
    across, up : (nx, nz) [m/s]
        Velocity along x and z.
    y : float [m]
        Where the section lies.
    flat : bool
        Whether the flow is two-dimensional, so that a stream function exists.
    dimensionless : bool
        Whether lengths are in L, temperatures in ΔT and velocities in α/L.
    now : bool
        Whether this is the flow at the end instead of its mean.
    """

    x_edge: Array
    z_edge: Array
    temperature: Array
    across: Array
    up: Array
    y: float
    flat: bool
    dimensionless: bool
    now: bool = False

    @property
    def x(self) -> Array:
        """Cell centres across [m]."""
        return (self.x_edge[1:] + self.x_edge[:-1]) / 2.0

    @property
    def z(self) -> Array:
        """Cell centres upwards [m]."""
        return (self.z_edge[1:] + self.z_edge[:-1]) / 2.0

    @property
    def speed(self) -> Array:
        """Speed in the plane of the section (nx, nz) [m/s]."""
        return np.asarray(np.hypot(self.across, self.up))

    @property
    def fastest(self) -> float:
        """Largest speed in the plane [m/s]."""
        return float(np.nanmax(self.speed))


def has_air(fields: Any) -> bool:
    """Whether a run's fields hold computed air."""
    return "air_velocity_x" in fields


def is_still(choice: Choice, fastest: float, height: float) -> bool:
    """Whether the air of a run is at rest, by its Péclet number: of the report, or from speed and height."""
    from sim.results.air_motion import STILL

    return bool(float(choice.report.get("peclet", fastest * height / _diffusivity(choice.fields))) < STILL)


def _diffusivity(fields: Any) -> float:
    """Thermal diffusivity [m²/s]: 1 in a dimensionless case, else that of air (at 25 °C), to tell rest from motion."""
    return 1.0 if is_dimensionless(fields) else DIFFUSIVITY


def is_dimensionless(fields: Any) -> bool:
    """Whether a run's fields are in L, ΔT and α/L."""
    return bool(fields.attrs.get("dimensionless", 0))


def air_section(choice: Choice, at: float | None = None, *, now: bool = False) -> AirSection:
    """The air of a run in a section.

    Parameters
    ----------
    at : float, optional [m]
        Place along the bay; default: through the fastest air over a plate, where there are plates.
    now : bool
        The flow at the end of the march instead of its mean.

    Raises
    ------
    ValueError
        When the run has no computed air.
    """
    fields, ending = choice.fields, "_now" if now else ""
    if not has_air(fields):
        raise ValueError(f"{choice.name or 'this run'}: has no computed air to draw")
    names = [f"air_{name}{ending}" for name in ("temperature", "velocity_x", "velocity_y", "velocity_z")]
    temperature, across, along, up = (np.asarray(fields[name].values, dtype=float) for name in names)
    y = fields["air_y"].values
    speed = np.sqrt(across**2 + along**2 + up**2)
    fastest = int(np.unravel_index(np.nanargmax(np.where(_at_plates(choice, y), speed, np.nan)), speed.shape)[1])
    j = fastest if at is None else int(np.abs(y - at).argmin())
    return AirSection(
        x_edge=choice.edges("air_x"),
        z_edge=choice.edges("air_z"),
        temperature=temperature[:, j],
        across=across[:, j],
        up=up[:, j],
        y=float(y[j]),
        flat=len(y) == 1,
        dimensionless=is_dimensionless(fields),
        now=now,
    )


def _at_plates(choice: Choice, y: Array) -> npt.NDArray[np.bool_]:
    """Which places along the bay a plate lies at, as (1, ny, 1); all of them where there is no plate."""
    plates = [part.box for part in choice.outlines if part.kind in ("plate", "sheet")]
    found = np.array([any(box[2] <= at <= box[3] for box in plates) for at in y])
    return np.asarray(found if found.any() else np.ones(y.size, dtype=bool))[None, :, None]


def air_scale(temperatures: Iterable[npt.ArrayLike], dimensionless: bool, units: Units = "si") -> Scale:
    """The one scale that covers all given temperatures [K], or shares of ΔT in a dimensionless case."""
    fields = [np.asarray(field, dtype=float) for field in temperatures]
    if not dimensionless:
        return shared_scale(fields, units, least_span=LEAST_SPAN)
    known = np.concatenate([field[np.isfinite(field)] for field in fields])
    return PlainScale(float(known.min()), float(known.max()))


def shown_temperature(kelvin: npt.ArrayLike, scale: Scale) -> Array:
    """Temperatures [K] as a scale shows them; shares of ΔT stay as they are."""
    if isinstance(scale, PlainScale):
        return np.asarray(kelvin, dtype=float)
    return display_temperature(kelvin, scale.units)


def shown_length(metres: npt.ArrayLike, scale: Scale) -> Array:
    """Lengths [m] as a picture with this scale shows them; multiples of L stay as they are."""
    return display_length(metres, "si" if isinstance(scale, PlainScale) else scale.units)


def shown_place(metres: float, scale: Scale) -> str:
    """A place [m] with its unit, to the millimetre or tenth of an inch."""
    if isinstance(scale, PlainScale):
        return f"{metres:.3g} L"
    return UNITS["mm"].write(1e3 * metres, scale.units)


def shown_unit(scale: Scale) -> str:
    """Unit of `shown_length`."""
    return "L" if isinstance(scale, PlainScale) else length_unit(scale.units)


def shown_speed(speed: float, scale: Scale) -> str:
    """A speed [m/s] with its unit as a picture with this scale shows it."""
    if isinstance(scale, PlainScale):
        return f"{speed:.3g} α/L"
    return UNITS["mm_s"].write(1e3 * speed, scale.units)


def solid_outlines(choice: Choice, y: float) -> list[Outline]:
    """Parts of a run that a section at y cuts; sheets without thickness count."""
    return [part for part in choice.outlines if part.box[2] - 1e-9 <= y <= part.box[3] + 1e-9]

