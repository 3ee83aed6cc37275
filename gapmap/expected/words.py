"""Why a species is expected, and how far to believe it, in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from pandas.api.extensions import ExtensionArray

from gapmap.expected.clues import Clues
from gapmap.expected.evidence import Evidence
from gapmap.expected.seasons import FEW_LISTS, TIMES
from gapmap.expected.ways import Ways

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: How far to believe a chance, best first.
GRADES = ("good", "fair", "weak", "can't say")
_RING = [(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if (x, y) != (0, 0)]
#: How many values each part of a reason can have.
_SIZES = (9, 9, 13, 1000, 1000, 2, 4)
_AT = {"day": "by day", "dusk": "at dusk", "night": "at night"}


def best_reasons(
    clues: Clues, evidence: Evidence, ways: Ways, species: pd.DataFrame, rows: Whole, columns: Whole
) -> ExtensionArray:
    """The evidence for each pair of square and species in words.

    Parameters
    ----------
    rows, columns
        Positions of the squares and the species, n each.

    Returns
    -------
    n texts such as "found in 7 of 8 neighbouring squares looked at; keeps company with 5 species found here".
    """
    looked, with_it = neighbours_with(evidence, rows, columns)
    friends = friends_here(clues, rows, columns)
    held = np.minimum(evidence.finds[rows, columns], 999).astype(np.int64)
    made = np.maximum(np.minimum(np.rint(evidence.effort[rows, columns]), 999).astype(np.int64), held)
    rises = (evidence.rise[columns] > 0.25).astype(np.int64)
    parts = (looked, with_it, friends, held, made, rises, _unlooked(ways)[columns])
    codes = np.ravel_multi_index(parts, _SIZES)
    of_kind, kinds = pd.factorize(codes)
    each = zip(*(part.tolist() for part in np.unravel_index(kinds, _SIZES)), strict=True)
    return texts_at([_sentence(*kind) for kind in each], of_kind)


def texts_at(texts: Sequence[str], positions: Whole) -> ExtensionArray:
    """Each position's text, as pandas keeps text: quick for a million positions of a few texts.

    Examples
    --------
    >>> list(texts_at(["dusk", "night"], np.array([1, 1, 0])))
    ['night', 'night', 'dusk']
    >>> len(texts_at([], np.array([], dtype="int64")))
    0
    """
    return pd.Series(list(texts), dtype="str").array.take(positions)


def neighbours_with(evidence: Evidence, rows: Whole, columns: Whole) -> tuple[Whole, Whole]:
    """For each pair: how many of the eight neighbours have lists about its group, and how many have the species."""
    places = evidence.places.astype(np.int64)
    index = {(int(x), int(y)): row for row, (x, y) in enumerate(places)}
    neighbours = [[index.get((x + dx, y + dy), -1) for dx, dy in _RING] for x, y in places.tolist()]
    around = np.array(neighbours, dtype=np.int64).reshape(len(places), len(_RING))
    worked, found = ((part > 0).astype(np.int8) for part in (evidence.effort, evidence.finds))
    looked, with_it = np.zeros_like(worked), np.zeros_like(found)
    for ring in range(len(_RING)):
        is_square = (around[:, [ring]] >= 0).astype(np.int8)
        looked += worked[around[:, ring]] * is_square
        with_it += found[around[:, ring]] * is_square
    return looked[rows, columns].astype(np.int64), with_it[rows, columns].astype(np.int64)


def friends_here(clues: Clues, rows: Whole, columns: Whole) -> Whole:
    """For each pair: how many of the species' companions were found in the square."""
    kinds, most = clues.friends.shape
    bond = np.zeros((kinds, kinds + 1), dtype=np.float32)
    bond[np.repeat(np.arange(kinds), most), clues.friends.ravel()] = 1.0
    count = clues.found.astype(np.float32) @ bond[:, :kinds].T
    return np.rint(count[rows, columns]).astype(np.int64)


def _unlooked(ways: Ways) -> Whole:
    """For each species: its time of day when nobody has looked for its group then (position in TIMES), 0 for none."""
    return np.array(
        [
            TIMES.index(time) if time and ways.looked[TIMES.index(time), kind] < FEW_LISTS else 0
            for kind, time in enumerate(ways.time_of_day)
        ],
        dtype=np.int64,
    )


def _sentence(looked: int, with_it: int, friends: int, held: int, made: int, rises: int, unlooked: int) -> str:
    """The evidence for one pair, which may have been found there before.

    Examples
    --------
    >>> _sentence(8, 7, 0, 0, 3, 0, 0), _sentence(0, 0, 0, 1, 3, 0, 0)  # doctest: +NORMALIZE_WHITESPACE
    ('found in 7 of 8 neighbouring squares looked at; not on 3 lists here that could have held it',
     'no neighbouring square has been looked at; on 1 of 3 lists here that could have held it')
    """
    parts = []
    if looked:
        parts.append(f"found in {with_it} of {looked} neighbouring square{'s' * (looked != 1)} looked at")
    else:
        parts.append("no neighbouring square has been looked at")
    if friends:
        parts.append(f"keeps company with {friends} species found here")
    if rises:
        parts.append("on the rise")
    if held:
        parts.append(f"on {held} of {made} list{'s' * (made != 1)} here that could have held it")
    elif made:
        parts.append(f"not on {made} list{'s' * (made != 1)} here that could have held it")
    else:
        parts.append("no list here could have held it")
    if unlooked:
        parts.append(f"nobody has looked {_AT[TIMES[unlooked]]} here")
    return "; ".join(parts)
