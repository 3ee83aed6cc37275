"""A field sheet for paper: one side of A4 as PDF with real text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as MplPath

from gapmap.outputs.page.contents import Background
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import TALLY_COLUMNS, FieldSheet, Target

A4 = (8.27, 11.69)
PALE, INK, SOFT, ALERT = "#e4e1d8", "#17202a", "#4a5560", "#7a2a0c"
#: Type 3 fonts: many sheets are written, and whole fonts would take longer than all the rest.
SHEET_STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "pdf.fonttype": 3,
    "axes.edgecolor": SOFT,
    "text.parse_math": False,
}
_LEFT, _RIGHT = 0.06, 0.94
_LINE = 0.0098
_LOOKS: dict[str, dict[str, Any]] = {
    "land": {"facecolor": "#f6f3ea", "edgecolor": "#8d8a7e", "linewidth": 0.8},
    "water": {"facecolor": "#dbe7ee", "edgecolor": "#7d97a6", "linewidth": 0.5},
    "river": {"color": "#5b86a3", "linewidth": 0.9},
    "road": {"color": "#a58a72", "linewidth": 1.0},
}
#: Column of the target table: heading, where it begins (share of the page), letters that fit.
_COLUMNS = (
    ("", 0.0, 2), ("Look for", 0.022, 30), ("Here", 0.24, 16), ("Chance*", 0.345, 9), ("When", 0.405, 15),
    ("Where", 0.52, 20), ("How", 0.645, 16), ("To be certain", 0.75, 40),
)  # fmt: skip
_TALLY_SHARES = (0.0, 0.28, 0.47, 0.62, 0.84)


def write_sheets_pdf(sheets: Sequence[FieldSheet], background: Sequence[Background], path: Path) -> None:
    """Write visits as one side of A4 each.

    Parameters
    ----------
    sheets
        What they say, a page each.
    background
        Layers in the plane of the sheets' grid system, drawn around each square.
    path
        The ``.pdf`` to write. Equal sheets give equal files.
    """
    with (
        mpl.rc_context(SHEET_STYLE),
        whole_file(path) as draft,
        PdfPages(draft, metadata={"CreationDate": None, "ModDate": None}) as book,
    ):
        for sheet in sheets:
            book.savefig(draw_sheet(sheet, background))


def draw_sheet(sheet: FieldSheet, background: Sequence[Background]) -> Figure:
    """One visit on one page."""
    figure = Figure(figsize=A4)
    FigureCanvasAgg(figure)
    _head(figure, sheet)
    _map(figure, sheet, background)
    _facts(figure, sheet)
    bottom = _targets(figure, sheet, 0.655)
    top_of_safety = _safety(figure, sheet)
    _tally(figure, bottom - 0.018, top_of_safety + 0.012)
    return figure


def _head(figure: Figure, sheet: FieldSheet) -> None:
    figure.text(_LEFT, 0.958, f"{sheet.reference}   {sheet.when}", fontsize=14, weight="bold", color=INK)
    figure.text(_LEFT, 0.941, _cut(f"{' and '.join(sheet.people)}   ·   {sheet.area}", 105), fontsize=9)
    if sheet.notice:
        figure.text(_LEFT, 0.927, _cut(sheet.notice, 120), fontsize=7.5, weight="bold", color=ALERT)


def _map(figure: Figure, sheet: FieldSheet, background: Sequence[Background]) -> None:
    axes = figure.add_axes((_LEFT + 0.012, 0.69, 0.305, 0.2157))
    west, south, side = sheet.corners[0].easting, sheet.corners[0].northing, sheet.side
    margin = side * 0.3
    window = (west - margin, south - margin, west + side + margin, south + side + margin)
    box = shapely.box(*window)
    for layer in background:
        if layer.kind == "place":
            _names(axes, layer, window)
        else:
            _shapes(axes, layer, box)
    axes.add_patch(Rectangle((west, south), side, side, facecolor="none", edgecolor=INK, linewidth=1.8, zorder=5))
    axes.set_xlim(window[0], window[2])
    axes.set_ylim(window[1], window[3])
    axes.set_aspect("equal")
    step = 1000 if side <= 5000 else side // 5
    for set_ticks, low, high in ((axes.set_xticks, window[0], window[2]), (axes.set_yticks, window[1], window[3])):
        set_ticks(np.arange(np.ceil(low / step) * step, high + 1, step))
    axes.xaxis.set_major_formatter(lambda value, _: f"{int(value) // 1000 % 100:02d}")
    axes.yaxis.set_major_formatter(lambda value, _: f"{int(value) // 1000 % 100:02d}")
    axes.grid(color=SOFT, linewidth=0.3, alpha=0.6, zorder=4)
    axes.tick_params(labelsize=6, length=2, colors=SOFT, pad=1)
    axes.set_title(
        f"north is up; lines every {step / 1000:g} km of the {sheet.system.title}", fontsize=6, color=SOFT, pad=3
    )


def _shapes(axes: Axes, layer: Background, window: shapely.Polygon) -> None:
    near = layer.shapes.geometry.to_numpy()
    near = near[shapely.intersects(near, window)]
    looks, zorder = _LOOKS[layer.kind], 1 if layer.kind in ("land", "water") else 3
    for shape in shapely.get_parts(shapely.intersection(near, window)):
        if isinstance(shape, shapely.Polygon):
            axes.add_patch(PathPatch(_outline(shape), zorder=zorder, **looks))
        elif isinstance(shape, shapely.LineString):
            across, up = shapely.get_coordinates(shape).T
            colour = looks.get("color", looks.get("edgecolor"))
            axes.plot(across, up, color=colour, linewidth=looks["linewidth"], zorder=3)


def _outline(shape: shapely.Polygon) -> MplPath:
    """A polygon with its holes as one path."""
    rings = [shapely.get_coordinates(ring) for ring in (shape.exterior, *shape.interiors)]
    codes = [[MplPath.MOVETO, *[MplPath.LINETO] * (len(ring) - 2), MplPath.CLOSEPOLY] for ring in rings]
    return MplPath(np.concatenate(rings), np.concatenate(codes))


def _names(axes: Axes, layer: Background, window: tuple[float, float, float, float]) -> None:
    shapes = layer.shapes.cx[window[0] : window[2], window[1] : window[3]]
    if "name" in shapes:
        for point, name in zip(shapes.geometry.representative_point(), shapes["name"], strict=True):
            axes.plot(point.x, point.y, "o", color=INK, markersize=2, zorder=6)
            axes.annotate(str(name), (point.x, point.y), (3, 2), textcoords="offset points", fontsize=6)


def _facts(figure: Figure, sheet: FieldSheet) -> None:
    left, y = 0.42, 0.899
    y = _line(figure, left, y, "Corners", bold=True)
    for corner in sheet.corners:
        place = f"{corner.name:<11} {corner.reference}   E {corner.easting}  N {corner.northing}"
        y = _line(figure, left, y, f"{place}   {degrees(corner.latitude, corner.longitude)}")
    y = _line(figure, left, y, f"middle   {degrees(*sheet.middle)}  (WGS 84)")
    y -= 0.006
    if sheet.ground:
        y = _line(figure, left, y, "Ground", bold=True)
        y = _line(figure, left, y, sheet.ground)
        y -= 0.006
    y = _line(figure, left, y, "Latest lists from here", bold=True)
    for period, time, species in sheet.last_visits:
        y = _line(figure, left, y, ", ".join(part for part in (period, time, species) if part))
    if not sheet.last_visits:
        y = _line(figure, left, y, "none is known; no record is not absence")
    y -= 0.006
    for remark in sheet.remarks:
        for piece in textwrap.wrap(remark, 80):
            y = _line(figure, left, y, piece, bold=True)


def _line(figure: Figure, x: float, y: float, text: str, *, bold: bool = False) -> float:
    figure.text(x, y, _cut(text, 104), fontsize=6.8, weight="bold" if bold else "normal", color=INK)
    return y - 0.0125


def _targets(figure: Figure, sheet: FieldSheet, top: float) -> float:
    """The table of targets; returns where it ends."""
    for heading, start, _ in _COLUMNS:
        figure.text(_at(start), top, heading, fontsize=6.8, weight="bold", color=INK)
    _rule(figure, top - 0.004, 0.8)
    y = top - 0.0155
    for target in sheet.targets:
        cells = [_fitted(text, letters) for text, (_, _, letters) in zip(_cells(target), _COLUMNS, strict=True)]
        for number, (lines, (_, start, _)) in enumerate(zip(cells, _COLUMNS, strict=True)):
            style = "italic" if number == 1 else "normal"
            if lines:
                figure.text(
                    _at(start), y + 0.0075, "\n".join(lines), fontsize=6.3, va="top", color=INK, style=style,
                    linespacing=1.1,
                )  # fmt: skip
        figure.add_artist(
            Rectangle((_LEFT + 0.002, y - 0.001), 0.0115, 0.0081, facecolor="none", edgecolor=INK, linewidth=0.6)
        )
        y -= _LINE * max(1, *(len(lines) for lines in cells)) + 0.0035
        _rule(figure, y + 0.0098, 0.2)
    if not sheet.targets:
        figure.text(_LEFT, y, "No species in particular is expected here: list everything you find.", fontsize=7)
        y -= 0.014
    note = "* that this visit finds it; an expectation, not a promise. List everything you find, not the targets only."
    figure.text(_LEFT, y, note, fontsize=6, color=SOFT)
    return y


def _cells(target: Target) -> tuple[str, ...]:
    name = f"{target.name} ({target.vernacular})" if target.vernacular else target.name
    return "", name, target.status, target.chance, target.when, target.where, target.how, target.certainty


def _tally(figure: Figure, top: float, bottom: float) -> None:
    line = "Date ____________   from ______ to ______   Weather __________________   Recorders ________________________"
    figure.text(_LEFT, top, line, fontsize=7, color=INK)
    top -= 0.014
    for heading, share in zip(TALLY_COLUMNS, _TALLY_SHARES, strict=True):
        figure.text(_at(share) + 0.003, top, heading, fontsize=6.8, weight="bold", color=INK)
    top -= 0.004
    rows = max(int((top - bottom) / 0.0185), 1)
    end = top - rows * 0.0185
    for row in range(rows + 1):
        _rule(figure, top - row * 0.0185, 0.4)
    for share in (*_TALLY_SHARES, 1.0):
        figure.add_artist(Line2D((_at(share), _at(share)), (end, top), color=SOFT, linewidth=0.4))


def _safety(figure: Figure, sheet: FieldSheet) -> float:
    """The reminder at the foot; returns where it begins."""
    pieces = textwrap.wrap(" ".join(sheet.safety), 148)
    height = 0.0099 * len(pieces) + 0.026
    figure.add_artist(
        Rectangle((_LEFT, 0.03), _RIGHT - _LEFT, height, facecolor=PALE, edgecolor=INK, linewidth=0.6, zorder=0)
    )
    figure.text(_LEFT + 0.008, 0.03 + height - 0.014, sheet.safety_title, fontsize=7.5, weight="bold", color=INK)
    figure.text(
        _LEFT + 0.008, 0.03 + height - 0.019, "\n".join(pieces), fontsize=6.2, va="top", color=INK,
        linespacing=1.2,
    )  # fmt: skip
    return 0.03 + height


def degrees(latitude: float, longitude: float) -> str:
    """A place in degrees as a telephone takes it.

    Examples
    --------
    >>> degrees(56.123456, -1.5)
    '56.12346, -1.50000'
    """
    return f"{latitude:.5f}, {longitude:.5f}"


def _fitted(text: str, letters: int) -> list[str]:
    return textwrap.wrap(text, letters, max_lines=2, placeholder=" …")


def _cut(text: str, letters: int) -> str:
    return text if len(text) <= letters else text[: letters - 1] + "…"


def _at(share: float) -> float:
    return _LEFT + share * (_RIGHT - _LEFT)


def _rule(figure: Figure, y: float, width: float) -> None:
    figure.add_artist(Line2D((_LEFT, _RIGHT), (y, y), color=SOFT, linewidth=width))
