"""Learning the weights of the clues from the past: hide the last years of what is known, look what came of it.

Recording changes over time, so that what held between two cuts may not hold after the next. The weights therefore
start from fixed defaults and move only as far as several cuts in the past insist; how much will be found in all
is left to the species' curves and the defaults, and only the ranking is learned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.again import AgainPairs, learn_again, pairs_again
from gapmap.expected.clues import Clues, find_clues
from gapmap.expected.evidence import Evidence, Ground, gather
from gapmap.expected.regression import chance_of, even_chance, fit

Numbers = npt.NDArray[np.float64]

#: Default weights of curve, effort, near, far, close, rise, company, ground, inside, and how freely each may move. All
#: but the last were set on some hundred cuts of real records, large and small (tests/benchmarks/cases.py).
DEFAULTS = np.array([1.02, 0.0, 0.85, 0.8, 0.3, 1.6, 0.0, 0.6, 0.25])
FREEDOM = np.array([0.07, 0.2, 0.4, 0.1, 0.2, 0.4, 0.4, 0.3, 0.1])
#: Weights that say how much is found in all, and the constant that goes with them.
LEVEL_WEIGHTS = np.array([1.0, 0.0, 0.2, 0.4, 0.0, 1.2, 0.3, 0.6, 0.25])
LEVEL = -0.25
#: What one pair of square and species counts for: pairs of one square or one species are not independent, and what
#: was so between two cuts is often not so after the next. The cuts share it, and a cut that cannot be made leaves
#: its share to the defaults.
WORTH = 0.07
#: The past has less to go by than the present: weights learned from it are a little flat.
_SHARPER = 1.12
#: Where squares have been looked at this often, what they still lack they mostly lack for reasons that no clue
#: tells: chances draw together, by this power of the lists already made.
_WORKED, _FLATTER = 100.0, 0.3
#: Shares of the lists before each cut in the past.
CUTS = (0.4, 0.6, 0.8)
#: Pairs of one cut used at most, and finds needed at least.
_MOST_PAIRS, _FEWEST_FINDS = 60_000, 3


@dataclass(frozen=True)
class Weights:
    """Weights of the clues, their covariance, how many past finds taught them, and the weights of expected.again."""

    weights: Numbers
    covariance: Numbers
    finds: int
    again: Numbers


@dataclass(frozen=True)
class _Past:
    """One cut in the past: clues of the pairs that could be found newly, and of those that could be found again."""

    matrix: Numbers
    answers: Numbers
    scale: float
    again: AgainPairs
    matrix_again: Numbers


def design(clues: Clues, lists: Numbers, rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64]) -> Numbers:
    """Clues of chosen pairs as a matrix, n × 9, for so many lists (S) to come in each square."""
    usual = usual_lists(lists)
    curve = clues.curve(lists, usual)[rows, columns]
    effort = np.log(np.maximum(lists, 1e-3) / usual)[rows]
    return np.column_stack([curve, effort, *(part[rows, columns] for part in clues.context)])


def usual_lists(lists: Numbers) -> float:
    """Median number of lists of the squares that have any; 1 when none has."""
    some = lists[lists > 0]
    return float(np.median(some)) if some.size else 1.0


def learn(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.NDArray[np.int64],
    ground: Ground | None = None,
) -> Weights:
    """Learn the weights of the clues at several cuts in the past.

    Parameters
    ----------
    lists, finds, species, squares, ground
        As for :func:`gapmap.expected.evidence.gather`: what is known, all of which may be used.
    """
    parts = []
    for cut in past_cuts(lists["year"].to_numpy(np.int64)):
        part = _look_back(lists, finds, species, squares, ground, cut)
        if part is not None:
            parts.append(part)
    sharpness = _SHARPER * (1 + len(lists) / max(lists["square"].nunique(), 1) / _WORKED) ** -_FLATTER
    if not parts:
        return Weights(DEFAULTS * sharpness, np.diag(FREEDOM**2), 0, learn_again([], WORTH))
    cuts = len(parts)
    matrix = np.vstack([np.column_stack([np.eye(cuts)[[n] * len(p.answers)], p.matrix]) for n, p in enumerate(parts)])
    answers = np.concatenate([part.answers for part in parts])
    each = WORTH / max(cuts, len(CUTS))
    worth = np.concatenate([np.full(len(part.answers), each * part.scale) for part in parts])
    start = np.concatenate([np.full(cuts, LEVEL), DEFAULTS])
    freedom = np.concatenate([np.full(cuts, 1.4), FREEDOM])
    fitted, covariance = fit(matrix, answers, worth, start, freedom)
    weights = fitted[cuts:] * sharpness
    scored = [(part.again, part.matrix_again @ weights + level(part.matrix, weights)) for part in parts]
    return Weights(weights, covariance[cuts:, cuts:], int(answers.sum()), learn_again(scored, each))


def past_cuts(years: npt.NDArray[np.int64]) -> list[int]:
    """Years after which to cut: those by which 40, 60 and 80 % of the lists were made.

    Examples
    --------
    >>> past_cuts(np.repeat(np.arange(2001, 2011), 4))
    [2005, 2007, 2009]
    >>> past_cuts(np.zeros(5, dtype="int64"))
    []
    """
    known = np.sort(years[years > 0])
    if known.size == 0:
        return []
    cuts = {int(known[int(share * known.size)]) for share in CUTS}
    return sorted(cut for cut in cuts if cut < known[-1])


def _look_back(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.NDArray[np.int64],
    ground: Ground | None,
    cut: int,
) -> _Past | None:
    year = lists["year"].to_numpy(np.int64)
    before, after = lists[(year > 0) & (year <= cut)], lists[year > cut]
    known = finds.loc[finds["list_id"].isin(before["list_id"]), "species_id"]
    kinds = species[species["species_id"].isin(known)]
    if len(kinds) < 2:
        return None
    then = gather(before, finds, kinds, squares, ground)
    later = gather(after, finds, kinds, squares)
    rows, columns = candidates(then, later.lists)
    answers = later.finds[rows, columns] > 0
    if answers.sum() < _FEWEST_FINDS:
        return None
    step = -(-len(rows) // _MOST_PAIRS)
    rows, columns, answers = rows[::step], columns[::step], answers[::step]
    clues = find_clues(then)
    again = pairs_again(then, later, clues.tail)
    return _Past(
        design(clues, later.lists, rows, columns),
        answers.astype(np.float64),
        float(step),
        again,
        design(clues, later.lists, again.rows, again.columns),
    )


def candidates(evidence: Evidence, lists_after: Numbers) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Rows and columns of the pairs that can be found newly: known in the area, not in the square, lists made after."""
    known = evidence.finds.sum(axis=0) > 0
    rows, columns = np.nonzero((evidence.finds == 0) & known[None, :] & (lists_after > 0)[:, None])
    return rows, columns


def level(matrix: Numbers, weights: Numbers) -> float:
    """Constant that makes the learned weights find as much in all as the default ones would."""
    if len(matrix) == 0:
        return LEVEL
    step = -(-len(matrix) // _MOST_PAIRS)
    part = matrix[::step]
    wanted = even_chance(part @ LEVEL_WEIGHTS + LEVEL).sum()
    score = part @ weights
    low, high = -12.0, 12.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if chance_of(score + middle).sum() > wanted else (middle, high)
    return (low + high) / 2
