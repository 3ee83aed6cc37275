"""Dates of records in words."""

from __future__ import annotations

import pandas as pd


def date_words(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """Dates as people read them: whole years, whole months or days; one, or from and to.

    Examples
    --------
    >>> date_words(pd.Timestamp(2016, 5, 1), pd.Timestamp(2016, 5, 31)), date_words(pd.NaT, pd.NaT)
    ('May 2016', 'no date')
    """
    if pd.isna(first) and pd.isna(last):
        return "no date"
    say = _year if _are_whole(first, last, "%m-%d") else _month if _are_whole(first, last, "%d") else _day
    if pd.isna(first):
        return f"{say(last)} or before"
    if pd.isna(last):
        return f"{say(first)} or later"
    return say(first) if say(first) == say(last) else f"{say(first)} to {say(last)}"


def _are_whole(first: pd.Timestamp, last: pd.Timestamp, part: str) -> bool:
    """Whether years (months) begin with the first day and end with the last, where these are known."""
    ends = [day for day in (first, last + pd.Timedelta(days=1)) if not pd.isna(day)]
    return all(set(day.strftime(part).split("-")) == {"01"} for day in ends)


def _year(day: pd.Timestamp) -> str:
    return str(day.year)


def _month(day: pd.Timestamp) -> str:
    return f"{day:%B} {day.year}"


def _day(day: pd.Timestamp) -> str:
    return f"{day.day} {day:%B} {day.year}"
