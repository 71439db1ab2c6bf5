"""`joistbay view`: a stored run as a scene that a person turns, as a page or in a window."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from sim.cli.errors import UsageError
from sim.cli.first_word import first_word
from sim.cli.folders import no_folder, no_run

if TYPE_CHECKING:
    from viz.view.scene import Scene

SceneUnits = Literal["si", "ip"]


def view(
    run: Path,
    /,
    *,
    window: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    units: Annotated[SceneUnits | None, Parameter(show_default=False)] = None,
    out: Annotated[Path | None, Parameter(show_default=False)] = None,
) -> int:
    """Show a stored run as a scene to turn: cutaway, floor through a thermal camera, plates, tube, streamlines.

    Nothing is solved. The page needs no network and no graphics driver on this machine; any browser turns it.

    Parameters
    ----------
    run
        Folder of a run or of a warm-up, such as runs/kitchen-vinyl; of a run in time, its last state.
    window
        A window of this program instead of a page; needs a display.
    units
        Units that it opens with; as the case file was written when left out.
    out
        Page to write, such as kitchen.html; view.html in the folder of the run when left out.
    """
    if window and out is not None:
        raise UsageError("--window shows a window and --out writes a page; leave one of them out")
    scene = scene_in(run, units)
    if window:
        return _shown(scene)
    page = _write(scene, _target(run, out))
    first_word.spoken()
    print(f"Wrote {page} ({page.stat().st_size / 1e6:.1f} MB): open it in a browser and drag, or use the arrow keys")
    return 0


def _shown(scene: Scene) -> int:
    from viz.scene import DisplayError
    from viz.view.window import show_window

    try:
        show_window(scene)
    except DisplayError as error:
        raise UsageError(str(error)) from None
    return 0


def scene_in(folder: Path, units: SceneUnits | None = None) -> Scene:
    """The scene of a stored run.

    Raises
    ------
    UsageError : there is no such folder, or it holds no single run.
    StoreError : it holds one that is damaged, or several choices in time.
    """
    from sim.problems.last_state import last_state_in, units_of
    from sim.problems.save_warm_up import is_warm_up
    from sim.store.run_folder import is_run
    from viz.view.build import scene_of

    if not folder.is_dir():
        raise UsageError(f"{folder}: {no_folder(folder, 'view')}")
    if not is_run(folder) and not is_warm_up(folder):
        raise UsageError(f"{folder}: {no_run(folder, 'view')}")
    return scene_of(last_state_in(folder), units or units_of(folder))


def _target(run: Path, out: Path | None) -> Path:
    from sim.store.run_folder import VIEW_FILE
    from sim.store.target import check_place

    target = run / VIEW_FILE if out is None else out
    if out is not None and target.suffix.lower() not in (".html", ".htm"):
        raise UsageError(f'--out got "{out}"; it names a page, so it ends in .html')
    check_place(target)
    return target


def _write(scene: Scene, path: Path) -> Path:
    """Write the page whole or not at all."""
    from sim.cli.report import written_whole
    from viz.view.page import scene_page

    path.parent.mkdir(parents=True, exist_ok=True)
    return written_whole(path, scene_page(scene))
