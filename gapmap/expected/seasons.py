"""When and at what hour a species is found, corrected for when people go out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import betaincinv

from gapmap.errors import SettingsError
from gapmap.expected.ratios import beyond_the_first, drawn_to_group
from gapmap.typed import text_to_months

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Times of day as a list may say; "" stands for not said or several.
TIMES = ("", "day", "dusk", "night")
#: Months 0 (unknown) to 12, times as above.
CELLS = 13 * len(TIMES)
MONTH_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
#: Lists below which nobody can be said to have looked at that time.
FEW_LISTS = 5
#: How much less a species of the night is found by day where only the checklist says so (and the other way
#: round): a guess, kept mild.
_WRONG_HOUR = 0.25


def cells_of(lists: pd.DataFrame) -> Whole:
    """The cell of each list: month × 4 + time of day.

    Examples
    --------
    >>> cells_of(pd.DataFrame({"month": [0, 9], "time_of_day": ["", "night"]})).tolist()
    [0, 39]
    """
    time = lists["time_of_day"].fillna("").astype(str).map({word: n for n, word in enumerate(TIMES)})
    cell: Whole = np.asarray(lists["month"], dtype=np.int64) * len(TIMES) + np.asarray(time.fillna(0), dtype=np.int64)
    return cell


def availability(cell: Whole, of_list: Whole, column: Whole, group_of: Whole, species: pd.DataFrame) -> Numbers:
    """How much oftener than on the average list of its group a species is found in each month and hour.

    Parameters
    ----------
    cell
        L: cell of each list.
    of_list, column
        One entry a find: position of its list and of its species.
    group_of
        K: group of each species.
    species
        As in columns.SPECIES: its months and time_of_day stand in where nobody has looked.

    Returns
    -------
    CELLS × K, 1 for the average list; all 1 where neither a list nor the checklist tells a month or an hour.
    """
    kinds = len(group_of)
    weight = np.ones((CELLS, kinds))
    if len(cell) == 0 or (cell.max() == 0 and not _checklist_tells(species)):
        return weight
    for group in np.unique(group_of):
        members = np.flatnonzero(group_of == group)
        mine = group_of[column] == group
        about = np.unique(of_list[mine])
        local = np.searchsorted(members, column[mine])
        finds = np.bincount(cell[of_list[mine]] * len(members) + local, minlength=CELLS * len(members))
        made = np.bincount(cell[about], minlength=CELLS).astype(np.float64)
        by = finds.reshape(13, len(TIMES), len(members)).astype(np.float64)
        lists = made.reshape(13, len(TIMES))
        month = drawn_to_group(by.sum(axis=1), lists.sum(axis=1), smooth=True)
        month = _with_checklist_months(month, lists.sum(axis=1), species.iloc[members])
        hour = drawn_to_group(by.sum(axis=0), lists.sum(axis=0), smooth=False)
        hour = _with_checklist_hours(hour, lists.sum(axis=0), species.iloc[members])
        weight[:, members] = (month[:, None, :] * hour[None, :, :]).reshape(CELLS, len(members))
    return np.clip(weight, 0.02, 6.0)


def yields(cell: Whole, of_list: Whole, column: Whole, group_of: Whole) -> Numbers:
    """How much more a visit brings in each month and hour than the lists made then say by themselves.

    See :func:`gapmap.expected.ratios.beyond_the_first`.

    Parameters
    ----------
    cell, of_list, column, group_of
        As for :func:`availability`.

    Returns
    -------
    CELLS × K, the same for all species of a group, 1 for the average list: by this the availability is multiplied.

    Examples
    --------
    >>> cell = cells_of(pd.DataFrame({"month": 0, "time_of_day": ["day"] * 60 + ["night"] * 60}))
    >>> by_day, by_night = np.repeat(np.arange(60), 5), np.repeat(np.arange(60, 120), 2)
    >>> of_list = np.concatenate([by_day, by_night])
    >>> column = np.concatenate([np.tile(range(5), 60), np.tile(range(2), 60)])
    >>> answer = yields(cell, of_list, column, np.zeros(5, dtype="int64"))[[1, 3], 0]
    >>> bool(answer[0] > 1.1), bool(answer[1] < 0.75)
    (True, True)
    """
    answer = np.ones((CELLS, len(group_of)))
    for group in np.unique(group_of[column]):
        about, length = np.unique(of_list[group_of[column] == group], return_counts=True)
        made, held = (
            np.bincount(cell[about], part, minlength=CELLS).reshape(13, len(TIMES))
            for part in (np.ones(len(about)), length)
        )
        month = beyond_the_first(held.sum(axis=1), made.sum(axis=1), smooth=True)
        hour = beyond_the_first(held.sum(axis=0), made.sum(axis=0), smooth=False)
        answer[:, group_of == group] = (month[:, None] * hour[None, :]).reshape(CELLS, 1)
    return answer


def _checklist_tells(species: pd.DataFrame) -> bool:
    """Whether the checklist gives any species months or an hour."""
    return bool((species[["months", "time_of_day"]].fillna("").astype(str) != "").to_numpy().any())


def _with_checklist_months(month: Numbers, lists: Numbers, species: pd.DataFrame) -> Numbers:
    answer = month.copy()
    for column, text in enumerate(species["months"].fillna("").astype(str)):
        season = months_of(text)
        if season:
            for number in range(1, 13):
                if lists[number] < FEW_LISTS and number not in season:
                    answer[number, column] = min(answer[number, column], _WRONG_HOUR)
    return answer


def _with_checklist_hours(hour: Numbers, lists: Numbers, species: pd.DataFrame) -> Numbers:
    """Where nobody has looked at its hour, the checklist tells that the hours looked at are the wrong ones."""
    answer = hour.copy()
    for column, text in enumerate(species["time_of_day"].fillna("").astype(str)):
        if text in TIMES[1:] and lists[TIMES.index(text)] < FEW_LISTS:
            answer[TIMES.index(text), column] = 1.0 / _WRONG_HOUR
    return answer


def months_of(text: str) -> tuple[int, ...]:
    """Months of a checklist entry such as ``4-10`` or ``11-2, 5``; empty when it says nothing.

    Examples
    --------
    >>> months_of("11-2")
    (11, 12, 1, 2)
    >>> months_of("all year"), months_of("5, 7")
    ((), (5, 7))
    """
    try:
        return text_to_months(text)
    except SettingsError:
        return ()


def calendar(lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame) -> pd.DataFrame:
    """Activity of each species by month and time of day, corrected for when people go out.

    Parameters
    ----------
    lists, finds
        As in columns.LISTS and columns.FINDS.
    species
        As in columns.SPECIES; the rows to answer for.

    Returns
    -------
    DataFrame
        One row a species, month (1 to 12; 0 when unknown or all) and time of day ("day", "dusk", "night", or ""
        when not said): ``species_id, month, time_of_day, lists`` (of its group made then), ``finds``,
        ``rate`` (found on so many of the lists; empty when nobody looked), ``rate_low``, ``rate_high`` (95 %),
        ``activity`` (rate over the average list's rate), ``can_say`` (whether lists enough were made).

    """
    kinds = species["species_id"].to_numpy(np.int64)
    used = finds[finds["species_id"].isin(kinds)]
    position = pd.Index(lists["list_id"])
    of_list = position.get_indexer(used["list_id"])
    used, of_list = used[of_list >= 0], of_list[of_list >= 0]
    column = pd.Index(kinds).get_indexer(used["species_id"])
    groups = species["group"].fillna("").astype(str).to_numpy()
    _, group_of = np.unique(groups, return_inverse=True)
    cell = cells_of(lists)
    weight = availability(cell, of_list, column, group_of, species)
    frames = []
    for number, kind in enumerate(kinds):
        about = np.unique(of_list[group_of[column] == group_of[number]])
        made = np.bincount(cell[about], minlength=CELLS).astype(np.float64)
        with_it = np.bincount(cell[of_list[column == number]], minlength=CELLS).astype(np.float64)
        month, time = np.divmod(np.arange(CELLS), len(TIMES))
        shown = (made > 0) | (month > 0)
        safe = np.where(made > 0, made, np.nan)
        low, high = share_limits(with_it, made)
        frames.append(
            pd.DataFrame(
                {
                    "species_id": kind,
                    "month": month,
                    "time_of_day": np.array(TIMES, dtype=object)[time],
                    "lists": made.astype(np.int64),
                    "finds": with_it.astype(np.int64),
                    "rate": with_it / safe,
                    "rate_low": low,
                    "rate_high": high,
                    "activity": weight[:, number],
                    "can_say": made >= FEW_LISTS,
                }
            )[shown]
        )
    if not frames:
        return pd.DataFrame(
            columns=[
                "species_id",
                "month",
                "time_of_day",
                "lists",
                "finds",
                "rate",
                "rate_low",
                "rate_high",
                "activity",
                "can_say",
            ]
        )
    return pd.concat(frames, ignore_index=True)


def share_limits(finds: Numbers, lists: Numbers) -> tuple[Numbers, Numbers]:
    """95 % limits of the share of lists that hold a species; not a number where there are no lists.

    Source
    ------
    Clopper, C.J. & Pearson, E.S. (1934) The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26, 404–413.

    Examples
    --------
    >>> low, high = share_limits(np.array([0.0, 5.0, 1.0]), np.array([10.0, 10.0, 1.0]))
    >>> low.round(3).tolist(), high.round(3).tolist()
    ([0.0, 0.187, 0.025], [0.308, 0.813, 1.0])
    """
    with np.errstate(invalid="ignore"):
        low = np.where(finds > 0, betaincinv(np.maximum(finds, 1), lists - finds + 1, 0.025), 0.0)
        high = np.where(finds < lists, betaincinv(finds + 1, np.maximum(lists - finds, 1), 0.975), 1.0)
    return np.where(lists > 0, low, np.nan), np.where(lists > 0, high, np.nan)
