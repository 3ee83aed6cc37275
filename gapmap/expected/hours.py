"""At which hours of which months a species is found, corrected for when people go out; for lists that tell an hour."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.ratios import CAUTION
from gapmap.expected.seasons import FEW_LISTS, share_limits

Numbers = npt.NDArray[np.float64]

#: Months 0 (not known to the month) to 12, and hours of the clock.
_MONTHS, _HOURS = 13, 24
#: Turns of taking the hours out of the months and the months out of the hours.
_TURNS = 6
#: Columns of the calendar.
COLUMNS = ("species_id", "month", "hour", "lists", "finds", "rate", "rate_low", "rate_high", "activity", "can_say")


def hour_calendar(lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame) -> pd.DataFrame:
    """Activity of each species by month and hour of the clock.

    Parameters
    ----------
    lists, finds
        As in columns.LISTS and columns.FINDS; lists that tell no hour say nothing here.
    species
        As in columns.SPECIES; the rows to answer for.

    Returns
    -------
    DataFrame
        For each species whose group has lists with an hour: all 24 hours with month 0, which stands for the whole
        year, and each month and hour in which lists of its group were made. ``species_id, month, hour, lists,
        finds, rate`` (found on so many of the lists; empty when nobody looked), ``rate_low, rate_high`` (95 %),
        ``activity`` (finds over what the lists made then would bring if every hour and month were alike, drawn
        towards what the hour and the month say by themselves), ``can_say`` (whether lists enough were made).

    Examples
    --------
    >>> lists = pd.DataFrame({"list_id": range(20), "month": 7, "hour": [12] * 10 + [1] * 10})
    >>> finds = pd.DataFrame({"list_id": [*range(20), *range(11, 20)], "species_id": [0] * 20 + [1] * 9})
    >>> species = pd.DataFrame({"species_id": [0, 1], "group": ["moth", "moth"]})
    >>> table = hour_calendar(lists, finds, species).query("species_id == 1 and month == 0").set_index("hour")
    >>> bool(table.loc[1, "activity"] > 2 * table.loc[12, "activity"]), int(table.loc[1, "lists"])
    (True, 10)
    """
    hourly = lists[lists["hour"] >= 0]
    kinds = species["species_id"].to_numpy(np.int64)
    of_list = pd.Index(hourly["list_id"]).get_indexer(pd.Index(finds["list_id"]))
    column = pd.Index(kinds).get_indexer(pd.Index(finds["species_id"]))
    kept = (of_list >= 0) & (column >= 0)
    of_list, column = of_list[kept], column[kept]
    cell = hourly["month"].to_numpy(np.int64) * _HOURS + hourly["hour"].to_numpy(np.int64)
    _, group_of = np.unique(species["group"].fillna("").astype(str).to_numpy(), return_inverse=True)
    frames = []
    for group in np.unique(group_of[column]):
        members = np.flatnonzero(group_of == group)
        mine = group_of[column] == group
        made = _by_cell(cell[np.unique(of_list[mine])], np.zeros(0, dtype=np.int64), 1)[:, :, 0]
        found = _by_cell(cell[of_list[mine]], np.searchsorted(members, column[mine]), len(members))
        frames.append(_rows(kinds[members], made, found))
    if not frames:
        return pd.DataFrame({name: pd.Series(dtype="float64") for name in COLUMNS})
    return pd.concat(frames, ignore_index=True).sort_values(["species_id", "month", "hour"], ignore_index=True)


def _by_cell(cell: npt.NDArray[np.int64], kind: npt.NDArray[np.int64], kinds: int) -> Numbers:
    """Counts by month × hour × species."""
    flat = cell * kinds + (kind if kind.size else 0)
    counts = np.bincount(flat, minlength=_MONTHS * _HOURS * kinds)
    return counts.reshape(_MONTHS, _HOURS, kinds).astype(np.float64)


def _rows(kinds: npt.NDArray[np.int64], made: Numbers, found: Numbers) -> pd.DataFrame:
    """The rows of one group: made is months × hours, found months × hours × species."""
    month, hour, cells = _activity(made, found)
    activity = np.concatenate([hour[None], month[1:, None] * hour[None] * cells[1:]])
    lists = np.concatenate([made.sum(axis=0, keepdims=True), made[1:]])
    with_it = np.concatenate([found.sum(axis=0, keepdims=True), found[1:]])
    months, hours = np.arange(_MONTHS)[:, None, None], np.arange(_HOURS)[None, :, None]
    shown = np.broadcast_to((lists[:, :, None] > 0) | (months == 0), with_it.shape)
    number = np.broadcast_to(lists[:, :, None], with_it.shape)[shown]
    safe = np.where(number > 0, number, np.nan)
    low, high = share_limits(with_it[shown], number)
    return pd.DataFrame(
        {
            "species_id": np.broadcast_to(kinds, with_it.shape)[shown],
            "month": np.broadcast_to(months, with_it.shape)[shown],
            "hour": np.broadcast_to(hours, with_it.shape)[shown],
            "lists": number.astype(np.int64),
            "finds": with_it[shown].astype(np.int64),
            "rate": with_it[shown] / safe,
            "rate_low": low,
            "rate_high": high,
            "activity": activity[shown],
            "can_say": number >= FEW_LISTS,
        }
    )


def _activity(made: Numbers, found: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Of the months and of the hours, each with the other taken out in turns, and of each cell once both are."""
    even = made[:, :, None] * found.sum(axis=(0, 1)) / made.sum()
    month, hour = np.ones((_MONTHS, 1, found.shape[2])), np.ones((1, _HOURS, found.shape[2]))
    for _ in range(_TURNS):
        month = _drawn(found.sum(axis=1, keepdims=True), (even * hour).sum(axis=1, keepdims=True))
        month[0] = 1.0
        hour = _drawn(found.sum(axis=0, keepdims=True), (even * month).sum(axis=0, keepdims=True))
    by_month, by_hour = (even * month).sum(axis=0), (even * hour).sum(axis=1)
    smooth_hour = _drawn(_ring(found.sum(axis=0)), _ring(by_month))
    smooth_month = _drawn(_ring(found.sum(axis=1), first=1), _ring(by_hour, first=1))
    return smooth_month, smooth_hour, _drawn(found, even * smooth_month[:, None] * smooth_hour[None])


def _drawn(found: Numbers, expected: Numbers) -> Numbers:
    answer: Numbers = (found + CAUTION) / (expected + CAUTION)
    return answer


def _ring(counts: Numbers, first: int = 0) -> Numbers:
    """Counts round the clock or the year, each with a quarter of its two neighbours; rows before ``first`` stay."""
    ring = counts[first:]
    around = ring + 0.25 * (np.roll(ring, 1, axis=0) + np.roll(ring, -1, axis=0))
    return np.concatenate([counts[:first], around])
