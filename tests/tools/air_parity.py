"""Draw films beside computed air: `python tests/tools/air_parity.py errors.json`, into `docs/pictures`."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import matplotlib
from air_errors import drawn_last, never_fitted

matplotlib.use("Agg")
import matplotlib.pyplot as plt

PICTURE = Path(__file__).parents[2] / "docs" / "pictures" / "learned-films.png"
SHOWN = (
    ("heat_flux_up_W_m2", "up_W_m2", "upward heat flux, W/m²", 0.04),
    ("ripple_K", "ripple_K", "ripple of the floor, K", 0.25),
)


def main() -> None:
    """One panel for each number: computed air across, films up; bays that never taught, those drawn last filled."""
    rows = [row for row in json.loads(Path(sys.argv[1]).read_text()) if never_fitted(row)]
    figure, panels = plt.subplots(1, 2, figsize=(9.0, 4.5), dpi=120)
    for panel, (key, own, label, band) in zip(panels, SHOWN, strict=True):
        top = 1.05 * max(row["truth"][key] for row in rows)
        panel.fill_between([0, top], [0, top * (1 - band)], [0, top * (1 + band)], color="#e8e4da", lw=0)
        panel.plot([0, top], [0, top], color="#555555", lw=0.8)
        for model, colour in (("correlations", "#b9b2a3"), ("films", "#b4532a")):
            for last in (False, True):
                some = [r for r in rows if drawn_last(r) == last and own in r.get(model, {})]
                points = [(r["truth"][key], r[model][own]) for r in some]
                if not points:
                    continue
                face = colour if last else "none"
                name = {"films": "learned films", "correlations": "correlations"}[model]
                mark = f"{name}, {'bays drawn last' if last else 'families left out'}"
                look = {"facecolors": face, "edgecolors": colour, "lw": 0.8, "label": mark}
                panel.scatter(*zip(*points, strict=True), s=14, **look)
        panel.set(xlim=(0, top), ylim=(0, top), xlabel=f"computed air: {label}", ylabel="films")
        panel.set_aspect("equal")
    panels[0].legend(fontsize=7, frameon=False)
    words = f"{len(rows)} bays that never taught; shaded: within 4 % of the heat, 25 % of the ripple"
    figure.text(0.5, 0.01, words, ha="center", fontsize=8)
    figure.tight_layout(rect=(0, 0.03, 1, 1))
    figure.savefig(PICTURE)


if __name__ == "__main__":
    main()
