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

from gapmap.expected.clues import CLUES, Clues, find_clues
from gapmap.expected.evidence import Evidence, Ground, gather

Numbers = npt.NDArray[np.float64]
Answers = npt.NDArray[np.bool_]

#: Default weights of curve, effort, near, far, rise, company, ground, inside, and how freely each may move. All but
#: the last were set on some hundred cuts of real records, large and small (tests/benchmarks/cases.py).
DEFAULTS = np.array([1.02, 0.0, 0.85, 0.8, 1.6, 0.0, 0.6, 0.25])
FREEDOM = np.array([0.07, 0.2, 0.4, 0.1, 0.4, 0.4, 0.3, 0.1])
#: Weights that say how much is found in all, and the constant that goes with them.
LEVEL_WEIGHTS = np.array([1.0, 0.0, 0.2, 0.4, 1.2, 0.3, 0.6, 0.25])
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
#: Unevenness of squares that effort does not explain (the variance of a gamma factor).
UNEVEN = 0.5
#: Shares of the lists before each cut in the past.
CUTS = (0.4, 0.6, 0.8)
#: Pairs of one cut used at most, and finds needed at least.
_MOST_PAIRS, _FEWEST_FINDS = 60_000, 3


@dataclass(frozen=True)
class Weights:
    """Weights of the clues, their covariance, and how many past finds they were learned from."""

    weights: Numbers
    covariance: Numbers
    finds: int


def design(clues: Clues, lists: Numbers, rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64]) -> Numbers:
    """Clues of chosen pairs as a matrix, n × 8, for so many lists (S) to come in each square."""
    usual = usual_lists(lists)
    curve = clues.curve(lists, usual)[rows, columns]
    effort = np.log(np.maximum(lists, 1e-3) / usual)[rows]
    return np.column_stack([curve, effort, *(part[rows, columns] for part in clues.context)])


def usual_lists(lists: Numbers) -> float:
    """Median number of lists of the squares that have any; 1 when none has."""
    some = lists[lists > 0]
    return float(np.median(some)) if some.size else 1.0


def chance_of(score: Numbers) -> Numbers:
    """Chance to be found, from the natural log of the finds to expect; squares differ, which flattens the top.

    Examples
    --------
    >>> chance_of(np.array([-30.0, 0.0, 3.0])).round(3).tolist()
    [0.0, 0.556, 0.992]
    """
    answer: Numbers = -np.expm1(-np.log1p(UNEVEN * np.exp(np.clip(score, -30, 6))) / UNEVEN)
    return answer


def even_chance(score: Numbers) -> Numbers:
    """Chance to be found where squares do not differ: 1 − exp(−finds to expect)."""
    answer: Numbers = -np.expm1(-np.exp(np.clip(score, -16, 3.5)))
    return answer


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
        return Weights(DEFAULTS * sharpness, np.diag(FREEDOM**2), 0)
    cuts = len(parts)
    matrix = np.vstack([np.column_stack([np.eye(cuts)[[n] * len(y)], x]) for n, (x, y, _) in enumerate(parts)])
    answers = np.concatenate([y for _, y, _ in parts])
    each = WORTH / max(cuts, len(CUTS))
    worth = np.concatenate([np.full(len(y), each * scale) for _, y, scale in parts])
    start = np.concatenate([np.full(cuts, LEVEL), DEFAULTS])
    freedom = np.concatenate([np.full(cuts, 1.4), FREEDOM])
    fitted, covariance = fit(matrix, answers, worth, start, freedom)
    return Weights(fitted[cuts:] * sharpness, covariance[cuts:, cuts:], int(answers.sum()))


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
) -> tuple[Numbers, Numbers, float] | None:
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
    return design(find_clues(then), later.lists, rows, columns), answers.astype(np.float64), float(step)


def candidates(evidence: Evidence, lists_after: Numbers) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Rows and columns of the pairs that can be found newly: known in the area, not in the square, lists made after."""
    known = evidence.finds.sum(axis=0) > 0
    rows, columns = np.nonzero((evidence.finds == 0) & known[None, :] & (lists_after > 0)[:, None])
    return rows, columns


def fit(matrix: Numbers, answers: Numbers, worth: Numbers, start: Numbers, freedom: Numbers) -> tuple[Numbers, Numbers]:
    """Complementary log-log regression drawn towards ``start``, by Fisher scoring.

    Parameters
    ----------
    matrix
        n × p.
    answers, worth
        n: 0 or 1, and what each counts for.
    start, freedom
        p: centre and standard deviation of the normal prior.

    Returns
    -------
    (p weights, p × p covariance)

    Source
    ------
    McCullagh, P. & Nelder, J.A. (1989) Generalized Linear Models, 2nd edition, chapters 2 and 4.

    Examples
    --------
    >>> weights, _ = fit(np.ones((4, 1)), np.array([1.0, 0, 0, 0]), np.ones(4), np.zeros(1), np.array([1e6]))
    >>> float(even_chance(weights)[0].round(4))
    0.25
    """
    weights, pull = start.copy(), np.diag(1.0 / freedom**2)
    information = pull
    for _ in range(60):
        score = np.clip(matrix @ weights, -16, 3.5)
        chance = np.clip(-np.expm1(-np.exp(score)), 1e-9, 1 - 1e-9)
        slope = np.exp(score - np.exp(score))
        inner = worth * slope**2 / (chance * (1 - chance))
        information = (matrix * inner[:, None]).T @ matrix + pull
        pulled = matrix.T @ (worth * slope * (answers - chance) / (chance * (1 - chance))) - pull @ (weights - start)
        step = np.clip(np.linalg.solve(information, pulled), -1, 1)
        weights = weights + step
        if np.abs(step).max() < 1e-8:
            break
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return weights, covariance


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


__all__ = [
    "CLUES",
    "DEFAULTS",
    "Weights",
    "candidates",
    "chance_of",
    "design",
    "fit",
    "learn",
    "level",
    "past_cuts",
    "usual_lists",
]
