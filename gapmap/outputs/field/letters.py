"""Type on paper: the typeface, and text broken into lines by how wide it really is."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import matplotlib as mpl
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD, ITALIC = "sheet", "sheet-bold", "sheet-italic"
_FILES = {PLAIN: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf", ITALIC: "DejaVuSans-Oblique.ttf"}


@cache
def load_typeface() -> None:
    """Make the typeface known: the one that comes with matplotlib, which has letters of most of Europe and beyond."""
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(Path(mpl.get_data_path()) / "fonts" / "ttf" / file)))


def width_of(text: str, face: str, size: float) -> float:
    """Width of a line in points."""
    return float(pdfmetrics.stringWidth(text, face, size))


def printable(text: str) -> str:
    """The text on one line: whatever no printer can print becomes a space.

    Examples
    --------
    >>> printable("two\\nlines\\x00")
    'two lines'
    """
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def wrapped(text: str, face: str, size: float, width: float) -> list[str]:
    """Break text into lines no wider than so many points; a word that is wider than a line is broken itself.

    Examples
    --------
    >>> load_typeface()
    >>> wrapped("pasture, woodland", PLAIN, 7, 40)
    ['pasture,', 'woodland']
    >>> wrapped("", PLAIN, 7, 40), wrapped("aaaaaaaaaaaaaaaaa", PLAIN, 7, 40)
    ([], ['aaaaaaaaa', 'aaaaaaaa'])
    """
    lines: list[str] = []
    line = ""
    for word in _pieces(printable(text), face, size, width):
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, face, size) > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


def _pieces(text: str, face: str, size: float, width: float) -> list[str]:
    """The words, those too wide for a line in pieces that fit."""
    pieces: list[str] = []
    for word in text.split():
        piece = word
        while width_of(piece, face, size) > width and len(piece) > 1:
            fits = len(piece) - 1
            while fits > 1 and width_of(piece[:fits], face, size) > width:
                fits -= 1
            pieces.append(piece[:fits])
            piece = piece[fits:]
        pieces.append(piece)
    return pieces
