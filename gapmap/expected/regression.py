"""From scores to chances, and the regression that weighs the clues: complementary log-log, drawn towards a prior."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

#: Unevenness of squares that effort does not explain (the variance of a gamma factor).
UNEVEN = 0.5


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
