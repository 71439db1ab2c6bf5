"""A scene by PyVista: a window where there is a display, a plotter for notebooks and pictures."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.machine.helpers import CrashError, in_own_process
from viz.choice import Array, Box
from viz.layout import INK
from viz.scales import display_temperature, temperature_colours
from viz.scene import DisplayError, check_display
from viz.view.colours import material_colours, ramps
from viz.view.parts import OPENED_LENGTH, SceneParts, SeenFloor, Solid, StreamLine, Volume, WaterTube

_BARS = {"read by a camera": 0.69, "plates and air": 0.37, "water": 0.05}
"""What scales are called, and where they stand, from below."""
_ELSE = "without --window a page is written that any browser turns"
_FLAT = {"ambient": 0.8, "diffuse": 0.25, "specular": 0.0}


@dataclass(frozen=True, slots=True)
class _Group:
    """The bodies of one layer: its key, its words, its meshes with what they are painted in."""

    key: str
    words: str
    meshes: tuple[tuple[Any, dict[str, Any]], ...]


def show_window(scene: SceneParts) -> None:
    """Show a scene in a window of a process of its own, until it is closed.

    Raises
    ------
    DisplayError
        Without a display, or without a driver to draw with.
    """
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        raise DisplayError(f"there is no display for a window; {_ELSE}")
    check_display()
    try:
        in_own_process(_windowed, scene)
    except CrashError as crash:
        raise DisplayError(
            f"the window ended with {crash}; {_ELSE}"
        ) from None


def _windowed(scene: SceneParts) -> None:
    plotter(scene).show(title=f"{scene.title} · joistbay")


def plotter(scene: SceneParts, *, off_screen: bool | None = None, size: tuple[int, int] = (1280, 860)) -> Any:
    """A `pyvista.Plotter` that holds the scene cut open; letters switch its layers where it is shown in a window.

    Raises
    ------
    DisplayError
        When PyVista or what it draws with is missing; the text says what to install.
    """
    check_display()
    import pyvista

    made: Any = pyvista.Plotter(off_screen=off_screen, window_size=list(size), lighting="light kit")
    made.set_background("white")
    lines = []
    for group in _groups(scene):
        actors = [made.add_mesh(mesh, **look) for mesh, look in group.meshes]
        if actors:
            made.add_key_event(group.key, _switch(made, actors))
            lines.append(f"{group.key}  {group.words}")
    made.add_text("\n".join([scene.title, *lines]), font_size=8, color=INK, position="upper_left")
    _aim(made, scene.bounds)
    return made


def _switch(plotter: Any, actors: list[Any]) -> Callable[[], None]:
    """What a key does: its layer goes or comes."""

    def switch() -> None:
        for actor in actors:
            actor.SetVisibility(not actor.GetVisibility())
        plotter.render()

    return switch


def _groups(scene: SceneParts) -> Iterator[_Group]:
    yield _Group("m", "solids by material", tuple(_materials(scene)))
    if scene.floor is not None:
        yield _Group("b", "floor as a thermal camera sees it", tuple(_floors(scene, scene.floor)))
    yield _Group("n", "plates by temperature", tuple(_plates(scene)))
    yield _Group("t", "tube by water temperature", tuple(_tube(scene, tube) for tube in scene.tubes))
    yield _Group("a", "computed air", tuple(_line(scene, line) for line in scene.air.lines))


def _opened(scene: SceneParts, solid: Solid) -> Box | None:
    """The box of a part in the scene cut open; None where nothing of it is left."""
    x0, x1, y0, y1, z0, z1 = solid.box
    y0 = max(y0, scene.bounds[2] + solid.peel * min(OPENED_LENGTH, scene.bounds[3] - scene.bounds[2]))
    return (x0, x1, y0, y1, z0, z1) if y1 > y0 else None


def _materials(scene: SceneParts) -> Iterator[tuple[Any, dict[str, Any]]]:
    import pyvista

    colours = material_colours(scene.solids)
    for solid in scene.solids:
        box = _opened(scene, solid)
        if box is not None and solid.kind not in ("plate", "sheet"):
            yield pyvista.Box(box), {"color": colours[solid.label], "ambient": 0.6, "diffuse": 0.45}
            yield pyvista.Box(box).extract_all_edges(), {"color": INK, "line_width": 1.2, "lighting": False}


def _floors(scene: SceneParts, floor: SeenFloor) -> Iterator[tuple[Any, dict[str, Any]]]:
    """The tops of what is walked on, a hair above it."""
    import pyvista

    for solid in scene.solids:
        box = _opened(scene, solid) if solid.floor else None
        if box is None:
            continue
        i, j = _cells(floor.x_edge, box[:2]), _cells(floor.y_edge, box[2:4])
        edges = floor.x_edge[i.start : i.stop + 1], floor.y_edge[j.start : j.stop + 1]
        sheet: Any = pyvista.RectilinearGrid(*edges, np.array([box[5] + 2e-4]))
        sheet.cell_data["floor"] = _shown(scene, floor.apparent[i, j]).ravel(order="F")
        yield sheet, _painted(scene, "read by a camera", floor.low, floor.high) | {"lighting": False}


def _plates(scene: SceneParts) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Plates in their own cells; those of no thickness, or of a run without cells, in plain grey."""
    import pyvista

    for solid in scene.solids:
        box = _opened(scene, solid) if solid.kind in ("plate", "sheet") else None
        if box is None:
            continue
        grid = None if scene.volume is None else _cut(scene, scene.volume, box)
        if grid is None or "hot" not in scene.scales:
            yield pyvista.Box(box), {"color": "#9aa4ab"}
        else:
            yield grid, _painted(scene, "plates and air", *scene.scales["hot"]) | _FLAT


def _cut(scene: SceneParts, volume: Volume, box: Box) -> Any:
    """The cells of a box with their temperatures; None where there are none."""
    import pyvista

    edges = (volume.x_edge, volume.y_edge, volume.z_edge)
    axes = [(edge, _cells(edge, box[2 * k : 2 * k + 2])) for k, edge in enumerate(edges)]
    kelvin = volume.kelvin[tuple(part for _, part in axes)]
    if not kelvin.size or not np.isfinite(kelvin).all():
        return None
    grid: Any = pyvista.RectilinearGrid(*(edge[part.start : part.stop + 1] for edge, part in axes))
    grid.cell_data["temperature"] = _shown(scene, kelvin).ravel(order="F")
    return grid


def _tube(scene: SceneParts, tube: WaterTube) -> tuple[Any, dict[str, Any]]:
    import pyvista

    start, end = np.array(tube.start), np.array(tube.end)
    axis = int(np.argmax(np.abs(end - start)))
    places = np.unique(np.clip(np.concatenate([[start[axis]], tube.places, [end[axis]]]), start[axis], end[axis]))
    line = np.tile(start, (places.size, 1))
    line[:, axis] = places
    spine = pyvista.lines_from_points(line)
    known = bool(np.isfinite(tube.kelvin).all())
    if known:
        spine["water"] = _shown(scene, np.interp(places, tube.places, tube.kelvin))
    body = spine.strip().tube(radius=tube.radius, n_sides=28, capping=True)
    look = _painted(scene, "water", *scene.scales["water"], water=True) if known else {"color": "#9aa4ab"}
    return body, look


def _line(scene: SceneParts, line: StreamLine) -> tuple[Any, dict[str, Any]]:
    import pyvista

    spine = pyvista.lines_from_points(line.points)
    spine["air"] = _shown(scene, line.kelvin)
    look = _painted(scene, "plates and air", *scene.scales["hot"])
    return spine, look | {"line_width": 2.2, "render_lines_as_tubes": True}


def _painted(scene: SceneParts, title: str, low: float, high: float, *, water: bool = False) -> dict[str, Any]:
    """Colours between two temperatures [K], with a scale named once."""
    from matplotlib.colors import ListedColormap

    colours = ListedColormap(ramps()[1] / 255.0) if water else temperature_colours()
    at = _BARS[title]
    unit = "ΔT" if scene.dimensionless else "°C" if scene.units == "si" else "°F"
    place = {"vertical": True, "position_x": 0.88, "position_y": at, "width": 0.05, "height": 0.25}
    sizes = {"n_labels": 4, "fmt": "%.1f", "title_font_size": 13, "label_font_size": 12}
    bar = {"title": f"{title}, {unit}", "color": INK, "unconstrained_font_size": True} | place | sizes
    limits = [float(end) for end in _shown(scene, np.array([low, high]))]
    return {"cmap": colours, "clim": limits, "scalar_bar_args": bar}


def _shown(scene: SceneParts, kelvin: Array) -> Array:
    return np.asarray(kelvin) if scene.dimensionless else display_temperature(kelvin, scene.units)


def _cells(edge: Array, ends: tuple[float, ...]) -> slice:
    """Cells whose centres lie between two places."""
    first, last = np.searchsorted((edge[1:] + edge[:-1]) / 2, ends)
    return slice(int(first), int(last))


def _aim(plotter: Any, bounds: Box) -> None:
    """Look at the opened stretch from its end, from above."""
    x0, x1, y0, y1, z0, z1 = bounds
    near = (x0, x1, y0, min(y1, y0 + OPENED_LENGTH), z0, z1)
    focus = np.array([(near[0] + near[1]) / 2, (near[2] + near[3]) / 2, (near[4] + near[5]) / 2])
    plotter.camera.focal_point = focus
    plotter.camera.position = focus + 4.0 * np.array((-0.62, -1.0, 0.72))
    plotter.camera.up = (0.0, 0.0, 1.0)
    plotter.reset_camera(bounds=near)
