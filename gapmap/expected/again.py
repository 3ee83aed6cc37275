"""Finding again what was found in a square before: the square's own lists tell more than anything around it.

How often the lists of a square have held a species says how easily it is found there, and whether it was a stray; that
is set beside what the clues say. How the two share is learned, like the weights of the clues, at cuts in the past.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gapmap.expected.curves import HeavyTail
from gapmap.expected.evidence import Evidence
from gapmap.expected.regression import UNEVEN, fit

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Constant, weight of what the clues say, weight of the square's own lists, and how freely each may move: set on
#: the cuts of tests/benchmarks/again.py.
DEFAULTS = np.array([-0.1, 0.3, 0.7])
FREEDOM = np.array([0.1, 0.15, 0.15])
#: Pairs of one cut used at most.
_MOST_PAIRS = 6_000


@dataclass(frozen=True)
class AgainPairs:
    """Pairs of one cut in the past that could be found again.

    Parameters
    ----------
    rows, columns
        n: positions of square and species.
    history
        n: natural log of the finds to expect by the square's own lists.
    found
        n: 1 where it was found again.
    scale
        What each pair stands for, where some were left out.
    """

    rows: Whole
    columns: Whole
    history: Numbers
    found: Numbers
    scale: float


def pairs_again(then: Evidence, later: Evidence, tail: HeavyTail) -> AgainPairs:
    """Pairs found before a cut, in squares with lists after it."""
    rows, columns = np.nonzero((then.finds > 0) & (later.lists > 0)[:, None])
    step = max(1, -(-len(rows) // _MOST_PAIRS))
    rows, columns = rows[::step], columns[::step]
    history = tail.log_hazard_after(then.finds[rows, columns], then.lists[rows], later.lists[rows], columns)
    return AgainPairs(rows, columns, history, (later.finds[rows, columns] > 0).astype(np.float64), float(step))


def learn_again(parts: list[tuple[AgainPairs, Numbers]], worth: float) -> Numbers:
    """Learn how the clues and the square's own lists share.

    Parameters
    ----------
    parts
        Pairs of each cut, with the scores that the clues give them.
    worth
        What one pair counts for.

    Returns
    -------
    Constant, weight of the clues, weight of the square's own lists.
    """
    if not parts:
        return DEFAULTS
    matrix = np.vstack([_matrix(score, pairs.history) for pairs, score in parts])
    found = np.concatenate([pairs.found for pairs, _ in parts])
    each = np.concatenate([np.full(len(pairs.found), worth * pairs.scale) for pairs, _ in parts])
    weights, _ = fit(matrix, found, each, DEFAULTS, FREEDOM)
    return weights


def score_again(weights: Numbers, score: Numbers, history: Numbers) -> Numbers:
    """The score of finding it again, on the scale of the clues' score (what ``chance_of`` takes)."""
    hazard = np.exp(np.clip(_matrix(score, history) @ weights, -30, 6))
    answer: Numbers = np.log(np.expm1(UNEVEN * hazard) / UNEVEN)
    return answer


def _matrix(score: Numbers, history: Numbers) -> Numbers:
    even = np.log(np.log1p(UNEVEN * np.exp(np.clip(score, -30, 6))) / UNEVEN)
    return np.column_stack([np.ones(len(score)), np.clip(even, -8, 3), np.clip(history, -8, 3)])
