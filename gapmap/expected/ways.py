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

    ``looked`` (4, as TIMES) counts the lists made at each time of day.
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
    looked = np.bincount(cell % len(TIMES), minlength=len(TIMES)).astype(np.float64)
    months = _best_months(activity[:, 0], by_cell[1:].sum(axis=(0, 1)), species)
    times = _best_times(activity[0], by_cell[:, 1:].sum(axis=(0, 1)), looked, species)
    return Ways(months, times, _best_methods(find_methods(lists, finds, species)), _certainty(species), looked)


def _best_months(activity: Numbers, finds: npt.NDArray[np.int64], species: pd.DataFrame) -> list[str]:
    told = species["months"].fillna("").astype(str).tolist()
    words = []
    for column, text in enumerate(told):
        if finds[column] >= _FEWEST:
            by_month = activity[1:, column]
            words.append(months_to_words(by_month >= _IN_SEASON * by_month.max()))
        else:
            season = months_of(text)
            words.append(months_to_words(np.isin(np.arange(1, 13), season)) if season else "")
    return words


def months_to_words(season: npt.NDArray[np.bool_]) -> str:
    """Twelve yes or no as people write a season.

    Examples
    --------
    >>> months_to_words(np.isin(np.arange(1, 13), [11, 12, 1, 5]))
    'May, Nov–Jan'
    >>> months_to_words(np.ones(12, bool))
    'all year'
    """
    if season.all():
        return "all year"
    runs = month_runs(season.tolist())
    return ", ".join(MONTH_NAMES[a] if a == b else f"{MONTH_NAMES[a]}–{MONTH_NAMES[b]}" for a, b in runs)


def _best_times(activity: Numbers, finds: npt.NDArray[np.int64], looked: Numbers, species: pd.DataFrame) -> list[str]:
    words = []
    for column, text in enumerate(species["time_of_day"].fillna("").astype(str)):
        if text in TIMES[1:] and looked[TIMES.index(text)] < FEW_LISTS:
            words.append(text)
        elif finds[column] >= _FEWEST and (looked[1:] >= FEW_LISTS).sum() >= 2:
            words.append(TIMES[1 + int(np.argmax(activity[1:, column]))])
        else:
            words.append(text if text in TIMES else "")
    return words


def _best_methods(told: Methods) -> list[str]:
    """The method that finds most of it; strays found indoors do not send anybody indoors."""
    outdoors = ~pd.Series(told.names, dtype="str").str.contains(INDOORS, case=False, regex=True).to_numpy(bool)
    kinds = told.share.shape[1]
    if not outdoors.any():
        return [""] * kinds
    best = np.argmax(np.where(outdoors[:, None], told.share, -1.0), axis=0)
    sure = (told.finds[best, np.arange(kinds)] >= 3) & (told.finds[outdoors].sum(axis=0) >= _FEWEST)
    return [told.names[best[k]] if sure[k] else "" for k in range(kinds)]


def _certainty(species: pd.DataFrame) -> list[str]:
    words = {
        "sight": "in the field, on sight",
        "hand lens": "in the field with a hand lens, or from a close photograph",
        "microscope": "a voucher under the microscope",
        "dissection": "a voucher and dissection",
    }
    return [words.get(text.strip().lower(), text) for text in species["difficulty"].fillna("").astype(str)]
