"""The sheet of paper every plate stands on: title, notice, legend, caption, and where it was made from."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from PIL import Image

from gapmap.outputs.page.contents import Page
from gapmap.outputs.whole import whole_file

#: Five steps from little to much that stay apart for every kind of colour vision and in grey (cividis).
STEPS = ("#fde737", "#bcae6c", "#7c7b78", "#414d6b", "#00224e")
PAPER, PALE, INK, SOFT, ALERT = "#ffffff", "#e4e1d8", "#17202a", "#4a5560", "#7a2a0c"
PRINT_STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "svg.fonttype": "none",
    "svg.hashsalt": "gapmap",
    "pdf.fonttype": 42,
    "axes.edgecolor": SOFT,
    "hatch.linewidth": 0.6,
    "text.parse_math": False,
}
#: Without dates and program versions, equal plates are equal files.
_NO_DATES: dict[str, dict[str, Any]] = {"pdf": {"CreationDate": None, "ModDate": None}, "svg": {"Date": None}}
#: Dots an inch of a picture for print.
PRINT_DOTS = 300
#: Mean width of a letter, as a share of the size of the type.
_LETTER = 0.56


@dataclass(frozen=True)
class Shade:
    """One line of a legend: what it means and how its squares are filled, hatched in ``ink``."""

    label: str
    fill: str
    hatch: str = ""
    ink: str = SOFT


@dataclass(frozen=True)
class Paper:
    """A4, and where things stand on it, as shares of its width and height: left, bottom, width, height.

    Parameters
    ----------
    size
        Width and height in inches.
    picture
        The map or the curves.
    legend
        Where the legend's first line begins.
    legend_rows
        Lines of the legend in one column.
    caption
        Left end and top of the caption.
    """

    size: tuple[float, float]
    picture: tuple[float, float, float, float]
    legend: tuple[float, float]
    legend_rows: int
    caption: tuple[float, float]

    def inches(self, share: float) -> float:
        """Width in inches of a share of the sheet's width."""
        return self.size[0] * share


UPRIGHT = Paper((8.27, 11.69), (0.09, 0.245, 0.84, 0.645), (0.09, 0.195), 4, (0.09, 0.105))
LANDSCAPE = Paper((11.69, 8.27), (0.055, 0.145, 0.68, 0.715), (0.76, 0.845), 14, (0.76, 0.44))


def blank_sheet(page: Page, title: str, caption: str, paper: Paper = UPRIGHT) -> Figure:
    """A sheet with the title above, the caption beside or below the picture, and the files and the date at the foot.

    Parameters
    ----------
    page
        Name of the area, notice, files and date.
    title, caption
        Any text; what is too long is broken into lines.
    paper
        How the sheet lies.
    """
    figure = Figure(figsize=paper.size)
    FigureCanvasAgg(figure)
    high = paper.size[1]
    left = paper.picture[0]
    width = paper.inches(1 - 2 * left)
    size = 17.0 if len(title) * 17 * _LETTER / 72 <= width else 12.0
    top = 1 - 0.35 / high
    top = _write(figure, left, top, title, size, width, most=2, weight="bold")
    top = _write(figure, left, top - 0.03 / high, page.title, 10.5, width, most=1, color=SOFT)
    if page.notice:
        _write(figure, left, top - 0.03 / high, page.notice, 9.5, width, most=1, weight="bold", color=ALERT)
    across = paper.inches(0.97 - paper.caption[0])
    room = paper.caption[1] - (0.05 if paper is UPRIGHT else 0.02)
    _write(figure, *paper.caption, caption, 8.5, across, most=int(room * high * 72 / (8.5 * 1.28)))
    _write(figure, left, 0.42 / high, _made(page), 7, width, most=2, color=SOFT)
    return figure


def draw_legend(figure: Figure, paper: Paper, shades: Sequence[Shade]) -> None:
    """Draw a box and a line of words for each shade, beside the picture and never over it."""
    left, top = paper.legend
    wide, high = paper.size
    box_wide, box_high, step = 0.3 / wide, 0.17 / high, 0.245 / high
    columns = max(2 if paper is UPRIGHT else 1, -(-len(shades) // paper.legend_rows))
    rows = -(-len(shades) // columns)
    column = (0.97 - left) / columns
    for number, shade in enumerate(shades):
        x, y = left + (number // max(rows, 1)) * column, top - (number % max(rows, 1)) * step
        figure.add_artist(
            Rectangle((x, y - box_high), box_wide, box_high, facecolor=shade.fill, edgecolor=shade.ink,
                      hatch=shade.hatch or None, linewidth=0)
        )  # fmt: skip
        figure.add_artist(Rectangle((x, y - box_high), box_wide, box_high, fill=False, edgecolor=INK, linewidth=0.5))
        room = paper.inches(column) - 0.45
        words = _lines(shade.label, 8, room, 1)[0]
        figure.text(x + box_wide + 0.08 / wide, y - box_high / 2, words, fontsize=8, va="center", color=INK)


def save_plate(figure: Figure, path: Path, dots: int = PRINT_DOTS) -> None:
    """Write a plate as PNG, SVG or PDF with real text, by the ending of its name.

    Parameters
    ----------
    figure
        A plate.
    path
        Where it goes.
    dots
        Dots an inch of a PNG: 300 for print, about 100 for a screen or a letter.
    """
    kind = path.suffix.lower().lstrip(".")
    with mpl.rc_context(PRINT_STYLE), whole_file(path) as draft:
        if kind == "png":
            _save_picture(figure, draft, dots)
        else:
            figure.savefig(draft, format=kind, metadata=_NO_DATES[kind])


def _save_picture(figure: Figure, path: Path, dots: int) -> None:
    """As PNG without the channel of transparency, which a sheet of paper does not need."""
    figure.set_dpi(dots)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB")
    picture.save(path, format="PNG", dpi=(dots, dots), compress_level=4)


def _made(page: Page) -> str:
    made = f"Made on {page.made_on.day} {page.made_on:%B %Y}"
    if not page.files:
        return f"{made}."
    named = ", ".join(page.files[:3])
    return f"{made} from {named} and {len(page.files) - 3} more." if len(page.files) > 3 else f"{made} from {named}."


def _write(
    figure: Figure, left: float, top: float, text: str, size: float, inches: float, most: int, **style: Any
) -> float:
    """Write lines downwards from ``top``; return where the next may begin."""
    step = size * 1.28 / 72 / figure.get_figheight()
    for line in _lines(text, size * (1.08 if style.get("weight") == "bold" else 1), inches, most):
        figure.text(left, top, line, fontsize=size, va="top", **{"color": INK, **style})
        top -= step
    return top


def _lines(text: str, size: float, inches: float, most: int) -> list[str]:
    """A text in at most so many lines of this width; what is left over is cut and ends in dots."""
    letters = max(8, int(inches * 72 / (size * _LETTER)))
    clean = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    lines = textwrap.wrap(clean, letters, max_lines=most, placeholder=" …")
    return lines or [""]
