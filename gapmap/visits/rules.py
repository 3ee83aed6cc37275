"""Where and when the area lets people go, and who may not go alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gapmap.columns import NO_SQUARE
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.settings import AreaSection, VisitsSection
from gapmap.typed import text_to_months
from gapmap.visits.prospects import Condition

Whole = npt.NDArray[np.int64]
YesNo = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Rules:
    """The rules of the section [visits], with squares packed.

    Parameters
    ----------
    no_go
        Squares where nobody is ever sent.
    protected
        Pairs of squares and the months in which they are left alone.
    tidal
        Squares for those only who go where the tide sets the hours.
    lonely
        Squares where nobody goes alone.
    dark
        Times of day at which nobody goes alone.
    pairs_only
        Nobody goes alone anywhere.
    """

    no_go: Whole
    protected: tuple[tuple[Whole, tuple[int, ...]], ...]
    tidal: Whole
    lonely: Whole
    dark: tuple[str, ...]
    pairs_only: bool

    def open_squares(self, squares: Whole, conditions: Sequence[Condition]) -> YesNo:
        """S × C: whether the square may be visited then."""
        answer = np.repeat(~np.isin(squares, self.no_go)[:, None], len(conditions), axis=1)
        for closed, months in self.protected:
            then = np.isin([c.month for c in conditions], months)
            answer &= ~(np.isin(squares, closed)[:, None] & then[None, :])
        return answer

    def two_people(self, squares: Whole, conditions: Sequence[Condition]) -> YesNo:
        """S × C: whether nobody goes there alone then."""
        if self.pairs_only:
            return np.ones((len(squares), len(conditions)), dtype=bool)
        at = np.isin([c.time_of_day for c in conditions], self.dark)
        answer: YesNo = np.isin(squares, self.lonely)[:, None] | at[None, :]
        return answer


def read_rules(section: VisitsSection, area: AreaSection, squares: Whole) -> tuple[Rules, list[str]]:
    """Read the rules of the area file.

    Parameters
    ----------
    section
        [visits] of the area file.
    area
        [area]: grid and zones that references are read with.
    squares
        Squares of the map.

    Returns
    -------
    Rules, list of str
        The rules, which hold in every square of the map that a square named in them touches; and a sentence for each
        that touches none.
    """
    sentences: list[str] = []

    def packed(texts: Sequence[str], setting: str) -> Whole:
        named = references_to_squares(list(texts), area.grid, area.zones).squares
        touched = [_touched(int(square), squares) for square in named]
        missing = [text for text, held in zip(texts, touched, strict=True) if not len(held)]
        sentences.extend(f"The setting {setting} names {text}, which is no square of the area." for text in missing)
        return np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *touched]))

    protected = tuple((packed(p.squares, "protected"), text_to_months(p.months)) for p in section.protected)
    rules = Rules(
        packed(section.no_go, "no_go"),
        protected,
        packed(section.tidal, "tidal"),
        packed(section.two_people, "two_people"),
        section.two_people_at,
        section.pairs_only,
    )
    return rules, sentences


def _touched(square: int, squares: Whole) -> Whole:
    """Squares of the map that share ground with a square of any size."""
    if square == NO_SQUARE:
        return squares[:0]
    key, side, east, north = unpack(squares)
    its_key, its_side, its_east, its_north = (int(part) for part in unpack(square))
    across = (east < its_east + its_side) & (its_east < east + side)
    up = (north < its_north + its_side) & (its_north < north + side)
    touched: Whole = squares[(key == its_key) & across & up]
    return touched


def find_squares(texts: Sequence[str], area: AreaSection, squares: Whole) -> tuple[Whole, list[str]]:
    """Those of the written squares that are squares of the map, and the texts of the others."""
    if not texts:
        return np.zeros(0, dtype=np.int64), []
    packed = np.asarray(references_to_squares(list(texts), area.grid, area.zones).squares, dtype=np.int64)
    known = (packed != NO_SQUARE) & np.isin(packed, squares)
    return packed[known], [text for text, is_known in zip(texts, known, strict=True) if not is_known]
