"""Standing: what each square is worth going back for, in one word, one sentence and the numbers behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import ALL_DATES, STANDING
from gapmap.coverage.estimators import (
    Number,
    Whole,
    chao2,
    extrapolated,
    frequencies,
    jackknife1,
    jackknife2,
    rarefied,
    sample_coverage,
    visits_to_share,
)
from gapmap.coverage.reasons import reasons
from gapmap.coverage.standings import (
    BEGUN,
    CASUAL,
    NOT_VISITED,
    PART,
    POOR,
    STALE,
    STANDINGS,
    UNKNOWN,
    WELL,
)
from gapmap.settings import ThresholdsSection

__all__ = [
    "BEGUN", "CASUAL", "NOT_VISITED", "PART", "POOR", "STALE", "STANDINGS", "UNKNOWN", "WELL", "near_misses",
    "standing",
]


def standing(tally: pd.DataFrame, effort: pd.DataFrame, thresholds: ThresholdsSection) -> pd.DataFrame:
    """Say how each square stands in each date class.

    Parameters
    ----------
    tally
        As :func:`gapmap.coverage.tally.tally` gives it: columns.TALLY, ``counts`` and ``known_from``.
    effort
        As :func:`gapmap.coverage.effort.effort` gives it; its rows are the rows of the result.
    thresholds
        Where one standing ends and the next begins.

    Returns
    -------
    DataFrame
        As in columns.STANDING, and also:

        ``units``, ``sampled``
            what the sampling units are and how many: visits, or lists where most lists lack their day;
        ``share``, ``share_low``
            species found on them over the estimate and over the upper end of its interval, 0 to 1;
        ``jackknife1``, ``jackknife2``
            the two jackknife estimates;
        ``next_1``, ``next_3``, ``next_10``
            new species expected of so many further visits;
        ``rarefied``
            species expected on ``thresholds.enough_visits`` visits, for fair comparison;
        ``known_before``, ``to_refind``
            species known before the class began, and those of them not found in it;
        ``not_done``, ``best_month``, ``best_time``
            as in the effort.

        Estimates are empty where there are fewer than ``thresholds.enough_visits`` units or every species was
        found on one only.
    """
    found = _finds_of_rows(tally, effort)
    numbers = _numbers(found, effort, thresholds)
    numbers["standing"] = pd.Series(_words(numbers, thresholds), index=effort.index, dtype="str")
    numbers["reason"] = pd.Series(reasons(numbers, thresholds), index=effort.index, dtype="str")
    carried = effort[["not_done", "best_month", "best_time"]]
    only_for_words = ["records", "undated", "usual", "surveys", "longest_list", "on_units"]
    frame = pd.concat([numbers.drop(columns=only_for_words), carried], axis=1)
    return STANDING.check(frame)


@dataclass(frozen=True)
class _Finds:
    """Square × species as arrays, each with the row of the effort it belongs to."""

    row: Whole
    visits: Whole
    lists: Whole
    known_before: Whole
    refound: Whole


def _finds_of_rows(tally: pd.DataFrame, effort: pd.DataFrame) -> _Finds:
    """Find the effort row of each tally row; count species known before each class and found again in it."""
    rows = tally if _is_in_order(tally) else tally.sort_values(["square", "species_id", "date_class"])
    rows = rows if rows["counts"].all() else rows[rows["counts"]]
    date_class = rows["date_class"].to_numpy(dtype=np.int64)
    squares = np.unique(effort["square"].to_numpy(dtype=np.int64))
    classes = int(effort["date_class"].max()) + 2 if len(effort) else 1
    index_of = np.full(len(squares) * classes, -1, np.int64)
    square_of_effort = np.searchsorted(squares, effort["square"].to_numpy())
    index_of[square_of_effort * classes + effort["date_class"].to_numpy() + 1] = np.arange(len(effort))
    square_index = np.searchsorted(squares, rows["square"].to_numpy(dtype=np.int64))
    row = index_of[square_index * classes + date_class + 1]

    is_total = date_class == ALL_DATES
    known_from = rows["known_from"].to_numpy(dtype=np.int64)[is_total]
    of_species = known_from[np.cumsum(is_total) - 1] if is_total.any() else np.zeros(len(rows), np.int64)
    refound = np.bincount(row[~is_total & (of_species <= date_class)], minlength=len(effort))
    known = np.zeros(len(effort), np.int64)
    for one in range(classes - 1):
        before = np.bincount(square_index[is_total][known_from <= one], minlength=len(squares))
        target = index_of[np.arange(len(squares)) * classes + one + 1]
        known[target[target >= 0]] = before[target >= 0]
    return _Finds(row, rows["visits"].to_numpy(), rows["lists"].to_numpy(), known, refound.astype(np.int64))


def _is_in_order(tally: pd.DataFrame) -> bool:
    by_square, by_species, by_class = (
        np.diff(tally[name].to_numpy()) for name in ("square", "species_id", "date_class")
    )
    return bool(np.all(
        (by_square > 0) | (by_square == 0) & ((by_species > 0) | (by_species == 0) & (by_class > 0))
    ))


def _numbers(found: _Finds, effort: pd.DataFrame, thresholds: ThresholdsSection) -> pd.DataFrame:
    """Every number of every row.

    What is known from records that are on no visit lifts the estimate, which is never below what is known, and is not
    what the visits found: they have missed it.
    """
    by_lists = 2 * effort["visits"].to_numpy() < effort["lists"].to_numpy()
    sampled = np.where(by_lists, effort["lists"], effort["visits"]).astype(np.int64)
    times = np.where(by_lists[found.row], found.lists, found.visits)
    f = frequencies(found.row, times, sampled)
    can = (sampled >= thresholds.enough_visits) & (f.once < f.species)
    species = effort["species"].to_numpy(dtype=np.int64)
    estimate = chao2(f)
    is_class = effort["date_class"].to_numpy() != ALL_DATES
    known = np.where(is_class, found.known_before, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        refound_share = np.where(known > 0, found.refound / known, np.nan)
        best = np.maximum(estimate.species, species)
        share = _where(can, f.species / best)
        share_low = _where(can, f.species / np.maximum(estimate.high, best))
        further = np.ceil(visits_to_share(f, thresholds.well_share * best / estimate.species))
    frame = pd.DataFrame({
        "square": effort["square"], "date_class": effort["date_class"], "records": effort["records"],
        "undated": effort["undated"], "longest_list": effort["longest_list"],
        "surveys": effort["lists"] - effort["single_lists"],
        "on_units": f.species.astype(np.int64),
        "species": species,
        "units": pd.Series(np.where(by_lists, "lists", "visits"), index=effort.index, dtype="str"),
        "sampled": sampled,
        "estimate": _where(can, best),
        "estimate_low": _where(can, np.maximum(estimate.low, species)),
        "estimate_high": _where(can, np.maximum(estimate.high, species)),
        "share": share, "share_low": share_low,
        "jackknife1": _where(can, jackknife1(f)), "jackknife2": _where(can, jackknife2(f)),
        "sample_coverage": _where(can, sample_coverage(f)),
        "refound_share": refound_share,
        "visits_needed": _where(can, np.where(share >= thresholds.well_share, 0.0, further)),
        **{f"next_{n}": _where(can, extrapolated(f, n) - f.species) for n in (1, 3, 10)},
        "rarefied": rarefied(found.row, times, sampled, thresholds.enough_visits),
        "known_before": known, "to_refind": known - np.where(is_class, found.refound, 0),
    }, index=effort.index)
    frame["usual"] = _usual_species(frame, thresholds)
    return frame


def _usual_species(numbers: pd.DataFrame, thresholds: ThresholdsSection) -> Number:
    """Median species of the well covered squares of the same class; NaN where too few can be compared."""
    well = numbers[numbers["share"] >= thresholds.well_share]
    median = well.groupby("date_class")["species"].agg(["median", "size"])
    enough = median["median"].where(median["size"] >= thresholds.comparable_squares)
    return numbers["date_class"].map(enough).to_numpy(dtype=np.float64)


def _words(n: pd.DataFrame, thresholds: ThresholdsSection) -> npt.NDArray[np.object_]:
    """One of STANDINGS for each row: the first condition that holds."""
    share, refound = n["share"], n["refound_share"]
    has_known = n["known_before"] >= thresholds.stale_species
    not_refound = has_known & (refound < thresholds.well_share)
    full = (share >= thresholds.full_share) & (n["sample_coverage"] >= thresholds.full_share)
    conditions = [
        (has_known & (refound < thresholds.stale_share), STALE),
        ((n["records"] == 0) & (n["undated"] > 0), UNKNOWN),
        (n["records"] == 0, NOT_VISITED),
        ((n["surveys"] < thresholds.begun_visits) & (n["longest_list"] < thresholds.survey_list), CASUAL),
        (n["sampled"] < thresholds.enough_visits, BEGUN),
        (share.isna(), UNKNOWN),
        (share < thresholds.part_share, BEGUN),
        ((share < thresholds.well_share) | (n["share_low"] < thresholds.sure_share) | not_refound, PART),
        (full & (n["species"] < thresholds.poor_share * n["usual"]), POOR),
    ]
    return np.select([c.to_numpy(dtype=bool) for c, _ in conditions], [word for _, word in conditions], WELL)


def near_misses(standing: pd.DataFrame, thresholds: ThresholdsSection) -> pd.DataFrame:
    """Squares one or two visits from well covered, fewest visits and most new species first.

    Parameters
    ----------
    standing
        As :func:`standing` gives it.
    thresholds
        ``near_visits`` says how many visits still count as near.

    Returns
    -------
    DataFrame
        The rows of the standing that are near misses.

    Examples
    --------
    >>> squares = pd.DataFrame({
    ...     "square": [1, 2, 3], "date_class": 0, "standing": ["part covered", "part covered", "well covered"],
    ...     "visits_needed": [2.0, 9.0, 0.0], "next_3": [1.5, 4.0, 0.1], "refound_share": float("nan"),
    ...     "known_before": 0,
    ... })
    >>> near_misses(squares, ThresholdsSection())["square"].tolist()
    [1]
    >>> len(near_misses(squares.iloc[:0], ThresholdsSection()))
    0
    """
    close = standing["standing"].isin([PART, BEGUN]) & (standing["visits_needed"] <= thresholds.near_visits)
    refound = standing["refound_share"].isna() | (standing["known_before"] < thresholds.stale_species)
    refound |= standing["refound_share"] >= thresholds.well_share
    return standing[close & refound & (standing["visits_needed"] > 0)].sort_values(
        ["date_class", "visits_needed", "next_3", "square"], ascending=[True, True, False, True]
    )


def _where(can: npt.NDArray[np.bool_], values: npt.ArrayLike) -> Number:
    return np.where(can, np.asarray(values, dtype=np.float64), np.nan)
