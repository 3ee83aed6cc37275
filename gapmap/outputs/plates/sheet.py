"""The sheet that every plate stands on: title, caption, notice, and a map with its grid, scale and north."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle

from gapmap.grid.systems import System
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.shapes import Placed, bounds_of, place_squares
from gapmap.outputs.whole import whole_file

#: Five steps from little to much that stay apart for every kind of colour vision and in grey (cividis).
STEPS = ("#fde737", "#bcae6c", "#7c7b78", "#414d6b", "#00224e")
PAPER, PALE, INK, SOFT = "#ffffff", "#e4e1d8", "#17202a", "#4a5560"
A4 = (8.27, 11.69)
_BACKGROUND = {
    "land": {"facecolor": "#f6f3ea", "edgecolor": "#8d8a7e", "linewidth": 0.6},
    "water": {"facecolor": "#dbe7ee", "edgecolor": "#7d97a6", "linewidth": 0.4},
    "river": {"color": "#5b86a3", "linewidth": 0.6},
    "road": {"color": "#a58a72", "linewidth": 0.5},
}
PRINT_STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "svg.fonttype": "none",
    "svg.hashsalt": "gapmap",
    "pdf.fonttype": 42,
    "axes.edgecolor": SOFT,
    "hatch.linewidth": 0.5,
}
#: Without dates and program versions, equal plates are equal files.
_NO_DATES = {"pdf": {"CreationDate": None, "ModDate": None}, "svg": {"Date": None}, "png": {"Software": None}}


@dataclass(frozen=True)
class Shade:
    """One line of a legend: what it means and how its squares are filled."""

    label: str
    fill: str
    hatch: str = ""


def blank_sheet(page: Page, title: str, caption: str) -> Figure:
    """A4 upright with the title above, and the caption, the files and the date below."""
    with mpl.rc_context(PRINT_STYLE):
        figure = Figure(figsize=A4)
        FigureCanvasAgg(figure)
        figure.text(0.07, 0.955, plain(title), fontsize=17, weight="bold", color=INK)
        figure.text(0.07, 0.933, plain(page.title), fontsize=11, color=SOFT)
        if page.notice:
            figure.text(0.07, 0.912, plain(page.notice), fontsize=9.5, weight="bold", color="#7a2a0c")
        figure.text(0.07, 0.105, plain(caption), fontsize=8.5, color=INK, wrap=True, va="top")
        files = ", ".join(page.files[:4]) + (f" and {len(page.files) - 4} more" if len(page.files) > 4 else "")
        source = (
            f"Made on {page.made_on.isoformat()} from {files}." if files else f"Made on {page.made_on.isoformat()}."
        )
        figure.text(0.07, 0.03, plain(source), fontsize=7, color=SOFT)
    return figure


def draw_map(
    figure: Figure, page: Page, squares: npt.NDArray[np.int64], codes: npt.NDArray[np.int64], shades: Sequence[Shade]
) -> Axes:
    """Draw squares on the sheet, each filled by its shade.

    Parameters
    ----------
    figure
        From ``blank_sheet``.
    page
        Grid system, side, boundary and background.
    squares
        Packed squares, each once.
    codes
        Index into ``shades`` of each square.
    shades
        Lines of the legend.
    """
    placed = place_squares(squares, page.system.key, page.side)
    code = codes[np.argsort(squares, kind="stable")][np.searchsorted(np.sort(squares), placed.squares)]
    axes = figure.add_axes((0.07, 0.19, 0.86, 0.71), anchor="N")
    everywhere = place_squares(np.unique(page.effort["square"].to_numpy("int64")), page.system.key, page.side)
    bounds = bounds_of(everywhere, page.side, [b.shapes for b in page.background] + _frames(page))
    _draw_background(axes, page)
    _draw_picture(axes, placed, code, page.side, shades)
    _draw_outlines(axes, placed, code, shades)
    _draw_boundary(axes, page)
    _draw_places(axes, page)
    _finish_map(axes, bounds, page.system)
    present = [
        Patch(facecolor=s.fill, edgecolor=SOFT, hatch=s.hatch, label=plain(s.label), linewidth=0.4) for s in shades
    ]
    figure.legend(
        handles=present,
        loc="upper left",
        bbox_to_anchor=(0.06, 0.165),
        ncol=4,
        fontsize=8,
        frameon=False,
        columnspacing=1.2,
    )
    return axes


def save_plate(figure: Figure, path: Path) -> None:
    """Write a plate as PNG (300 dots an inch), SVG or PDF with real text, by the ending of its name."""
    kind = path.suffix.lower().lstrip(".")
    with mpl.rc_context(PRINT_STYLE), whole_file(path) as draft:
        figure.savefig(draft, format=kind, dpi=300, metadata=_NO_DATES.get(kind))


def plain(text: str) -> str:
    """Text that is drawn as it stands: a dollar sign would begin a formula."""
    return text.replace("$", r"\$")


def step_ends(values: npt.ArrayLike) -> list[int]:
    """Upper ends of at most five steps that hold about the same number of squares.

    Examples
    --------
    >>> step_ends([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]), step_ends([])
    ([2, 4, 6, 8, 10], [])
    """
    array = np.asarray(values)
    positive = np.sort(array[array > 0])
    if not positive.size:
        return []
    places = [int(np.ceil(share * positive.size)) - 1 for share in (0.2, 0.4, 0.6, 0.8, 1.0)]
    return sorted({int(np.ceil(positive[place])) for place in places})


def step_shades(ends: Sequence[int], unit: str) -> list[Shade]:
    """Legend lines of the steps, pale for little and dark for much.

    Examples
    --------
    >>> [s.label for s in step_shades([2, 9], "species")]
    ['1–2 species', '3–9 species']
    """
    starts = [1, *(end + 1 for end in ends[:-1])]
    fills = [STEPS[round(n * 4 / max(len(ends) - 1, 1))] if len(ends) > 1 else STEPS[3] for n in range(len(ends))]
    return [
        Shade(f"{low}–{high} {unit}" if low != high else f"{low} {unit}", fill)
        for low, high, fill in zip(starts, ends, fills, strict=True)
    ]


def _frames(page: Page) -> list[object]:
    return [] if page.boundary is None else [page.boundary]


def _draw_background(axes: Axes, page: Page) -> None:
    for layer in page.background:
        if layer.kind != "place":
            layer.shapes.plot(
                ax=axes, zorder=1 if layer.kind in ("land", "water") else 4, rasterized=False, **_BACKGROUND[layer.kind]
            )


def _draw_boundary(axes: Axes, page: Page) -> None:
    if page.boundary is not None:
        page.boundary.boundary.plot(ax=axes, color=INK, linewidth=0.9, zorder=5)


def _draw_places(axes: Axes, page: Page) -> None:
    for layer in page.background:
        if layer.kind == "place" and "name" in layer.shapes:
            for point, name in zip(layer.shapes.geometry.representative_point(), layer.shapes["name"], strict=True):
                axes.plot(point.x, point.y, "o", color=INK, markersize=2, zorder=6)
                axes.annotate(
                    plain(str(name)),
                    (point.x, point.y),
                    xytext=(3, 2),
                    textcoords="offset points",
                    fontsize=6.5,
                    zorder=6,
                )


def _draw_picture(axes: Axes, placed: Placed, code: npt.NDArray[np.int64], side: int, shades: Sequence[Shade]) -> None:
    """One pixel a square, scaled without smoothing: small in a file whatever the number of squares."""
    if not placed.in_picture:
        return
    picture = np.zeros((placed.height, placed.width, 4))
    rows, columns = np.divmod(placed.cells, placed.width)
    fills = np.array([mpl.colors.to_rgba(shade.fill) for shade in shades])
    picture[rows, columns] = fills[code[: placed.in_picture]]
    east, north = placed.west + placed.width * side, placed.south + placed.height * side
    axes.imshow(
        picture, origin="lower", extent=(placed.west, east, placed.south, north), interpolation="none", zorder=2
    )
    for number, shade in enumerate(shades):
        if shade.hatch:
            _hatch(axes, placed, np.flatnonzero(code[: placed.in_picture] == number), side, shade)


def _hatch(axes: Axes, placed: Placed, which: npt.NDArray[np.int64], side: int, shade: Shade) -> None:
    rows, columns = np.divmod(placed.cells[which], placed.width)
    west, south = placed.west + columns * side, placed.south + rows * side
    corners = np.stack(
        [np.stack([west + dx, south + dy], axis=1) for dx, dy in ((0, 0), (side, 0), (side, side), (0, side))], axis=1
    )
    axes.add_collection(
        PolyCollection(list(corners), facecolor="none", edgecolor=SOFT, hatch=shade.hatch, linewidth=0.1, zorder=3)
    )


def _draw_outlines(axes: Axes, placed: Placed, code: npt.NDArray[np.int64], shades: Sequence[Shade]) -> None:
    for number, shade in enumerate(shades):
        which = np.flatnonzero(code[placed.in_picture :] == number)
        rings = [np.asarray(shape.exterior.coords) for shape in placed.outlines[which] if not shape.is_empty]
        if rings:
            axes.add_collection(
                PolyCollection(rings, facecolor=shade.fill, edgecolor=SOFT, hatch=shade.hatch, linewidth=0.1, zorder=2)
            )


def _finish_map(axes: Axes, bounds: Sequence[int], system: System) -> None:
    west, south, east, north = bounds
    margin = max(east - west, north - south) * 0.04
    axes.set_xlim(west - margin, east + margin)
    axes.set_ylim(south - margin, north + margin)
    axes.set_aspect("equal", adjustable="box")
    step = 10_000 if max(east - west, north - south) <= 250_000 else 100_000
    axes.set_xticks(np.arange(np.ceil(west / step) * step, east + 1, step))
    axes.set_yticks(np.arange(np.ceil(south / step) * step, north + 1, step))
    written = (
        (lambda value, _: f"{int(value) // 1000 % 100:02d}")
        if step == 10_000
        else (lambda value, _: f"{int(value) // 100_000}")
    )
    axes.xaxis.set_major_formatter(written)
    axes.yaxis.set_major_formatter(written)
    axes.grid(color="#34495a", linewidth=0.3, alpha=0.5, zorder=3)
    axes.tick_params(labelsize=7, length=2, colors=SOFT)
    axes.set_xlabel(
        f"{system.title}, numbers are km within the 100 km square"
        if step == 10_000
        else f"{system.title}, numbers are 100 km",
        fontsize=7,
        color=SOFT,
    )
    _scale_and_north(axes, east - west)


def _scale_and_north(axes: Axes, width: float) -> None:
    length = next(
        n for n in (100_000, 50_000, 20_000, 10_000, 5_000, 2_000, 1_000, 500, 200, 100, 10) if n <= max(width / 4, 10)
    )
    low, high = axes.get_xlim()
    bottom, top = axes.get_ylim()
    start, level = high - (high - low) * 0.04 - length, bottom + (top - bottom) * 0.03
    axes.add_patch(Rectangle((start, level), length, (top - bottom) * 0.006, facecolor=INK, zorder=7))
    words = f"{length // 1000} km" if length >= 1000 else f"{length} m"
    axes.text(start + length / 2, level + (top - bottom) * 0.012, words, ha="center", fontsize=7.5, zorder=7)
    tip = (high - (high - low) * 0.04, top - (top - bottom) * 0.03)
    axes.annotate(
        "N",
        xy=tip,
        xytext=(0, -26),
        textcoords="offset points",
        ha="center",
        fontsize=9,
        arrowprops={"arrowstyle": "-|>", "color": INK},
        zorder=7,
    )
