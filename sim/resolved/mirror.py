"""Mirror images: where a bay and its meshes are alike on both sides, the mean flow has to be as well.

A finite mean is not quite: plumes lean to one side for a while. Both halves say the same twice, so their mean is
reported, and their scatter tells what it does not know: of n independent images its standard error is σ / √n. One image
lies σ √(1 − 1/n) from the mean, the warmest of them σ √(E[max²] − 1/n), root mean squares. Of two images all three are
half of their difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.walls import WallFaces
from sim.solver.system import System
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

ALIKE = 0.01
"""Difference of faces that mirror each other, root mean square over the span of the walls' temperatures, up to which a
build-up counts as symmetric [-]: rays of radiation scatter, and water cools a little along a pitch."""

OF_EXTREME = (1.0, 1.0, 0.438, 0.234)
"""Standard error of the mean of 1, 2, 4 and 8 images over how far their warmest lies from it: E[max²] of 4 and of 8
normal values is 1.0294² + 0.4917 and 1.4236² + 0.3729 (tables of order statistics, Teichroew 1956, Annals of
Mathematical Statistics 27, 410; a test draws them)."""

PLACE = 1e-9
"""How closely mirrored planes of a mesh agree [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Mirror:
    """For each plane of symmetry, which face mirrors which: of the air, of the solids, of the surface above.

    Examples
    --------
    >>> import numpy as np
    >>> swapped = np.array([1, 0])
    >>> Mirror((swapped,), (swapped,), (swapped,)).of_air(np.array([1.0, 3.0]))
    array([2., 2.])
    """

    air: tuple[Integers, ...] = ()
    solid: tuple[Integers, ...] = ()
    surface: tuple[Integers, ...] = ()

    def of_air(self, values: Array) -> Array:
        """Mean of the air faces' values (n,), in any unit, and of their mirror images."""
        return _mean(values, self.air)

    def of_solid(self, values: Array) -> Array:
        """Mean of the solid faces' values (n,), in any unit, and of their mirror images."""
        return _mean(values, self.solid)

    def of_surface(self, values: Array) -> Array:
        """Mean of a surface map's values (n,), in any unit, and of their mirror images."""
        return _mean(values, self.surface)

    @property
    def planes(self) -> int:
        """How many planes of symmetry there are."""
        return len(self.air)

    @property
    def of_image(self) -> float:
        """Standard error of the mean of all images over how far one lies from it [-]; see the module."""
        return 1.0 / max(2**self.planes - 1, 1) ** 0.5

    @property
    def of_extreme(self) -> float:
        """Standard error of the mean of all images over how far their warmest or coolest lies from it [-]."""
        return OF_EXTREME[self.planes]


def _mean(values: Array, images: Sequence[Integers]) -> Array:
    for image in images:
        values = 0.5 * (values + values[image])
    return values


def find_mirror(
    system: System, domain: Domain, walls: WallFaces, films: Array, path: str, axes: Sequence[int]
) -> Mirror:
    """The planes across some axes in which a build-up and both of its meshes mirror themselves.

    Parameters
    ----------
    films : temperatures of the solids' cavity faces before any flow (n,) [K]: they tell whether everything that acts on
        the solids is symmetric, tubes and water among it.
    path : of the surface whose map is mirrored.
    """
    assert system.cavity is not None
    found = [images for axis in axes if (images := _images(system, system.cavity, domain, walls, path, axis))]
    alike = [images for images in found if _apart(films, images[1]) <= ALIKE]
    air, solid, surface = (tuple(images[n] for images in alike) for n in range(3))
    return Mirror(air, solid, surface)


def _apart(values: Array, image: Integers) -> float:
    """Difference of values and their mirror images, root mean square, over the values' span [-]."""
    return float(np.sqrt(np.mean((values - values[image]) ** 2)) / max(float(np.ptp(values)), 1e-12))


def _images(
    system: System, cavity: Cavity, domain: Domain, walls: WallFaces, path: str, axis: int
) -> tuple[Integers, Integers, Integers] | None:
    """Mirror images of the faces in the middle plane across an axis; None where one of them is not there."""
    edges = domain.edges[axis]
    if domain.shape[axis] < 2 or np.abs(edges + edges[::-1] - edges[0] - edges[-1]).max() > PLACE:
        return None
    plan = surface_cells(system, path)
    upward = np.full(len(plan), 5)
    images = (
        _image(walls.cell, walls.side, walls.area, axis, domain.shape[axis]),
        _image(cavity.cell, cavity.side, cavity.walls.area, axis, system.shape[axis]),
        _image(plan, upward, np.ones(len(plan)), axis, system.shape[axis]),
    )
    return None if any(image is None for image in images) else images  # type: ignore[return-value]


MOST_CELLS = 1 << 20
"""More cells than an axis has."""


def _image(cell: NDArray, side: NDArray, area: Array, axis: int, count: int) -> Integers | None:
    """Number of the face that mirrors each; None where one has no image, or one of another area."""
    there, turned = cell.astype(np.intp), side.astype(np.intp)
    there[:, axis] = count - 1 - there[:, axis]
    turned = np.where(turned // 2 == axis, turned ^ 1, turned)
    known, number = np.unique(_keys(cell, side), return_index=True)
    wanted = _keys(there, turned)
    place = np.minimum(np.searchsorted(known, wanted), max(len(known) - 1, 0))
    if len(known) < len(wanted) or not np.array_equal(known[place], wanted):
        return None
    image: Integers = number[place]
    return image if np.allclose(area, area[image], rtol=1e-6) else None


def _keys(cell: NDArray, side: NDArray) -> Integers:
    """A number for every face, by its cell and side."""
    i, j, k = cell.astype(np.intp).T
    return np.asarray(((i * MOST_CELLS + j) * MOST_CELLS + k) * 6 + side, np.intp)


def surface_cells(system: System, path: str) -> NDArray[np.intp]:
    """Cells (n, 3) behind the outer surfaces on a path, in the order of `surface_map`."""
    behind = [surface.cell for surface in system.surfaces if surface.path == path]
    cells = np.concatenate(behind) if behind else np.zeros(0, np.intp)
    return np.column_stack(np.unravel_index(cells, system.shape)).astype(np.intp)


def surface_temperatures(system: System, surfaces: Sequence, path: str) -> Array:
    """Temperatures (n,) [K] of the outer surfaces on a path, from their flows, in the order of `surface_cells`."""
    pairs = zip(system.surfaces, surfaces, strict=True)
    parts = [heat.temperature for surface, heat in pairs if surface.path == path]
    return np.concatenate(parts) if parts else np.zeros(0)
