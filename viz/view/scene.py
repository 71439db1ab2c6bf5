"""A scene: a run that can be turned, saved as a page, shown in a window or in a notebook."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

from sim.machine.brief import small_tree
from viz.view.page import scene_page
from viz.view.parts import SceneParts


class Scene(SceneParts):
    """A run that can be turned: `save` writes it as a page, `show` draws it by PyVista, a notebook shows the page."""

    def save(self, path: str | Path) -> Path:
        """Write the scene as a page that needs no network; any browser turns it. Parents are made."""
        path = Path(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(scene_page(self), encoding="utf-8", errors="backslashreplace")
        return path

    def plotter(self, *, off_screen: bool | None = None) -> Any:
        """The scene as a `pyvista.Plotter`, to change or to photograph.

        Raises
        ------
        DisplayError : PyVista or what it draws with is missing.
        """
        from viz.view.window import plotter  # for start-up: the library behind it takes a second

        return plotter(self, off_screen=off_screen)

    def show(self, **options: Any) -> Any:
        """Show it by PyVista: a window, or in a notebook what `pyvista.set_jupyter_backend` says."""
        return self.plotter().show(**options)

    def __repr__(self) -> str:
        shown = [solid.label for solid in self.solids]
        air = self.air.why_none or f"{len(self.air.lines)} lines"
        rows = [("parts", ", ".join(dict.fromkeys(shown))), ("air", air), ("has", "save, show, plotter")]
        return small_tree(f"Scene {self.title}", rows)

    def _repr_html_(self) -> str:
        page, title = escape(scene_page(self), quote=True), escape(self.title, quote=True)
        look = f'title="{title}" style="width:100%;height:820px;border:0"'
        return f'<iframe sandbox="allow-scripts" {look} srcdoc="{page}"></iframe>'
