"""Plain days and years of a whole column read at once."""

from __future__ import annotations

from datetime import date

import numpy as np
import numpy.typing as npt

from gapmap.records.dates.texts import EARLIEST_YEAR

_Days = npt.NDArray[np.datetime64]
_Numbers = npt.NDArray[np.int64]


_DAY_FIRST = "../../...."
#: How a plain date is written: its length, the places of year, month and day, its marks (a full stop is a
#: digit).
_PATTERNS = (
    (10, ((0, 1, 2, 3), (5, 6), (8, 9)), "....-..-.."),
    (10, ((6, 7, 8, 9), (3, 4), (0, 1)), _DAY_FIRST),
    (19, ((0, 1, 2, 3), (5, 6), (8, 9)), "....-..-.. 00:00:00"),
    (19, ((0, 1, 2, 3), (5, 6), (8, 9)), "....-..-..T00:00:00"),
    (4, ((0, 1, 2, 3), (), ()), "...."),
)


def plain_days(
    column: list[str], today: date, *, month_first: bool = False
) -> tuple[_Days, _Days, npt.NDArray[np.str_]]:
    """Days written 1998-05-12, 12/05/1998 or as a midnight, and years, read all at once.

    Parameters
    ----------
    month_first
        Whether 12/05/1998 is 5 December.

    Returns
    -------
    tuple
        First days, last days (datetime64[s]) and kinds: ``day``, ``year``, or empty where it is no plain
        date, is no possible day, is before the earliest year or still to come.

    Examples
    --------
    >>> plain_days(["1998-05-12", "1998", "31/02/1998"], date(2026, 6, 1))[2].tolist()
    ['day', 'year', '']
    """
    count = len(column)
    first = np.full(count, np.datetime64("NaT", "s"))
    last, kinds = first.copy(), np.full(count, "", dtype="U4")
    lengths = np.fromiter(map(len, column), np.int64, count)
    for length, places, marks in _PATTERNS:
        rows = np.flatnonzero((lengths == length) & np.isnat(first))
        if not rows.size:
            continue
        texts = column if rows.size == count else [column[row] for row in rows]
        letters = np.array(texts, dtype=f"U{length}").view(np.uint32).reshape(rows.size, length)
        fits = _matches(letters, marks)
        if not fits.any():
            continue
        year, month, day = (_number(letters, at) for at in places)
        if month_first and marks == _DAY_FIRST:
            month, day = day, month
        if places[1]:
            starts = ends = _days(year, month, day)
            fits &= (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31)
            fits &= (starts.astype("datetime64[M]").astype(np.int64) % 12 + 1) == month
        else:
            starts, ends = _days(year, month + 1, day + 1), _days(year, month + 12, day + 31)
        fits &= (year >= EARLIEST_YEAR) & (starts <= np.datetime64(today, "D"))
        found = rows[fits]
        first[found], last[found], kinds[found] = starts[fits], ends[fits], "day" if places[1] else "year"
    return first, last, kinds


def _matches(letters: npt.NDArray[np.uint32], marks: str) -> npt.NDArray[np.bool_]:
    fits = np.ones(len(letters), dtype=bool)
    for place, mark in enumerate(marks):
        column = letters[:, place]
        fits &= (column >= 48) & (column <= 57) if mark == "." else column == ord(mark)
    return fits


def _number(letters: npt.NDArray[np.uint32], places: tuple[int, ...]) -> _Numbers:
    value: _Numbers = np.zeros(len(letters), dtype=np.int64)
    for place in places:
        value = value * 10 + (letters[:, place].astype(np.int64) - 48)
    return value


def _days(year: _Numbers, month: _Numbers, day: _Numbers) -> _Days:
    """Days of possible months; a day beyond the month's end runs into the next month."""
    months = (np.clip(year, 1, 9998) - 1970) * 12 + np.clip(month, 1, 12) - 1
    firsts = months.astype("datetime64[M]").astype("datetime64[D]")
    days: _Days = firsts + (np.clip(day, 1, 31) - 1).astype("timedelta64[D]")
    return days
