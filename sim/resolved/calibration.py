"""Films taught by a computed flow: factors on the correlations, by kind of wall, height and distance from the plate.

A class of faces is the kind of their body, the way they look, the kind of air zone in front of them, the third of the
cavity's height that they lie in, whether they lie at a plate, near one or far from one, and for what looks down, where
plumes strike and draw their stripes, how far it lies from a tube across and from the middle of a plate along. With the
factors the films model gives every class the heat that the computed flow gave it; in other layouts a class that is not
known takes the factor of the most similar one. Openings between zones keep their law: factors on them changed nothing
that was seen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, NotRequired, TypedDict

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Box, Tube
from sim.machine.brief import whole_tree
from sim.solver.system import System
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]

HEIGHTS = ("low", "middle", "high")
DISTANCES = ("at", "near", "far")
NEAR = 0.05
"""Plan distance from a plate (without plates: from a tube) up to which a face is near it [m]."""

TUBE_BANDS = (0.012, 0.025, 0.040, 0.060, 0.090)
"""Plan distances from the nearest tube between which what looks down is a class of its own [m]."""

PLATE_BAND = 0.04
"""Steps of the distance along the tube from the middle of the nearest plate, for what looks down [m]."""

_LOOKS = ("beside", "beside", "beside", "beside", "down", "up")


class Words(NamedTuple):
    """What names a class of faces.

    Attributes
    ----------
    wall, looks, air, height, plate : str
        Kind of body, "up", "down" or "beside", kind of zone, third of the height, distance from a plate.
    tube, along : str
        For what looks down: distance from a tube in plan, "12 to 25 mm inwards", and along the tube from the middle of
        a plate, "40 to 80 mm"; else empty.
    """

    wall: str
    looks: str
    air: str
    height: str
    plate: str
    tube: str = ""
    along: str = ""


class KeptRow(TypedDict):
    """A class of faces as a file has it."""

    wall: str
    looks: str
    air: str
    height: str
    plate: str
    tube: NotRequired[str]
    along: NotRequired[str]
    area: float
    heat: float
    film: float
    factor: float


class KeptFilms(TypedDict):
    """Taught films as a file has them."""

    case: str
    misfit: float
    films: list[KeptRow]


@dataclass(frozen=True, slots=True)
class FilmRow:
    """One class of faces.

    Attributes
    ----------
    words : Words
    area : float [m²]
    heat : float [W]
        Mean heat from the faces into the air, by the computed flow.
    film : float [W/m²K]
        Effective film with the factor, against the zone's mean air, at the calibrated temperatures.
    factor : float [-]
        On the film correlations.
    """

    words: Words
    area: float
    heat: float
    film: float
    factor: float

    def as_dict(self) -> dict[str, object]:
        """Plain values on one level."""
        return self.words._asdict() | {name: getattr(self, name) for name in ("area", "heat", "film", "factor")}

    @classmethod
    def from_dict(cls, values: KeptRow) -> FilmRow:
        """Read what `as_dict` made; KeyError for anything else."""
        spot = values.get("tube", ""), values.get("along", "")
        words = Words(values["wall"], values["looks"], values["air"], values["height"], values["plate"], *spot)
        return cls(words, values["area"], values["heat"], values["film"], values["factor"])


@dataclass(frozen=True, slots=True)
class Calibration:
    """Factors of films by class, and the case that they come from.

    `misfit` is the share of the cavity's heat that the factors still put on the wrong class.
    """

    case: str
    rows: tuple[FilmRow, ...]
    misfit: float

    def as_dict(self) -> dict[str, object]:
        """Plain values, ready for JSON."""
        return {"case": self.case, "misfit": self.misfit, "films": [row.as_dict() for row in self.rows]}

    @classmethod
    def from_dict(cls, values: KeptFilms) -> Calibration:
        """Read what `as_dict` made; KeyError for anything else."""
        rows = tuple(FilmRow.from_dict(row) for row in values["films"])
        return cls(values["case"], rows, float(values["misfit"]))

    def __str__(self) -> str:
        head = f"Films calibrated by {self.case}, {self.misfit:.1%} of the heat on the wrong class"
        return whole_tree(head, (
            f"{' '.join(filter(None, row.words)):<84} {1e4 * row.area:7.0f} cm² {row.heat:8.3f} W  "
            f"film {row.film:6.2f} W/m²K, factor {row.factor:.2f}"
            for row in self.rows
        ))  # fmt: skip


def face_classes(cells: Cells, cavity: Cavity) -> list[Words]:
    """The class of every wall face of the films model."""
    kinds, zones = cells.kinds(), [zone_kind(name) for name in cells.zone_names]
    low, high = _air_heights(cells)
    third = np.clip((3.0 * (cavity.centre[:, 2] - low) / (high - low)).astype(int), 0, 2)
    plate = _plate_distance(cells, cavity)
    band = np.where(plate < 1e-3, 0, np.where(plate < NEAR, 1, 2))
    spots = _spots(cells, cavity)
    return [
        Words(kinds[body], _LOOKS[side], zones[zone] if zone >= 0 else "", HEIGHTS[level], DISTANCES[away], *spot)
        for body, side, zone, level, away, spot in zip(
            cavity.body, cavity.side, cavity.walls.zone, third, band, spots, strict=True
        )
    ]


def _spots(cells: Cells, cavity: Cavity) -> list[tuple[str, str]]:
    """Where every face that looks down lies across and along the tubes, in words; empty for the others."""
    tubes = [body for body in cells.bodies if isinstance(body, Tube)]
    if not tubes:
        return [("", "")] * len(cavity.body)
    spots = zip(_tube_bands(tubes, cavity), _plate_bands(cells, tubes[0].axis, cavity), strict=True)
    looks = [_LOOKS[side] for side in cavity.side]
    return [spot if look == "down" else ("", "") for spot, look in zip(spots, looks, strict=True)]


def _tube_bands(tubes: Sequence[Tube], cavity: Cavity) -> list[str]:
    """How far from a tube every face lies in plan, and on which side of it.

    Inwards is towards the middle between the outermost tubes: there plumes may meet, outwards they may meet a joist.
    """
    away = np.array([_plan_distance(tube, cavity.centre) for tube in tubes])
    band, inwards = np.searchsorted(TUBE_BANDS, away.min(axis=0)), _inwards(tubes, away.argmin(axis=0), cavity)
    ends = [f"{1e3 * end:g}" for end in TUBE_BANDS]
    names = ["0 to " + ends[0], *(f"{a} to {b}" for a, b in zip(ends, ends[1:], strict=False)), "over " + ends[-1]]
    return [f"{names[n]} mm {'inwards' if i else 'outwards'}" for n, i in zip(band, inwards, strict=True)]


def _plate_bands(cells: Cells, axis: int, cavity: Cavity) -> list[str]:
    """How far every face lies from the middle of a plate along an axis; empty without plates."""
    plates = [b for b, kind in zip(cells.bodies, cells.kinds(), strict=True) if kind == "plate" and isinstance(b, Box)]
    if not plates:
        return [""] * len(cavity.body)
    middles = np.unique([0.5 * sum(plate.span(axis)) for plate in plates])
    away = np.abs(cavity.centre[:, axis, None] - middles).min(axis=1)
    step = 1e3 * PLATE_BAND
    return [f"{step * n:g} to {step * (n + 1):g} mm" for n in (away / PLATE_BAND).astype(int)]


def _inwards(tubes: Sequence[Tube], nearest: NDArray[np.intp], cavity: Cavity) -> NDArray[np.bool_]:
    """Whether every face lies on that side of its nearest tube where the middle between the outermost ones is."""
    across = 1 - tubes[0].axis
    places = np.array([0.5 * sum(tube.bounds(across)) for tube in tubes])
    middle = 0.5 * (places.min() + places.max())
    return np.asarray(np.abs(cavity.centre[:, across] - middle) < np.abs(places[nearest] - middle) - 1e-9)


def zone_kind(name: str) -> str:
    """A zone's name without the numbers of stretches and plates.

    Examples
    --------
    >>> zone_kind("gap over plate 2.1"), zone_kind("upper air 3")
    ('gap over plate', 'upper air')
    """
    return re.sub(r"[ 0-9.]+$", "", name)


def apply_calibration(system: System, cells: Cells, calibration: Calibration) -> System:
    """The system with calibrated films; a film factor that it had already stays on top."""
    if system.cavity is None:
        return system
    known = {row.words: row.factor for row in calibration.rows}
    return apply_factors(system, face_classes(cells, system.cavity), known)


def apply_factors(system: System, classes: Sequence[Words], known: Mapping[Words, float]) -> System:
    """The system with its films multiplied by the factors of their faces' classes.

    Parameters
    ----------
    classes : class of every wall face, from `face_classes`.
    known : factor by class; a class that is not known takes that of the most similar ones.
    """
    cavity = system.cavity
    assert cavity is not None
    found = {words: known.get(words) or _similar(words, known) for words in set(classes)}
    factor = np.array([found[words] for words in classes])
    return system.with_term(cavity.with_walls(film_factor=cavity.walls.film_factor * factor))


def _similar(words: Words, known: Mapping[Words, float]) -> float:
    """Geometric mean of the factors of the known classes that share most words; what matters most comes first."""
    weights = (32.0, 64.0, 16.0, 1.0, 4.0, 8.0, 2.0)
    scores = {k: sum(w for w, a, b in zip(weights, k, words, strict=True) if a == b) for k in known}
    best = max(scores.values(), default=0.0)
    alike = [known[k] for k, score in scores.items() if score == best]
    return float(np.exp(np.mean(np.log(alike)))) if best >= weights[1] else 1.0


def _air_heights(cells: Cells) -> tuple[float, float]:
    """Lowest and highest plane of the cavity's air [m]."""
    levels = np.flatnonzero(cells.air.any(axis=(0, 1)))
    return float(cells.grid.z[levels[0]]), float(cells.grid.z[levels[-1] + 1])


def _plate_distance(cells: Cells, cavity: Cavity) -> Array:
    """Plan distance of every face from the nearest plate, or tube where there are no plates [m]."""
    parts: list[Box | Tube] = [b for b, kind in zip(cells.bodies, cells.kinds(), strict=True) if kind == "plate"]
    return _nearest(parts or [body for body in cells.bodies if isinstance(body, Tube)], cavity)


def _nearest(parts: Sequence[Box | Tube], cavity: Cavity) -> Array:
    """Plan distance of every face from the nearest of some parts [m]; infinite where there are none."""
    if not parts:
        return np.full(len(cavity.body), np.inf)
    return np.min([_plan_distance(part, cavity.centre) for part in parts], axis=0)


def _plan_distance(part: Box | Tube, centre: Array) -> Array:
    spans = [part.bounds(axis) if isinstance(part, Tube) else part.span(axis) for axis in (0, 1)]
    beyond = [np.maximum(np.maximum(a - centre[:, n], centre[:, n] - b), 0.0) for n, (a, b) in enumerate(spans)]
    return np.hypot(*beyond)
