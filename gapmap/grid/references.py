"""References as people write them ⇄ squares, whole columns at a time.

What can be written: 100 km squares, hectads (``OR47``), quadrants (``OR47NE``), tetrads (``OR47P``), monads
(``OR4768``) and 100 m, 10 m and 1 m squares of the British and Irish grids and the Channel Islands; the same
after a UTM zone (``31UDS6858``); European squares (``10kmE432N321`` or the long code). Squares of 20 and 50 km
are written as their south-western hectad and the size (``OR46-20km``). Spaces, case and stray punctuation do
not matter; a gap between the digits must halve them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import NO_SQUARE
from gapmap.errors import GridError
from gapmap.grid.explaining import explain
from gapmap.grid.reading import read
from gapmap.grid.tidying import tidy
from gapmap.grid.utm import read_zones
from gapmap.grid.writing import write

#: Names of grids that references can be held to; nothing lets each value be recognised by itself.
GRIDS = ("", "british", "irish", "channel", "europe", "utm")
#: References read at once.
_AT_ONCE = 1 << 16


@dataclass(frozen=True)
class Resolution:
    """What became of a column of references.

    Parameters
    ----------
    squares
        int64 array: packed squares, NO_SQUARE where a value could not be read.
    code
        Object array of str: short fixed word for what is wrong (troubles.CODES), empty where nothing is.
    sentence
        Object array of str: what is wrong and what was found.
    suggestion
        Object array of str: what to do or what was probably meant; may be empty.
    """

    squares: npt.NDArray[np.int64]
    code: npt.NDArray[np.object_]
    sentence: npt.NDArray[np.object_]
    suggestion: npt.NDArray[np.object_]


def references_to_squares(
    texts: Iterable[object], system: str = "", zones: Sequence[str] = ()
) -> Resolution:
    """Read references.

    Parameters
    ----------
    texts
        The references; anything that is not text is read as it prints, missing values as empty.
    system
        british, irish, channel, europe or utm; nothing to recognise each value by itself. By itself, WA and
        WV are the Channel Islands; and when zones are given, two letters are a UTM code without its zone.
    zones
        UTM zones, such as 31U and 32U, that codes without a zone may lie in. A code that fits several of them
        is a problem, not a guess.

    Raises
    ------
    GridError
        The system or a zone is none.

    Examples
    --------
    >>> found = references_to_squares(["OR 47 68", "or47p", "OR476"])
    >>> squares_to_references(found.squares).tolist(), found.code.tolist()
    (['OR4768', 'OR47P', ''], ['', '', 'odd-digits'])
    >>> found.sentence[2]
    'OR476 has an odd number of digits (3), so its two halves cannot be told apart.'
    >>> references_to_squares([]).squares
    array([], dtype=int64)
    """
    if system not in GRIDS:
        raise GridError(
            "This is not a grid that references can be read in", found=system,
            do=f"use one of {', '.join(GRIDS[1:])}",
        )
    numbered = read_zones(zones)
    values = texts if isinstance(texts, pd.Series | np.ndarray | list) else list(texts)
    squares = np.concatenate([read(tidy(block), system, numbered) for block in _in_blocks(values)])
    code, sentence, suggestion = (np.full(len(squares), "", dtype=object) for _ in range(3))
    failed = np.flatnonzero(squares == NO_SQUARE)
    if len(failed):
        troubles = explain(_chosen(values, failed), system, numbered)
        code[failed] = [trouble.code for trouble in troubles]
        sentence[failed] = [trouble.sentence for trouble in troubles]
        suggestion[failed] = [trouble.suggestion for trouble in troubles]
    return Resolution(squares, code, sentence, suggestion)


def squares_to_references(squares: npt.ArrayLike) -> npt.NDArray[np.object_]:
    """Write squares as references.

    Parameters
    ----------
    squares
        Packed squares.

    Returns
    -------
    Object array of str; empty text for NO_SQUARE and for squares beyond the limits of their system.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> squares = [pack(2, 5_000, 315_000, 230_000), pack(131, 10_000, 460_000, 5_650_000)]
    >>> squares_to_references(squares).tolist()
    ['O13SE', '31UDS65']
    """
    return write(squares)


def _in_blocks(values: pd.Series | npt.NDArray[Any] | list[object]) -> Iterator[Iterable[object]]:
    """So many values at a time that all that is made of them stays in the processor's cache; at least one block."""
    ordered = values.iloc if isinstance(values, pd.Series) else values
    for start in range(0, max(len(values), 1), _AT_ONCE):
        yield ordered[start : start + _AT_ONCE]


def _chosen(values: Iterable[object], rows: npt.NDArray[np.int64]) -> list[str]:
    """The values at some rows as text, empty where missing."""
    chosen = np.asarray(values, dtype=object)[rows]
    return ["" if pd.isna(value) else str(value) for value in chosen]
