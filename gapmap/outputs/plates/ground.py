"""A map on a sheet: what lies behind the squares, the squares, the grid with its letters, scale and north."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline

from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.gather import hundreds_under
from gapmap.outputs.page.shapes import Placed, bounds_of, place_squares
from gapmap.outputs.plates.sheet import INK, LANDSCAPE, PAPER, SOFT, UPRIGHT, Paper, Shade, draw_legend

_AREAS = {"land": ("#f6f3ea", "#8d8a7e", 0.6), "water": ("#dbe7ee", "#7d97a6", 0.4)}
_LINES = {"river": ("#5b86a3", 0.6), "road": ("#a58a72", 0.5)}
_STEPS = (100, 500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000, 200_000, 500_000)
#: A map this much wider than high lies across the sheet.
_WIDE = 1.15


@dataclass(frozen=True)
class Ground:
    """What every map of one page shares, made ready once.

    Parameters
    ----------
    paper
        Upright, or across when the area is wide.
    bounds
        West, south, east and north of the map in metres, with a margin.
    areas
        Outline, fill, edge and width of what lies under the squares.
    lines
        Lines (each an array of corners), colour and width of what lies over them.
    places
        Easting, northing and name.
    hundreds
        Name, easting and northing of the 100 km squares.
    """

    page: Page
    paper: Paper
    bounds: tuple[float, float, float, float]
    areas: tuple[tuple[Outline, str, str, float], ...]
    lines: tuple[tuple[list[npt.NDArray[np.float64]], str, float], ...]
    places: tuple[tuple[float, float, str], ...]
    hundreds: tuple[tuple[str, int, int], ...]


def ground_of(page: Page) -> Ground:
    """Make ready what every map of the page shares."""
    bounds = _bounds(page)
    wide, high = bounds[2] - bounds[0], bounds[3] - bounds[1]
    finest = max(wide, high) / 4_000
    areas, lines, places = [], [], []
    for layer in page.background:
        shapes = shapely.simplify(np.asarray(layer.shapes.geometry, dtype=object), finest)
        if layer.kind in _AREAS:
            drawn = [shape for shape in shapes if shape is not None and not shape.is_empty]
            areas += [(_outline(shape), *_AREAS[layer.kind]) for shape in drawn]
        elif layer.kind in _LINES:
            lines.append((_corners(shapes), *_LINES[layer.kind]))
        elif "name" in layer.shapes:
            points = layer.shapes.geometry.representative_point()
            places += list(zip(points.x, points.y, layer.shapes["name"].fillna("").astype(str), strict=True))
    if page.boundary is not None:
        lines.append((_corners(shapely.simplify(np.asarray(page.boundary.geometry, dtype=object), finest)), INK, 0.9))
    paper = LANDSCAPE if wide > _WIDE * high else UPRIGHT
    hundreds = tuple((name, e, n) for name, e, n in hundreds_under(page.system.key, [int(b) for b in bounds]))
    return Ground(page, paper, bounds, tuple(areas), tuple(lines), tuple(places), hundreds)


def draw_map(
    figure: Figure, ground: Ground, squares: npt.NDArray[np.int64], codes: npt.NDArray[np.int64],
    shades: Sequence[Shade],
) -> Axes:  # fmt: skip
    """Draw squares on the sheet, each filled by its shade, with the legend beside them.

    Parameters
    ----------
    figure
        From ``blank_sheet`` with the ground's paper.
    ground
        From ``ground_of``.
    squares
        Packed squares, each once.
    codes
        Index into ``shades`` of each square.
    shades
        Lines of the legend.
    """
    page = ground.page
    axes = figure.add_axes(ground.paper.picture, anchor="NW")
    west, south, east, north = ground.bounds
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal", adjustable="box")
    for outline, fill, edge, width in ground.areas:
        axes.add_artist(PathPatch(outline, facecolor=fill, edgecolor=edge, linewidth=width, zorder=1))
    if squares.size:
        placed = place_squares(squares, page.system.key, page.side)
        order = np.argsort(squares, kind="stable")
        code = codes[order][np.searchsorted(squares[order], placed.squares)]
        _draw_picture(axes, placed, code, page.side, shades)
        _draw_outlines(axes, placed, code, shades)
    for lines, colour, width in ground.lines:
        axes.add_collection(LineCollection(lines, colors=colour, linewidths=width, zorder=4), autolim=False)
    _draw_places(axes, ground)
    _draw_grid(axes, ground)
    _draw_scale_and_north(axes, ground)
    draw_legend(figure, ground.paper, shades)
    return axes


def _bounds(page: Page) -> tuple[float, float, float, float]:
    shapes = [page.boundary] if page.boundary is not None else [b.shapes for b in page.background if b.kind == "land"]
    everywhere = np.unique(page.effort["square"].to_numpy(np.int64))
    placed = place_squares(everywhere[everywhere >= 0], page.system.key, page.side)
    west, south, east, north = bounds_of(placed, page.side, shapes)
    margin = max(east - west, north - south) * 0.03
    return west - margin, south - margin, east + margin, north + margin


def _draw_picture(axes: Axes, placed: Placed, code: npt.NDArray[np.int64], side: int, shades: Sequence[Shade]) -> None:
    """One pixel a square, scaled without smoothing: small in a file whatever the number of squares."""
    if not placed.in_picture:
        return
    picture = np.zeros((placed.height, placed.width, 4), dtype=np.uint8)
    rows, columns = np.divmod(placed.cells, placed.width)
    fills = np.array([np.rint(np.multiply(to_rgba(shade.fill), 255)) for shade in shades], dtype=np.uint8)
    picture[rows, columns] = fills[code[: placed.in_picture]]
    east, north = placed.west + placed.width * side, placed.south + placed.height * side
    axes.imshow(
        picture, origin="lower", extent=(placed.west, east, placed.south, north), interpolation="none", zorder=2,
        aspect="auto",
    )  # fmt: skip
    for number, shade in enumerate(shades):
        which = np.flatnonzero(code[: placed.in_picture] == number)
        if shade.hatch and which.size:
            outline = _runs(rows[which], columns[which], placed, side)
            axes.add_artist(
                PathPatch(outline, facecolor="none", edgecolor=shade.ink, hatch=shade.hatch, linewidth=0, zorder=3)
            )


def _runs(rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64], placed: Placed, side: int) -> Outline:
    """One outline of all these squares, those beside each other in a row as one oblong."""
    order = np.lexsort((columns, rows))
    rows, columns = rows[order], columns[order]
    first = np.ones(rows.size, dtype=bool)
    first[1:] = (rows[1:] != rows[:-1]) | (columns[1:] != columns[:-1] + 1)
    starts = np.flatnonzero(first)
    ends = np.append(starts[1:], rows.size) - 1
    west, east = placed.west + columns[starts] * side, placed.west + (columns[ends] + 1) * side
    south = placed.south + rows[starts] * side
    north = south + side
    around = ((west, south), (east, south), (east, north), (west, north), (west, south))
    corners = np.stack([np.stack(corner, axis=1) for corner in around], axis=1)
    codes = np.tile([Outline.MOVETO, Outline.LINETO, Outline.LINETO, Outline.LINETO, Outline.CLOSEPOLY], starts.size)
    return Outline(corners.reshape(-1, 2), codes)


def _draw_outlines(axes: Axes, placed: Placed, code: npt.NDArray[np.int64], shades: Sequence[Shade]) -> None:
    for number, shade in enumerate(shades):
        which = np.flatnonzero(code[placed.in_picture :] == number)
        rings = _corners(placed.outlines[which]) if which.size else []
        if rings:
            axes.add_collection(
                PolyCollection(rings, facecolor=shade.fill, edgecolor=shade.ink, hatch=shade.hatch or None,
                               linewidth=0.1, zorder=2), autolim=False,
            )  # fmt: skip


def _draw_places(axes: Axes, ground: Ground) -> None:
    """Names stand on paper of their own, so that they can be read over any square."""
    for easting, northing, name in ground.places:
        axes.plot(easting, northing, "o", color=INK, markersize=2.2, zorder=6)
        axes.annotate(
            name, (easting, northing), xytext=(3.5, 2.5), textcoords="offset points", fontsize=6.5, color=INK, zorder=6,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6}, annotation_clip=True,
        )  # fmt: skip


def _draw_grid(axes: Axes, ground: Ground) -> None:
    west, south, east, north = ground.bounds
    longest = max(east - west, north - south)
    step = next((s for s in _STEPS if longest / s <= 14), _STEPS[-1])
    across = np.arange(np.ceil(west / step) * step, east, step)
    up = np.arange(np.ceil(south / step) * step, north, step)
    grid = [((x, south), (x, north)) for x in across] + [((west, y), (east, y)) for y in up]
    heavy = [line for line, at in zip(grid, (*across, *up), strict=True) if at % 100_000 == 0 and step < 100_000]
    for lines, width, strength in ((grid, 0.3, 0.5), (heavy, 0.9, 1.0)):
        drawn = LineCollection(lines, colors="#34495a", linewidths=width, alpha=strength, zorder=3.5)
        axes.add_collection(drawn, autolim=False)

    def written(metres: float) -> str:
        within = int(metres) % 100_000
        return f"{within // 1000:02d}" if step >= 1_000 else f"{within / 1000:.1f}"

    axes.xaxis.set_visible(False)
    axes.yaxis.set_visible(False)
    style: dict[str, Any] = {"fontsize": 7, "color": SOFT, "textcoords": "offset points", "annotation_clip": False}
    for x in across:
        axes.annotate(written(x), (x, south), xytext=(0, -3), ha="center", va="top", **style)
    for y in up:
        axes.annotate(written(y), (west, y), xytext=(-3, 0), ha="right", va="center", **style)
    words = f"{ground.page.system.title}; numbers are km within the 100 km square"
    axes.annotate(words, ((west + east) / 2, south), xytext=(0, -12), ha="center", va="top", **style)
    for name, easting, northing in ground.hundreds:
        left, right = max(easting, west), min(easting + 100_000, east)
        low, high = max(northing, south), min(northing + 100_000, north)
        if right - left > longest * 0.08 and high - low > longest * 0.06:
            axes.text(
                left + longest * 0.012, high - longest * 0.012, name, fontsize=11, weight="bold", color="#34495a",
                alpha=0.85, va="top", zorder=6,
                bbox={"facecolor": PAPER, "alpha": 0.75, "pad": 1.2, "edgecolor": "none"},
            )  # fmt: skip


def _draw_scale_and_north(axes: Axes, ground: Ground) -> None:
    """A scale bar and an arrow in a margin of their own below the map's frame."""
    west, south, east, north = ground.bounds
    length = next(n for n in (*_STEPS[::-1], 10, 1) if n <= max((east - west) / 4, 1))
    share = length / (east - west)
    style: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False, "zorder": 7}
    height = 0.006 * (east - west) / (north - south)
    axes.add_patch(Rectangle((1 - share, -0.062), share, max(height, 0.005), facecolor=INK, **style))
    words = f"{length // 1000} km" if length >= 1000 else f"{length} m"
    axes.text(1 - share - 0.01, -0.06, words, ha="right", va="center", fontsize=7.5, transform=axes.transAxes)
    axes.annotate(
        "", xy=(0.012, -0.035), xytext=(0.012, -0.085), xycoords="axes fraction", annotation_clip=False,
        arrowprops={"arrowstyle": "-|>", "color": INK, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip
    axes.text(0.03, -0.06, "N", va="center", fontsize=9, weight="bold", transform=axes.transAxes)


def _outline(shape: Any) -> Outline:
    """A polygon or several, with holes, as one outline."""
    return Outline.make_compound_path(*(Outline(ring, closed=True) for ring in _corners([shape])))


def _corners(shapes: Any) -> list[npt.NDArray[np.float64]]:
    """Corners of every ring and line."""
    parts = shapely.get_parts(np.asarray(shapes, dtype=object))
    rings = [ring for part in parts if part is not None for ring in _rings(part)]
    return [shapely.get_coordinates(ring) for ring in rings]


def _rings(part: Any) -> list[Any]:
    if part.is_empty:
        return []
    return [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
