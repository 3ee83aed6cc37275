"""The whole season on paper: where everybody goes on one map, and every visit in date order."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from gapmap.coverage.reasons import some
from gapmap.outputs.field.letters import BOLD, PLAIN, load_typeface, printable, width_of, wrapped
from gapmap.outputs.field.paper_map import INK, SOFT, Box, Point, draw_map, shape_points, trace
from gapmap.outputs.field.vicinity import map_of_all, outlines_of_all
from gapmap.outputs.page.contents import Background
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import FieldSheet

_LEFT, _RIGHT, _TOP, _FOOT = 36.0, float(A4[0]) - 32.0, float(A4[1]) - 44.0, 34.0
_WIDTH = _RIGHT - _LEFT
_TEXT, _LEAD = 6.8, 8.4
#: Quarters of the year with their colours, pale enough for figures on top; the legend names them too.
_QUARTERS = (
    ("January to March", HexColor("#c9d7e8")), ("April to June", HexColor("#cfe3b4")),
    ("July to September", HexColor("#f3dd92")), ("October to December", HexColor("#e3b79a")),
)  # fmt: skip
_MIXED = ("in several of these", HexColor("#ffffff"))
#: Heading and width of the columns in points.
_COLUMNS = (("Visit", 28.0), ("When", 140.0), ("Square", 54.0), ("Who", 122.0), ("Look for first", _WIDTH - 344.0))
_FIRST_TARGETS = 2


def write_season_pdf(sheets: Sequence[FieldSheet], background: Sequence[Background], path: Path) -> None:
    """Write the season as one map and a list, A4.

    Parameters
    ----------
    sheets
        Every visit of the plan, in date order.
    background
        Layers that say their coordinate reference system.
    path
        The ``.pdf`` to write. Equal sheets give equal files.
    """
    load_typeface()
    with whole_file(path) as draft:
        canvas = Canvas(str(draft), pagesize=A4, invariant=1, pageCompression=1, lang="en-GB")
        canvas.setTitle(printable(f"The season, {sheets[0].area}" if sheets else "The season"))
        canvas.setAuthor("")
        canvas.setCreator("gapmap")
        y = _head(canvas, sheets)
        if sheets:
            y = _map(canvas, sheets, background, y)
        _list(canvas, sheets, y)
        canvas.showPage()
        canvas.save()


def _head(canvas: Canvas, sheets: Sequence[FieldSheet]) -> float:
    people = {person for sheet in sheets for person in sheet.people}
    area = f", {sheets[0].area}" if sheets else ""
    _write(canvas, _LEFT, _TOP, f"The season{area}", BOLD, 16)
    y = _TOP - 16
    squares = some(len({sheet.square for sheet in sheets}), "square")
    told = [f"{some(len(sheets), 'visit')} by {some(len(people), 'person', 'people')} to {squares}."]
    told += [sheets[0].notice] if sheets and sheets[0].notice else []
    told.append("Outlines of squares are no right of way; gains are expectations. Follow the reminder on each sheet.")
    for text in told:
        for line in wrapped(text, PLAIN, 8, _WIDTH):
            _write(canvas, _LEFT, y, line, PLAIN, 8)
            y -= 10.5
    return y


def _map(canvas: Canvas, sheets: Sequence[FieldSheet], background: Sequence[Background], top: float) -> float:
    """The map with each square's visits; returns where it ends."""
    plane, outlines = outlines_of_all(sheets)
    around = map_of_all(list(outlines.values()), plane, max(sheet.side for sheet in sheets), background)
    at: dict[int, list[FieldSheet]] = {}
    for sheet in sheets:
        at.setdefault(sheet.square, []).append(sheet)

    def squares(point: Point, _: float) -> list[Box]:
        return [_square(canvas, visits, shape_points(outlines[square], point)) for square, visits in at.items()]

    size = _WIDTH - 4
    draw_map(canvas, around, _LEFT, top - size, size, plane.title, squares)
    y, x = top - size - 31, _LEFT
    for word, colour in (*_QUARTERS, _MIXED):
        canvas.setFillColor(colour)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.5)
        canvas.rect(x, y - 1.5, 9, 9, stroke=1, fill=1)
        _write(canvas, x + 12, y, word, PLAIN, _TEXT)
        x += width_of(word, PLAIN, _TEXT) + 24
    return y - 18


def _square(canvas: Canvas, visits: Sequence[FieldSheet], corners: Sequence[tuple[float, float]]) -> Box:
    """A square in the colour of its quarter, with the numbers of its visits where they fit; returns its box."""
    left, right = (edge(across for across, _ in corners) for edge in (min, max))
    bottom, top = (edge(up for _, up in corners) for edge in (min, max))
    side = min(right - left, top - bottom)
    quarters = {(visit.month - 1) // 3 for visit in visits}
    canvas.setFillColor(_QUARTERS[quarters.pop()][1] if len(quarters) == 1 else _MIXED[1])
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    outline = canvas.beginPath()
    trace(outline, corners, close=True)
    canvas.drawPath(outline, stroke=1, fill=1)
    text = ", ".join(str(visit.visit_id) for visit in visits)
    size = min(7.0, 7.0 * (side - 2) / width_of(text, PLAIN, 7.0), 0.8 * side)
    if size >= 3.5:
        canvas.setFillColor(INK)
        canvas.setFont(PLAIN, size)
        canvas.drawCentredString((left + right) / 2, (bottom + top) / 2 - size * 0.36, text)
    return left, bottom, right, top


def _list(canvas: Canvas, sheets: Sequence[FieldSheet], top: float) -> None:
    y = _heads(canvas, top)
    for sheet in sheets:
        cells = [
            wrapped(text, PLAIN, _TEXT, width - 5) for text, (_, width) in zip(_cells(sheet), _COLUMNS, strict=True)
        ]
        height = max(len(lines) for lines in cells) * _LEAD + 3
        if y - height < _FOOT:
            canvas.showPage()
            y = _heads(canvas, _TOP)
        start = _LEFT
        for lines, (_, width) in zip(cells, _COLUMNS, strict=True):
            for number, line in enumerate(lines):
                _write(canvas, start, y - _TEXT - 1 - number * _LEAD, line, PLAIN, _TEXT)
            start += width
        y -= height
        canvas.setStrokeColor(SOFT)
        canvas.setLineWidth(0.2)
        canvas.line(_LEFT, y, _RIGHT, y)


def _heads(canvas: Canvas, y: float) -> float:
    start = _LEFT
    for heading, width in _COLUMNS:
        _write(canvas, start, y, heading, BOLD, _TEXT)
        start += width
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    canvas.line(_LEFT, y - 3, _RIGHT, y - 3)
    return y - 3


def _cells(sheet: FieldSheet) -> tuple[str, ...]:
    first = ", ".join(target.name for target in sheet.targets[:_FIRST_TARGETS])
    return str(sheet.visit_id), sheet.when, sheet.reference, " and ".join(sheet.people), first


def _write(canvas: Canvas, x: float, y: float, text: str, face: str, size: float) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(face, size)
    canvas.drawString(x, y, text)
