"""Scores of predicted chances against what was found."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import rankdata

Numbers = npt.NDArray[np.float64]

_CLIP = 1e-6
#: Names of the scores, in the order they are shown.
SCORES = (
    "auc",
    "average_precision",
    "log_loss",
    "brier",
    "calibration_slope",
    "calibration_intercept",
    "five_best",
)


def scores(found: npt.ArrayLike, chance: npt.ArrayLike, square: npt.ArrayLike) -> dict[str, float]:
    """Score chances against what was found.

    Parameters
    ----------
    found, chance, square
        n: 0 or 1, 0 to 1, and the square each pair belongs to.

    Returns
    -------
    dict
        The scores of SCORES; nan where they cannot be said (all found, none found).

    Source
    ------
    AUC: Hanley, J.A. & McNeil, B.J. (1982) Radiology 143, 29–36. Calibration: Cox, D.R. (1958) Biometrika 45,
    562–565. Brier, G.W. (1950) Monthly Weather Review 78, 1–3.

    Examples
    --------
    >>> result = scores([1, 0, 1, 0], [0.9, 0.2, 0.6, 0.6], [7, 7, 8, 8])
    >>> result["auc"], round(result["log_loss"], 4), result["five_best"]
    (0.875, 0.4389, 0.5)
    """
    label = np.asarray(found, dtype=np.float64)
    ranked = np.asarray(chance, dtype=np.float64)
    guess = np.clip(ranked, _CLIP, 1 - _CLIP)
    if label.size == 0 or label.min() == label.max():
        return dict.fromkeys(SCORES, float("nan"))
    slope, intercept = calibration(label, guess)
    return {
        "auc": auc(label, ranked),
        "average_precision": average_precision(label, ranked),
        "log_loss": float(-(label * np.log(guess) + (1 - label) * np.log1p(-guess)).mean()),
        "brier": float(((label - guess) ** 2).mean()),
        "calibration_slope": slope,
        "calibration_intercept": intercept,
        "five_best": five_best(label, ranked, np.asarray(square)),
    }


def auc(found: Numbers, chance: Numbers) -> float:
    """Chance that a pair that was found was ranked above one that was not; ties count half."""
    ranks = rankdata(chance)
    yes = found.sum()
    no = len(found) - yes
    return float((ranks[found > 0].sum() - yes * (yes + 1) / 2) / (yes * no))


def average_precision(found: Numbers, chance: Numbers) -> float:
    """Mean over the finds of the share found among all ranked as high or higher."""
    order = np.argsort(-chance, kind="stable")
    hits, ranked = np.cumsum(found[order]), chance[order]
    last = np.append(ranked[1:] != ranked[:-1], True)
    recall = np.diff(np.concatenate([[0.0], hits[last]])) / found.sum()
    return float((recall * hits[last] / (np.flatnonzero(last) + 1)).sum())


def calibration(found: Numbers, chance: Numbers) -> tuple[float, float]:
    """Slope and intercept of a logistic regression of found on the chance's log odds: 1 and 0 when well set."""
    odds = np.log(chance / (1 - chance))
    matrix = np.column_stack([odds, np.ones_like(odds)])
    weights = np.array([1.0, 0.0])
    for _ in range(100):
        mean = 1 / (1 + np.exp(-np.clip(matrix @ weights, -30, 30)))
        inner = np.maximum(mean * (1 - mean), 1e-12)
        information = (matrix * inner[:, None]).T @ matrix + 1e-9 * np.eye(2)
        step = np.linalg.solve(information, matrix.T @ (found - mean))
        weights = weights + np.clip(step, -2, 2)
        if np.abs(step).max() < 1e-10:
            break
    return float(weights[0]), float(weights[1])


def five_best(found: Numbers, chance: Numbers, square: npt.NDArray[np.int64]) -> float:
    """Share of the five best guesses of each square that were found."""
    frame = pd.DataFrame({"square": square, "chance": chance, "found": found})
    ranked = frame.sort_values(["square", "chance"], ascending=[True, False], kind="stable")
    return float(ranked.groupby("square").head(5)["found"].mean())


def reliability(found: npt.ArrayLike, chance: npt.ArrayLike, bins: int = 10) -> pd.DataFrame:
    """Bins of equal width: ``low, high, pairs, chance`` (mean), ``found`` (share), ``found_low``, ``found_high``.

    The interval is Wilson's (1927, Journal of the American Statistical Association 22, 209–212), 95 %.
    """
    label = np.asarray(found, dtype=np.float64)
    guess = np.asarray(chance, dtype=np.float64)
    bin_of = np.minimum((guess * bins).astype(np.int64), bins - 1)
    pairs = np.bincount(bin_of, minlength=bins)
    some = np.maximum(pairs, 1)
    share = np.bincount(bin_of, label, minlength=bins) / some
    z = 1.959964
    middle = (share + z**2 / (2 * some)) / (1 + z**2 / some)
    half = z * np.sqrt(share * (1 - share) / some + z**2 / (4 * some**2)) / (1 + z**2 / some)
    edges = np.arange(bins + 1) / bins
    frame = pd.DataFrame(
        {
            "low": edges[:-1],
            "high": edges[1:],
            "pairs": pairs,
            "chance": np.bincount(bin_of, guess, minlength=bins) / some,
            "found": share,
            "found_low": np.where(share == 0, 0.0, middle - half),
            "found_high": np.where(share == 1, 1.0, middle + half),
        }
    )
    return frame[frame["pairs"] > 0].reset_index(drop=True)
