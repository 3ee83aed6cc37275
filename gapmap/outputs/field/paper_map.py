"""The map on a field sheet for paper: the square, what lies around it, and the lines of the grid."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import shapely
from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from gapmap.outputs.field.letters import BOLD, PLAIN, width_of, wrapped
from gapmap.outputs.field.vicinity import Vicinity, line_label, line_places, step_in_words
from gapmap.visits.fieldsheets import FieldSheet

INK, SOFT = HexColor("#17202a"), HexColor("#4a5560")
_PAPER, _SEA = HexColor("#fbfaf6"), HexColor("#dbe7ee")
#: Fill and line of areas, and width of the line in points.
_AREAS = {
    "land": (HexColor("#f6f3ea"), HexColor("#8d8a7e"), 0.8),
    "water": (HexColor("#dbe7ee"), HexColor("#7d97a6"), 0.5),
}
_LINES = {"river": (HexColor("#5b86a3"), 1.0), "road": (HexColor("#a0714a"), 1.1)}
_WORDS = {"river": "streams blue", "road": "roads brown"}
_SMALL = 6.0
#: Where a point of the grid stands on the page; and left, bottom, right and top of a box there.
Point = Callable[[float, float], tuple[float, float]]
Box = tuple[float, float, float, float]


def draw_map(
    canvas: Canvas,
    around: Vicinity,
    left: float,
    bottom: float,
    size: float,
    grid_name: str,
    squares: Callable[[Point, float], list[Box]],
) -> None:
    """Draw a map into a box of so many points; figures of the grid stand outside it, to the left and below.

    Parameters
    ----------
    canvas, around
        The page, and what the map shows.
    left, bottom, size
        The box, points.
    grid_name
        What the grid is called.
    squares
        Draws the squares, given where a point of the grid stands on the page and the points to a metre, and returns
        the boxes that names of places should leave free.
    """
    scale = size / around.size

    def point(east: float, north: float) -> tuple[float, float]:
        return left + (east - around.west) * scale, bottom + (north - around.south) * scale

    canvas.saveState()
    window = canvas.beginPath()
    window.rect(left, bottom, size, size)
    canvas.clipPath(window, stroke=0, fill=0)
    canvas.setFillColor(_SEA if around.has_land else _PAPER)
    canvas.rect(left, bottom, size, size, stroke=0, fill=1)
    for kind, shape in around.shapes:
        _shape(canvas, kind, shape, point)
    _grid(canvas, around, point, left, bottom, size)
    taken = squares(point, scale)
    _places(canvas, around, point, (left, bottom, left + size, bottom + size), taken)
    canvas.restoreState()
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.6)
    canvas.rect(left, bottom, size, size)
    _figures(canvas, around, point, left, bottom)
    _foot(canvas, grid_name, around, left, bottom, size)


def draw_square_map(
    canvas: Canvas, sheet: FieldSheet, around: Vicinity, left: float, bottom: float, size: float
) -> None:
    """Draw the map of one visit's square."""

    def outline(point: Point, scale: float) -> list[Box]:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.8)
        corner = point(sheet.corners[0].easting, sheet.corners[0].northing)
        canvas.rect(*corner, sheet.side * scale, sheet.side * scale)
        return []

    draw_map(canvas, around, left, bottom, size, sheet.system.title, outline)


def _shape(canvas: Canvas, kind: str, shape: shapely.Geometry, point: Point) -> None:
    path = canvas.beginPath()
    if isinstance(shape, shapely.Polygon) and kind in _AREAS:
        fill, line, width = _AREAS[kind]
        for ring in (shape.exterior, *shape.interiors):
            trace(path, shape_points(ring, point), close=True)
        canvas.setFillColor(fill)
        canvas.setStrokeColor(line)
        canvas.setLineWidth(width)
        canvas.drawPath(path, stroke=1, fill=1, fillMode=0)
    elif isinstance(shape, shapely.LineString):
        colour, width = _LINES.get(kind, (SOFT, 0.6))
        trace(path, shape_points(shape, point), close=False)
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(width)
        canvas.drawPath(path, stroke=1, fill=0)


def shape_points(shape: shapely.Geometry, point: Point) -> list[tuple[float, float]]:
    """Corners of a line or ring where they stand on the page."""
    return [point(float(east), float(north)) for east, north in shapely.get_coordinates(shape)]


def trace(path: object, points: Sequence[tuple[float, float]], *, close: bool) -> None:
    """Draw a path through points."""
    path.moveTo(*points[0])  # type: ignore[attr-defined]
    for place in points[1:]:
        path.lineTo(*place)  # type: ignore[attr-defined]
    if close:
        path.close()  # type: ignore[attr-defined]


def _grid(canvas: Canvas, around: Vicinity, point: Point, left: float, bottom: float, size: float) -> None:
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.3)
    for east in line_places(around.west, around.size, around.step):
        across = point(east, around.south)[0]
        canvas.line(across, bottom, across, bottom + size)
    for north in line_places(around.south, around.size, around.step):
        up = point(around.west, north)[1]
        canvas.line(left, up, left + size, up)


def _figures(canvas: Canvas, around: Vicinity, point: Point, left: float, bottom: float) -> None:
    canvas.setFillColor(SOFT)
    canvas.setFont(PLAIN, _SMALL)
    for east in line_places(around.west, around.size, around.step):
        canvas.drawCentredString(point(east, around.south)[0], bottom - _SMALL - 1.5, line_label(east, around.step))
    for north in line_places(around.south, around.size, around.step):
        label = line_label(north, around.step)
        canvas.drawRightString(left - 2.5, point(around.west, north)[1] - _SMALL * 0.35, label)


def _places(canvas: Canvas, around: Vicinity, point: Point, window: Box, taken: Sequence[Box]) -> None:
    """Names of places, each beside its dot where there is room; a name without room is left out, its dot stays."""
    full = list(taken)
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, _SMALL)
    for east, north, name in around.names:
        across, up = point(east, north)
        canvas.circle(across, up, 1.4, stroke=0, fill=1)
        width = width_of(name, BOLD, _SMALL)
        for start, foot in (
            (across + 3, up - 2), (across - 3 - width, up - 2), (across - width / 2, up + 3),
            (across - width / 2, up - _SMALL - 2),
        ):  # fmt: skip
            box = (start, foot - 1, start + width, foot + _SMALL)
            inside = box[0] > window[0] and box[1] > window[1] and box[2] < window[2] and box[3] < window[3]
            if inside and not any(_touch(box, other) for other in full):
                canvas.drawString(start, foot, name)
                full.append(box)
                break


def _touch(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _foot(canvas: Canvas, grid_name: str, around: Vicinity, left: float, bottom: float, size: float) -> None:
    """Which way is north, and what the lines are."""
    kinds = {kind for kind, _ in around.shapes}
    shown = [word for kind, word in _WORDS.items() if kind in kinds]
    words = f"North is up. Lines every {step_in_words(around.step)}, {grid_name}."
    y = bottom - 2 * _SMALL - 4.5
    for line in wrapped(
        " ".join([words, *([f"{', '.join(shown).capitalize()}."] if shown else [])]), PLAIN, _SMALL, size
    ):
        canvas.setFillColor(SOFT)
        canvas.setFont(PLAIN, _SMALL)
        canvas.drawString(left, y, line)
        y -= _SMALL * 1.2
