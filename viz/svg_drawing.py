"""Drawings of a page, made as SVG by `viz.svg`, read back as marks for paper."""

from __future__ import annotations

import re
from collections.abc import Sequence

from viz.page_tree import PageElement
from viz.report.drawing import Drawing
from viz.report.told import same

HATCHED = "#dcd8cc"
"""Stands on paper for hatched ground."""

Point = tuple[float, float]


def drawing_of(svg: PageElement) -> Drawing:
    """The marks of an SVG element."""
    wide, tall = (float(size) for size in svg.attributes["viewbox"].split()[2:])
    drawing = Drawing(wide, tall, same(svg.attributes.get("aria-label", "")))
    for mark in svg.elements:
        if mark.name in _MARKS:
            _MARKS[mark.name](drawing, mark)
    return drawing


def _number(mark: PageElement, name: str, usual: float = 0.0) -> float:
    return float(mark.attributes.get(name, usual))


def _fill(mark: PageElement) -> str:
    colour = mark.attributes.get("fill", "none")
    return HATCHED if colour.startswith("url(") else colour


def _dash(mark: PageElement) -> list[float]:
    return [float(step) for step in mark.attributes.get("stroke-dasharray", "").split()]


def _path(drawing: Drawing, mark: PageElement) -> None:
    moved = re.findall(r"-?[\d.]+", mark.attributes.get("transform", "0 0"))
    aside = (float(moved[0]), float(moved[1]))
    corners = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", mark.attributes["d"])
    points = [(float(x) + aside[0], float(y) + aside[1]) for x, y in corners]
    width = _number(mark, "stroke-width", 1.0)
    drawing.path(points, mark.attributes.get("stroke", "ink"), width, dash=_dash(mark))


def _polygon(drawing: Drawing, mark: PageElement) -> None:
    points: Sequence[Point] = [
        (float(x), float(y)) for x, y in (pair.split(",") for pair in mark.attributes["points"].split())
    ]
    drawing.path(points, "ink", 0.0, fill=_fill(mark))


def _box(drawing: Drawing, mark: PageElement) -> None:
    corner, size = (_number(mark, "x"), _number(mark, "y")), (_number(mark, "width"), _number(mark, "height"))
    edge = mark.attributes.get("stroke")
    drawing.box(corner, size, _fill(mark), edge or "ink", _number(mark, "stroke-width", 1.0) if edge else 0.0)


def _dot(drawing: Drawing, mark: PageElement) -> None:
    centre = (_number(mark, "cx"), _number(mark, "cy"))
    drawing.dot(centre, _number(mark, "r"), _fill(mark), colour=mark.attributes.get("stroke", "none"))


def _text(drawing: Drawing, mark: PageElement) -> None:
    drawing.text(
        (_number(mark, "x"), _number(mark, "y")), mark.text(), _number(mark, "font-size", 12.0), _fill(mark),
        anchor=mark.attributes.get("text-anchor", "start"), bold="font-weight" in mark.attributes,
        halo="paint-order" in mark.attributes,
    )  # fmt: skip


_MARKS = {"path": _path, "polygon": _polygon, "rect": _box, "circle": _dot, "text": _text}
