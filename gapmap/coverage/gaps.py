"""What has not been done in a square, in words, and what the next visit should therefore be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

#: Months as people write them in full.
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)
#: A month counts as a season of the area when it brings at least this share of the finds of its best month.
_IN_SEASON = 0.2
#: Lists from which it is worth saying what has not been done: a square hardly visited has not had most months, and a
#: month of hardly a list tells no season.
_ENOUGH_TO_SAY = 3


def with_gaps(effort: pd.DataFrame, area_months: pd.DataFrame) -> pd.DataFrame:
    """Add what has not been done, and the best month and time of day for the next visit.

    Parameters
    ----------
    effort
        Square × date class with ``months``, ``hours`` and ``lists``.
    area_months
        Date class × month over the whole area with ``finds`` and ``lists``.

    Returns
    -------
    DataFrame
        The effort with ``not_done``, ``best_month`` and ``best_time``. A month in which the area brings
        hardly any finds, or had hardly a list, is not called missing nor best; nothing is said of months or hours the
        records never tell, nor of squares with hardly a list.
    """
    frame = effort.copy()
    night_counts = bool((effort["night_visits"] > 0).any())
    in_season, yields = _seasons(area_months)
    keys = frame["date_class"].to_numpy()
    months = frame["months"].to_numpy()
    months_told = months > 0
    no_night = night_counts & (frame["hours"].to_numpy() > 0) & (frame["hours"].to_numpy() & 6 == 0)
    words: dict[tuple[int, int, bool], tuple[str, int]] = {}
    not_done, best_month = [], np.zeros(len(frame), np.int64)
    columns = zip(keys, months, months_told, no_night, effort["lists"].to_numpy(), strict=True)
    for row, (key, covered, told, dark, lists) in enumerate(columns):
        case = (int(key), int(covered) if told else -1, bool(dark))
        if case not in words:
            words[case] = _said(case, in_season.get(int(key), 0), yields.get(int(key), np.zeros(12)))
        text, best_month[row] = words[case]
        not_done.append(text if lists >= _ENOUGH_TO_SAY else "")
    frame["not_done"] = pd.Series(not_done, index=frame.index, dtype="str")
    frame["best_month"] = best_month
    frame["best_time"] = np.where(no_night, "night", "")
    frame["best_time"] = frame["best_time"].astype("str")
    return frame


def months_to_words(months: int) -> str:
    """Say a bit set of months as runs, round the turn of the year too.

    Examples
    --------
    >>> months_to_words(0b000011100000), months_to_words(0b100000000001), months_to_words(0b001000010000)
    ('June to August', 'December to January', 'May, October')
    >>> months_to_words(0), months_to_words(0b111111111111)
    ('', 'any month')
    """
    if months & 0xFFF == 0xFFF:
        return "any month"
    runs = month_runs([bool(months >> month & 1) for month in range(12)])
    return ", ".join(MONTHS[a] if a == b else f"{MONTHS[a]} to {MONTHS[b]}" for a, b in runs)


def month_runs(inside: Sequence[bool]) -> list[tuple[int, int]]:
    """First and last month, from 0, of each run of months inside, round the turn of the year too; not all twelve.

    Examples
    --------
    >>> month_runs([month in (0, 1, 4, 10, 11) for month in range(12)])
    [(4, 4), (10, 1)]
    """
    starts = [month for month in range(12) if inside[month] and not inside[month - 1]]
    lengths = [next(n for n in range(1, 13) if not inside[(start + n) % 12]) for start in starts]
    return [(start, (start + length - 1) % 12) for start, length in zip(starts, lengths, strict=True)]


def _seasons(area_months: pd.DataFrame) -> tuple[dict[int, int], dict[int, np.ndarray]]:
    """Bit set of the months in season, and finds a list in each month, by date class."""
    in_season: dict[int, int] = {}
    yields: dict[int, np.ndarray] = {}
    for key, rows in area_months.groupby("date_class"):
        finds, lists = np.zeros(12), np.zeros(12)
        finds[rows["month"].to_numpy() - 1] = rows["finds"].to_numpy()
        lists[rows["month"].to_numpy() - 1] = rows["lists"].to_numpy()
        season = (finds >= _IN_SEASON * finds.max()) & (lists >= _ENOUGH_TO_SAY)
        in_season[int(str(key))] = int(sum(1 << int(month) for month in np.flatnonzero(season)))
        yields[int(str(key))] = np.where(season, finds / np.maximum(lists, 1), 0.0)
    return in_season, yields


def _said(case: tuple[int, int, bool], season: int, yields: np.ndarray) -> tuple[str, int]:
    _, covered, no_night = case
    missing = season & ~covered if covered >= 0 else 0
    said = []
    if missing:
        said.append(f"never in {months_to_words(missing)}")
    if no_night:
        said.append("never at dusk or night")
    wanted = missing if missing else season
    inside = np.array([bool(wanted >> month & 1) for month in range(12)])
    best = int(np.argmax(np.where(inside, yields, -1.0))) + 1 if inside.any() else 0
    return "; ".join(said), best
