"""Pictures on a sheet: what is written on them, and whether all of it lies there."""

from itertools import combinations

import matplotlib.image
from matplotlib.backends.backend_agg import FigureCanvasAgg

from viz.layout import save_picture


def texts(figure):
    """All texts that are drawn, with their extents in pixels."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    shown = list(figure.texts) + [text for legend in figure.legends for text in legend.get_texts()]
    for axes in figure.axes:
        if axes.axison:
            shown += [*axes.texts, axes.xaxis.label, axes.yaxis.label]
            for axis in (axes.xaxis, axes.yaxis):
                low, high = sorted(axis.get_view_interval())
                slack = 1e-9 * (high - low)
                for tick in axis.get_major_ticks():
                    if low - slack <= tick.get_loc() <= high + slack:
                        shown += [tick.label1, tick.label2]
    shown = [text for text in shown if text.get_visible() and text.get_text().strip()]
    return [(text.get_text(), text.get_window_extent(canvas.get_renderer())) for text in shown]


def check_sheet(figure, tmp_path):
    """The picture is written, is not blank, its axes lie on the sheet, and so does all its text without overlap.

    Returns the texts, joined.
    """
    picture = matplotlib.image.imread(save_picture(figure, tmp_path / "new" / "picture.png"))
    assert picture[..., :3].std() > 0.05
    for axes in figure.axes:
        (x0, y0), (x1, y1) = axes.get_position().get_points()
        assert 0.0 <= x0 < x1 <= 1.0 and 0.0 <= y0 < y1 <= 1.0, axes.get_title()
    found = texts(figure)
    width, height = figure.bbox.width, figure.bbox.height
    for text, box in found:
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height, text
    for (one, a), (other, b) in combinations(found, 2):
        across, up = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        assert across < 1.0 or up < 2.0, (one, other)
    return " | ".join(text for text, _ in found)
