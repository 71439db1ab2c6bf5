"""The three-dimensional scene behind the cutaway: parts of the bay in temperature colours, off-screen.

The layers are taken away step by step towards the viewer, so that the plates, the tubes and the
insulation come into sight. The scene is rendered twice: once to be seen and once with one flat colour a
part, which tells where each part is visible and so where its label may point.

PyVista (VTK) enters the program here and is imported when a scene is really rendered. It needs no display
on Linux if one of the libraries libEGL or libOSMesa is installed.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from sim.machine.extras import what_to_install
from sim.machine.helpers import CrashError, in_own_process
from viz.choice import Array, Choice, FloorPlan, Outline, repeat_along
from viz.layout import INK
from viz.scales import Scale, display_temperature, temperature_colours

Pixels = npt.NDArray[np.uint8]

SHOWN_LENGTH = 1.2
"""Length of the bay [m] that a cutaway shows."""

# Where each kind of part begins, as a share of the length shown; kinds not listed are shown whole.
_PEELED = {"sheathing": 0.44, "plate": 0.10, "insulation": 0.05, "rim": 0.5, "rim insulation": 0.5}
_COVERINGS = (0.66, 0.88)
_VIEW_ANGLE, _DIRECTION = 18.0, (-0.62, -1.0, 0.72)


class DisplayError(RuntimeError):
    """No way to draw three-dimensional pictures on this machine; the text says what to install."""


@dataclass(frozen=True, slots=True)
class View:
    """A rendered scene.

    Attributes
    ----------
    picture : (height, width, 3) array of uint8
        What is seen, on white.
    part : (height, width) array of int
        Which of `names` is seen in each pixel; -1 is background.
    names : tuple of str
        Names of the parts.
    """

    picture: Pixels
    part: npt.NDArray[np.int64]
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    """One body of the scene: the name of its part and its mesh with temperatures on its points."""

    name: str
    mesh: Any
    edges: Any


def shown_plan(choice: Choice) -> tuple[FloorPlan, Array]:
    """Return the piece of the bay that a cutaway shows, with temperatures (nx, ny, nz), and its z edges.

    A short one-pitch cut is repeated by symmetry; of a long bay the middle is shown.
    """
    kelvin = np.asarray(choice.fields["temperature"].values, dtype=float)
    plan = FloorPlan(choice.edges("x"), choice.edges("y"), kelvin, choice.outlines)
    if choice.is_pitch and plan.length < SHOWN_LENGTH:
        plan = repeat_along(plan, SHOWN_LENGTH)
    return _middle(plan, SHOWN_LENGTH), choice.edges("z")


def render(choice: Choice, scale: Scale, *, size: tuple[int, int] = (1500, 1050)) -> View:
    """Render the cutaway of a run.

    Parameters
    ----------
    choice : Choice
        The run.
    scale : Scale
        Colours and units.
    size : tuple of int
        Width and height of the picture [pixels].

    Raises
    ------
    DisplayError
        When the machine has no library or no driver to draw with.
    """
    return drawn_apart(_view, *shown_plan(choice), scale, size)


def _view(plan: FloorPlan, z_edge: Array, scale: Scale, size: tuple[int, int]) -> View:
    """The scene, photographed twice."""
    pieces = list(_pieces(plan, z_edge, scale))
    names = tuple(dict.fromkeys(piece.name for piece in pieces))
    return View(_photograph(pieces, scale, size), _photograph_flat(pieces, names, size), names)


def drawn_apart(draw: Callable[..., Any], *arguments: Any) -> Any:
    """What `draw(*arguments)` gives in a process of its own: without a working driver VTK does not raise, it crashes.

    Raises
    ------
    DisplayError
        When the machine cannot draw in three dimensions; the text says what to install.
    """
    check_display()
    try:
        return in_own_process(draw, *arguments)
    except CrashError as crash:
        raise DisplayError(
            f"the process that draws in three dimensions ended with {crash}; a library for it is there, a driver "
            "behind it seems to be missing; on Debian or Ubuntu: apt-get install libegl-mesa0 libgl1-mesa-dri"
        ) from None


def check_display() -> None:
    """Raise DisplayError where drawing would fail: without its library; Linux without a display, EGL and OSMesa."""
    if missing := what_to_install("pyvista"):
        raise DisplayError(missing)
    if not sys.platform.startswith("linux") or os.environ.get("DISPLAY"):
        return
    if not any(_loads(name) for name in ("libEGL.so.1", "libOSMesa.so.8", "libOSMesa.so")):
        raise DisplayError(
            "three-dimensional pictures need the library libEGL or libOSMesa; "
            "on Debian or Ubuntu: apt-get install libegl1 libgl1-mesa-dri"
        )


def _loads(library: str) -> bool:
    """Whether a shared library can be loaded."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _middle(plan: FloorPlan, length: float) -> FloorPlan:
    """Cut the middle out of a plan that is longer than a length [m]."""
    if plan.length <= length * 1.001:
        return plan
    start = plan.y_edge[0] + (plan.length - length) / 2
    first, last = np.searchsorted(plan.y_edge, [start, start + length])
    y_edge = plan.y_edge[first : last + 1]
    return replace(plan, y_edge=y_edge, temperature=plan.temperature[:, first:last])


def _pieces(plan: FloorPlan, z_edge: Array, scale: Scale) -> Iterator[_Piece]:
    """Build every body of the scene that is left after peeling."""
    steps = _covering_steps(plan)
    for outline in plan.outlines:
        share = steps.get((outline.kind, outline.name), _PEELED.get(outline.kind, 0.0))
        begin = plan.y_edge[0] + share * plan.length
        x0, x1, y0, y1, z0, z1 = outline.box
        part = replace(outline, box=(x0, x1, max(y0, begin), min(y1, float(plan.y_edge[-1])), z0, z1))
        if part.box[3] > part.box[2]:
            build = _tube if outline.kind == "tube" else _body
            yield from build(part, plan, z_edge, scale)


def _covering_steps(plan: FloorPlan) -> dict[tuple[str, str], float]:
    """Where each covering or rug begins (by kind and name): the higher it lies, the farther back."""
    layers = {(o.kind, o.name): o.box[4] for o in plan.outlines if o.kind in ("covering", "rug")}
    order = sorted(layers, key=lambda layer: layers[layer])
    shares = np.linspace(*_COVERINGS, len(order) + 1).tolist()
    return dict(zip(order, shares, strict=False))


def _cells_of(part: Outline, plan: FloorPlan, z_edge: Array) -> list[slice]:
    """Ranges of cells whose centres lie in a part."""
    ranges = []
    for axis, edge in enumerate((plan.x_edge, plan.y_edge, z_edge)):
        centre = (edge[1:] + edge[:-1]) / 2
        first, last = np.searchsorted(centre, part.box[2 * axis : 2 * axis + 2])
        ranges.append(slice(int(first), int(last)))
    return ranges


def _body(part: Outline, plan: FloorPlan, z_edge: Array, scale: Scale) -> Iterator[_Piece]:
    """Build a box-shaped part from its cells."""
    import pyvista

    ranges = _cells_of(part, plan, z_edge)
    values = display_temperature(plan.temperature[tuple(ranges)], scale.units)
    if not np.isfinite(values).any():
        return
    edges = [e[r.start : r.stop + 1] for e, r in zip((plan.x_edge, plan.y_edge, z_edge), ranges, strict=True)]
    grid: Any = pyvista.RectilinearGrid(*edges)
    grid.cell_data["temperature"] = values.ravel(order="F")
    known = np.isfinite(values.ravel(order="F"))
    if not known.all():
        grid = grid.extract_cells(np.flatnonzero(known))
    surface = grid.cell_data_to_point_data().extract_surface(algorithm=None)
    box = pyvista.Box([bound for e in edges for bound in (e[0], e[-1])])
    yield _Piece(part.label, surface, box.extract_all_edges())


def _tube(part: Outline, plan: FloorPlan, z_edge: Array, scale: Scale) -> Iterator[_Piece]:
    """Build a round tube along the longer side of its box."""
    import pyvista

    x0, x1, y0, y1, z0, z1 = part.box
    along = y1 - y0 >= x1 - x0
    axis, edge = (1, plan.y_edge) if along else (0, plan.x_edge)
    ranges = _cells_of(part, plan, z_edge)
    cells = plan.temperature[tuple(ranges)]
    kelvin = _mean_of_known(np.moveaxis(cells, axis, 0).reshape(cells.shape[axis], -1))
    at = ((edge[1:] + edge[:-1]) / 2)[ranges[axis]]
    if not at.size or not np.isfinite(kelvin).any():
        return
    places = np.concatenate([part.box[2 * axis : 2 * axis + 1], at, part.box[2 * axis + 1 : 2 * axis + 2]])
    line = np.tile([(x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2], (places.size, 1))
    line[:, axis] = places
    spine = pyvista.lines_from_points(line)
    spine["temperature"] = display_temperature(np.pad(kelvin, 1, mode="edge"), scale.units)
    spine = spine.strip()
    tube = spine.tube(radius=(z1 - z0) / 2, n_sides=36, capping=True)
    yield _Piece(part.label, tube, tube.extract_feature_edges(60))


def _mean_of_known(rows: Array) -> Array:
    """Mean of the finite values of each row; rows without one take the mean of all rows."""
    known = np.isfinite(rows)
    count = known.sum(axis=1)
    total = np.where(known, rows, 0.0).sum(axis=1)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    overall = mean[np.isfinite(mean)].mean() if np.isfinite(mean).any() else np.nan
    return np.where(np.isfinite(mean), mean, overall)


def plotter_off_screen(size: tuple[int, int]) -> Any:
    """An off-screen plotter; VTK's remark that there is no X server is not worth a line on the terminal."""
    import pyvista
    from vtkmodules.vtkCommonCore import vtkLogger

    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)
    plotter: Any = pyvista.Plotter(off_screen=True, window_size=list(size), lighting="none")
    plotter.set_background("white")
    return plotter


def _aim(plotter: Any, pieces: Sequence[_Piece]) -> None:
    """Look at the scene from the cut end, from above."""
    bounds = np.array([piece.mesh.bounds for piece in pieces])
    low, high = bounds[:, ::2].min(axis=0), bounds[:, 1::2].max(axis=0)
    focus = (low + high) / 2
    plotter.camera.focal_point = focus
    plotter.camera.position = focus + 4.0 * np.array(_DIRECTION)
    plotter.camera.up = (0.0, 0.0, 1.0)
    plotter.camera.view_angle = _VIEW_ANGLE
    plotter.reset_camera(bounds=[v for pair in zip(low, high, strict=True) for v in pair])
    plotter.camera.zoom(1.12)


def _photograph(pieces: Sequence[_Piece], scale: Scale, size: tuple[int, int]) -> Pixels:
    """Render what is seen: soft light, so that the colours keep their meaning."""
    import pyvista

    plotter = plotter_off_screen(size)
    colours = temperature_colours()
    for piece in pieces:
        plotter.add_mesh(
            piece.mesh,
            scalars="temperature",
            cmap=colours,
            clim=(scale.low, scale.high),
            show_scalar_bar=False,
            ambient=0.8,
            diffuse=0.25,
            specular=0.0,
        )
        plotter.add_mesh(piece.edges, color=INK, line_width=1.6, lighting=False)
    _aim(plotter, pieces)
    light = pyvista.Light(position=(-1.5, -3.0, 6.0), light_type="scene light", intensity=1.0)
    light.positional = False
    plotter.add_light(light)
    plotter.enable_anti_aliasing("ssaa")
    picture = np.array(plotter.screenshot(return_img=True))
    plotter.close()
    return picture


def _photograph_flat(
    pieces: Sequence[_Piece], names: Sequence[str], size: tuple[int, int]
) -> npt.NDArray[np.int64]:
    """Render which part is seen in each pixel: one flat colour per name, no light, no smoothing."""
    plotter = plotter_off_screen(size)
    for piece in pieces:
        level = (names.index(piece.name) + 1) / 255.0
        plotter.add_mesh(piece.mesh.copy(), scalars=None, color=(level, 0.0, 0.0), lighting=False)
    _aim(plotter, pieces)
    plotter.disable_anti_aliasing()
    colours = np.array(plotter.screenshot(return_img=True)).astype(np.int64)
    plotter.close()
    return np.where(colours[..., 2] > 127, -1, colours[..., 0] - 1)
