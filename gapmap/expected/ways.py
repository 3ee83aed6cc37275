"""When, at what hour and how to look for a species: from the records' own seasons, else the checklist."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.coverage.gaps import month_runs
from gapmap.expected.methods import Methods, find_methods
from gapmap.expected.seasons import CELLS, FEW_LISTS, MONTH_NAMES, TIMES, cells_of, months_of

Numbers = npt.NDArray[np.float64]

#: A month belongs to the season when a list then finds it at least so often as in its best month.
_IN_SEASON = 0.6
#: Finds with a known month, hour or method before the records are believed over the checklist.
_FEWEST = 6
#: Words in a method or habitat that say a find was made indoors (common practice, no source).
INDOORS = r"indoor|inside|in house|in building|bathroom|cellar|kitchen"


@dataclass(frozen=True)
class Ways:
    """How to look for K species, in words; empty where it cannot be said.

    ``looked`` (4 × K, as TIMES) counts the lists about the species' group made at each time of day.
    """

    months: list[str]
    time_of_day: list[str]
    method: list[str]
    certainty: list[str]
    looked: Numbers


def find_ways(lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame, months_hours: Numbers) -> Ways:
    """Say when, at what hour and how to look for each species.

    Parameters
    ----------
    lists, finds, species
        As in columns.LISTS, columns.FINDS and columns.SPECIES.
    months_hours
        CELLS × K activity, see :func:`gapmap.expected.seasons.availability`.
    """
    kinds = species["species_id"].to_numpy(np.int64)
    position = pd.Index(lists["list_id"])
    used = finds[finds["species_id"].isin(kinds) & finds["list_id"].isin(position)]
    of_list = position.get_indexer(pd.Index(used["list_id"]))
    column = pd.Index(kinds).get_indexer(pd.Index(used["species_id"]))
    cell = cells_of(lists)
    by = np.bincount(cell[of_list] * len(kinds) + column, minlength=CELLS * len(kinds))
    by_cell = by.reshape(13, len(TIMES), len(kinds))
    activity = months_hours.reshape(13, len(TIMES), len(kinds))
    made = _lists_about(cell, of_list, column, species).reshape(13, len(TIMES), len(kinds))
    looked = made.sum(axis=0)
    months = _best_months(activity[1:, 0], made[1:].sum(axis=1), by_cell[1:].sum(axis=(0, 1)), species)
    times = _best_times(activity[0], by_cell[:, 1:].sum(axis=(0, 1)), looked, species)
    return Ways(months, times, _best_methods(find_methods(lists, finds, species)), _certainty(species), looked)


def _lists_about(
    cell: npt.NDArray[np.int64], of_list: npt.NDArray[np.int64], column: npt.NDArray[np.int64], species: pd.DataFrame
) -> Numbers:
    """CELLS × K: lists about the species' group made in each month and hour."""
    _, group_of = np.unique(species["group"].fillna("").astype(str).to_numpy(), return_inverse=True)
    made = np.zeros((CELLS, len(species)))
    for group in np.unique(group_of[column]):
        about = np.unique(of_list[group_of[column] == group])
        made[:, group_of == group] = np.bincount(cell[about], minlength=CELLS)[:, None]
    return made


def _best_months(activity: Numbers, lists: Numbers, finds: npt.NDArray[np.int64], species: pd.DataFrame) -> list[str]:
    """Of the months in which people looked the best by the records; of the others those of the checklist."""
    words = []
    for column, text in enumerate(species["months"].fillna("").astype(str)):
        season = np.isin(np.arange(1, 13), months_of(text))
        here = lists[:, column] >= FEW_LISTS
        if finds[column] >= _FEWEST and here.sum() >= 2:
            by_month = activity[:, column]
            season = np.where(here, by_month >= _IN_SEASON * by_month[here].max(), season)
        words.append(months_to_words(season))
    return words


def months_to_words(season: npt.NDArray[np.bool_]) -> str:
    """Twelve yes or no as people write a season.

    Examples
    --------
    >>> months_to_words(np.isin(np.arange(1, 13), [11, 12, 1, 5]))
    'May, Nov–Jan'
    >>> months_to_words(np.ones(12, bool)), months_to_words(np.zeros(12, bool))
    ('all year', '')
    """
    if season.all():
        return "all year"
    runs = month_runs(season.tolist())
    return ", ".join(MONTH_NAMES[a] if a == b else f"{MONTH_NAMES[a]}–{MONTH_NAMES[b]}" for a, b in runs)


def _best_times(activity: Numbers, finds: npt.NDArray[np.int64], lists: Numbers, species: pd.DataFrame) -> list[str]:
    """The best of the times at which people looked; the checklist's where nobody looked then."""
    words = []
    for column, text in enumerate(species["time_of_day"].fillna("").astype(str)):
        looked = lists[:, column] >= FEW_LISTS
        if text in TIMES[1:] and not looked[TIMES.index(text)]:
            words.append(text)
        elif finds[column] >= _FEWEST and looked[1:].sum() >= 2:
            words.append(TIMES[1 + int(np.argmax(np.where(looked[1:], activity[1:, column], -1.0)))])
        else:
            words.append(text if text in TIMES else "")
    return words


def _best_methods(told: Methods) -> list[str]:
    """The method that finds most of it, of those tried often enough; strays found indoors send nobody indoors."""
    outdoors = ~pd.Series(told.names, dtype="str").str.contains(INDOORS, case=False, regex=True).to_numpy(bool)
    kinds = told.share.shape[1]
    if not outdoors.any():
        return [""] * kinds
    tried = outdoors[:, None] & (told.lists >= FEW_LISTS)
    best = np.argmax(np.where(tried, told.share, -1.0), axis=0)
    sure = tried[best, np.arange(kinds)] & (told.finds[best, np.arange(kinds)] >= 3)
    sure &= told.finds[outdoors].sum(axis=0) >= _FEWEST
    return [told.names[best[k]] if sure[k] else "" for k in range(kinds)]


def _certainty(species: pd.DataFrame) -> list[str]:
    words = {
        "sight": "in the field, on sight",
        "hand lens": "in the field with a hand lens, or from a close photograph",
        "microscope": "a voucher under the microscope",
        "dissection": "a voucher and dissection",
    }
    return [words.get(text.strip().lower(), text) for text in species["difficulty"].fillna("").astype(str)]
