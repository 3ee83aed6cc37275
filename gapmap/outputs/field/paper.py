"""A field sheet for paper: one side of A4 as PDF with real text, and a second only where one cannot hold it all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from gapmap.outputs.field.letters import BOLD, ITALIC, PLAIN, load_typeface, printable, width_of, wrapped
from gapmap.outputs.field.paper_map import INK, SOFT, draw_square_map
from gapmap.outputs.field.vicinity import Vicinity
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import (
    NOTHING_EXPECTED,
    RETURN_HEAD,
    TALLY_COLUMNS,
    TALLY_HEAD,
    FieldSheet,
    Target,
    degrees,
)

_PALE, _ALERT = HexColor("#efece2"), HexColor("#7a2a0c")
_LEFT, _RIGHT, _TOP, _FOOT = 32.0, A4[0] - 32.0, A4[1] - 34.0, 26.0
_WIDTH = _RIGHT - _LEFT
_TEXT, _HEAD = 6.6, 7.4
_LEAD = 1.22
_MAP = 178.0
#: Columns of the targets: heading and width in points; the tick box stands before them.
_TICK = 13.0
_COLUMNS = (
    ("Look for", 118.0), ("Here", 60.0), ("Chance*", 36.0), ("When", 62.0), ("Where", 70.0), ("How", 52.0),
    ("To be certain", _WIDTH - _TICK - 398.0),
)  # fmt: skip
_NOTE = "* that this visit finds it: an expectation, not a promise. List everything you find, not the targets only."
#: Letters of a cell that are printed at most, so that a target always fits on a side.
_MOST_LETTERS = 250
#: Columns of the tally as shares of the width, in the order of TALLY_COLUMNS, and its rows.
_TALLY_SHARES = (0.25, 0.085, 0.105, 0.15, 0.13, 0.115, 0.105, 0.06)
_ROW, _FEWEST_ROWS = 17.0, 5
#: What is filled in once, as shares of the width in the order of TALLY_HEAD.
_HEAD_SHARES = (0.17, 0.12, 0.12, 0.26, 0.33)
_RETURN_SHARES = (0.62, 0.38)


def write_sheets_pdf(sheets: Sequence[FieldSheet], maps: Mapping[int, Vicinity], path: Path) -> None:
    """Write visits as one side of A4 each.

    Parameters
    ----------
    sheets
        What they say.
    maps
        Packed square → what its map shows.
    path
        The ``.pdf`` to write. Equal sheets give equal files.
    """
    load_typeface()
    with whole_file(path) as draft:
        canvas = Canvas(str(draft), pagesize=A4, invariant=1, pageCompression=1, lang="en-GB")
        canvas.setTitle(printable(f"Field sheets, {sheets[0].area}" if sheets else "Field sheets"))
        canvas.setAuthor("")
        canvas.setCreator("gapmap")
        for sheet in sheets:
            _draw(canvas, sheet, maps[sheet.square])
        canvas.save()


def _draw(canvas: Canvas, sheet: FieldSheet, around: Vicinity) -> None:
    """One visit: everything on one side, the tally and what is left of the targets overleaf where it must be."""
    name = f"visit-{sheet.visit_id}"
    canvas.bookmarkPage(name)
    canvas.addOutlineEntry(printable(f"{sheet.reference}, {sheet.when}"), name)
    top = _head(canvas, sheet, _TOP)
    below_map = top - _MAP - 29
    draw_square_map(canvas, sheet, around, _LEFT + 12, top - _MAP, _MAP)
    below_facts = _facts(canvas, sheet, _LEFT + _MAP + 28, top - 6)
    floor = _safety(canvas, sheet) + 8
    y, rest = _targets(canvas, sheet.targets, min(below_map, below_facts) - 8, floor)
    if rest or y - floor < _height_of_tally(_FEWEST_ROWS):
        canvas.showPage()
        y, floor = _head_overleaf(canvas, sheet), _FOOT
        while rest:
            y, rest = _targets(canvas, rest, y, floor + _height_of_tally(_FEWEST_ROWS))
            if rest:
                canvas.showPage()
                y = _head_overleaf(canvas, sheet)
    _tally(canvas, y, floor)
    canvas.showPage()


def _head(canvas: Canvas, sheet: FieldSheet, top: float) -> float:
    """Where and when, who, and the notice; returns where the rest may begin."""
    reference = printable(sheet.reference)
    _write(canvas, _LEFT, top - 10, reference, BOLD, 20)
    start = _LEFT + width_of(reference, BOLD, 20) + 14
    y = _block(canvas, start, top - 10, sheet.when, BOLD, 12, _RIGHT - start) - 2
    y = _block(canvas, _LEFT, y, f"{' and '.join(sheet.people)}  ·  {sheet.area}", PLAIN, 9, _WIDTH)
    canvas.setFillColor(_ALERT)
    y = _block(canvas, _LEFT, y, sheet.notice, BOLD, 7.5, _WIDTH, ink=False)
    return y - 2


def _head_overleaf(canvas: Canvas, sheet: FieldSheet) -> float:
    y = _block(canvas, _LEFT, _TOP - 8, f"{sheet.reference}, {sheet.when} (overleaf)", BOLD, 11, _WIDTH)
    return y - 4


def _facts(canvas: Canvas, sheet: FieldSheet, left: float, y: float) -> float:
    """Corners, ground, latest lists and remarks beside the map; returns where they end."""
    width = _RIGHT - left
    y = _corners(canvas, sheet, left, y) - 5
    if sheet.ground:
        y = _block(canvas, left, y, "Ground", BOLD, _HEAD, width)
        y = _block(canvas, left, y, sheet.ground, PLAIN, _TEXT, width) - 5
    y = _block(canvas, left, y, "Latest lists from here", BOLD, _HEAD, width)
    for visit in sheet.last_visits:
        y = _block(canvas, left, y, ", ".join(part for part in visit if part), PLAIN, _TEXT, width)
    if not sheet.last_visits:
        y = _block(canvas, left, y, "None is known. No record is not absence.", PLAIN, _TEXT, width)
    y -= 5
    for remark in sheet.remarks:
        y = _block(canvas, left, y, remark, BOLD, _HEAD, width)
    return y


def _corners(canvas: Canvas, sheet: FieldSheet, left: float, y: float) -> float:
    """Corners and middle in the grid and in degrees, in columns as wide as their words."""
    rows = [("Corner", "Reference", "Easting, northing (m)", "Latitude, longitude (WGS 84)")]
    rows += [
        (c.name, c.reference, f"{c.easting}, {c.northing}", degrees(c.latitude, c.longitude)) for c in sheet.corners
    ]
    rows.append(("middle", "", "", degrees(*sheet.middle)))
    faces = [BOLD, *[PLAIN] * (len(rows) - 1)]
    starts = [left]
    for column in range(3):
        widest = max(width_of(row[column], face, _TEXT) for row, face in zip(rows, faces, strict=True))
        starts.append(starts[-1] + widest + 9)
    for row, face in zip(rows, faces, strict=True):
        for start, text in zip(starts, row, strict=True):
            _write(canvas, start, y, text, face, _TEXT)
        y -= _TEXT * _LEAD + 1.5
    return y


def _targets(canvas: Canvas, targets: Sequence[Target], top: float, floor: float) -> tuple[float, tuple[Target, ...]]:
    """The table of targets; returns where it ends, and the targets that found no room above the floor."""
    if not targets:
        return _block(canvas, _LEFT, top, NOTHING_EXPECTED, PLAIN, _HEAD, _WIDTH) - 6, ()
    y, columns = top, _filled(targets)
    for number, target in enumerate(targets):
        cells = _cells(target, columns)
        height = max(len(lines) for lines in cells) * _TEXT * _LEAD + 4
        if y - height - 16 < floor:
            return y, tuple(targets[number:])
        if number == 0:
            y = _target_heads(canvas, top, columns)
        _target(canvas, cells, y, columns)
        y -= height
        _rule(canvas, y, 0.25)
    _block(canvas, _LEFT, y - 8, _NOTE, PLAIN, 6, _WIDTH)
    return y - 14, ()


def _filled(targets: Sequence[Target]) -> dict[int, float]:
    """The columns that say anything of a target, by number, and their widths: the others leave them their room."""
    texts = [_texts(target) for target in targets]
    said = [number for number in range(len(_COLUMNS)) if any(text for row in texts for text, _ in row[number])]
    spare = sum(width for number, (_, width) in enumerate(_COLUMNS) if number not in said) / max(len(said), 1)
    return {number: _COLUMNS[number][1] + spare for number in said}


def _target_heads(canvas: Canvas, top: float, columns: Mapping[int, float]) -> float:
    start = _LEFT + _TICK
    for number, width in columns.items():
        heading = _COLUMNS[number][0]
        _write(canvas, start, top, heading, BOLD, _TEXT)
        start += width
    _rule(canvas, top - 3.5, 0.8)
    return top - 3.5


def _target(
    canvas: Canvas, cells: Sequence[Sequence[tuple[str, str]]], top: float, columns: Mapping[int, float]
) -> None:
    canvas.setLineWidth(0.7)
    canvas.setStrokeColor(INK)
    canvas.rect(_LEFT + 1, top - 10, 7.5, 7.5)
    start = _LEFT + _TICK
    for lines, width in zip(cells, columns.values(), strict=True):
        y = top - _TEXT - 1.5
        for text, face in lines:
            _write(canvas, start, y, text, face, _TEXT)
            y -= _TEXT * _LEAD
        start += width


def _texts(target: Target) -> list[tuple[tuple[str, str], ...]]:
    """Texts of each column with their face: the name over the everyday name, the rest as it is."""
    rest = (target.status, target.chance, target.when, target.where, target.how, target.certainty)
    return [((target.name, ITALIC), (target.vernacular, PLAIN)), *(((text, PLAIN),) for text in rest)]


def _cells(target: Target, columns: Mapping[int, float]) -> list[list[tuple[str, str]]]:
    """Lines of each of the columns with their face."""
    texts = _texts(target)
    return [
        [(line, face) for text, face in texts[number] for line in wrapped(text[:_MOST_LETTERS], face, _TEXT, width - 5)]
        for number, width in columns.items()
    ]


def _height_of_tally(rows: int) -> float:
    return 36 + rows * _ROW


def _tally(canvas: Canvas, top: float, floor: float) -> None:
    """A blank form down to the floor."""
    y = top - 10
    _blanks(canvas, _LEFT, y, TALLY_HEAD, _HEAD_SHARES, _WIDTH)
    y -= 14
    edges = [_LEFT]
    for heading, share in zip(TALLY_COLUMNS, _TALLY_SHARES, strict=True):
        _write(canvas, edges[-1] + 2, y, heading, BOLD, 6.2)
        edges.append(edges[-1] + share * _WIDTH)
    y -= 4
    rows = max(int((y - floor) / _ROW), 1)
    for row in range(rows + 1):
        _rule(canvas, y - row * _ROW, 0.4)
    for edge in edges:
        canvas.line(edge, y, edge, y - rows * _ROW)


def _blanks(
    canvas: Canvas, start: float, y: float, words: Sequence[str], shares: Sequence[float], width: float
) -> None:
    """Words with room to write after each."""
    for word, share in zip(words, shares, strict=True):
        _write(canvas, start, y, word, PLAIN, _TEXT)
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(SOFT)
        canvas.line(start + width_of(word, PLAIN, _TEXT) + 3, y - 1.5, start + share * width - 6, y - 1.5)
        start += share * width


def _safety(canvas: Canvas, sheet: FieldSheet) -> float:
    """The reminder at the foot, in two columns; returns where it begins."""
    size, column = 6.3, _WIDTH / 2 - 12
    points = [wrapped(sentence, PLAIN, size, column - 8) for sentence in sheet.safety]
    half = _even_half([len(lines) for lines in points])
    columns = points[:half], points[half:]
    lines_high = max((sum(len(lines) for lines in part) for part in columns), default=0)
    height = lines_high * size * _LEAD + max(half, len(points) - half) * 1.2 + 22
    canvas.setFillColor(_PALE)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.7)
    canvas.rect(_LEFT, _FOOT, _WIDTH, height, stroke=1, fill=1)
    _write(canvas, _LEFT + 8, _FOOT + height - 12, sheet.safety_title, BOLD, 8)
    _blanks(canvas, _LEFT + 20 + column, _FOOT + height - 12, RETURN_HEAD, _RETURN_SHARES, column - 12)
    for number, part in enumerate(columns):
        left, y = _LEFT + 8 + number * (column + 8), _FOOT + height - 23
        for lines in part:
            _write(canvas, left, y, "•", PLAIN, size)
            for line in lines:
                _write(canvas, left + 8, y, line, PLAIN, size)
                y -= size * _LEAD
            y -= 1.2
    return _FOOT + height


def _even_half(lengths: Sequence[int]) -> int:
    """How many to put into the first of two columns, so that they are of much the same length.

    Examples
    --------
    >>> _even_half([2, 1, 1, 2]), _even_half([])
    (2, 0)
    """
    total, best = sum(lengths), 0
    for number in range(len(lengths) + 1):
        if abs(2 * sum(lengths[:number]) - total) < abs(2 * sum(lengths[:best]) - total):
            best = number
    return best


def _block(
    canvas: Canvas, x: float, y: float, text: str, face: str, size: float, width: float, *, ink: bool = True
) -> float:
    """Text in lines of a width, the first at y; returns where the next line would stand."""
    for line in wrapped(text, face, size, width):
        _write(canvas, x, y, line, face, size, ink=ink)
        y -= size * _LEAD + 1.2
    return y


def _write(canvas: Canvas, x: float, y: float, text: str, face: str, size: float, *, ink: bool = True) -> None:
    if ink:
        canvas.setFillColor(INK)
    canvas.setFont(face, size)
    canvas.drawString(x, y, text)


def _rule(canvas: Canvas, y: float, width: float) -> None:
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(width)
    canvas.line(_LEFT, y, _RIGHT, y)
