"""Runs of days: their parts, the day numbers of spreadsheets, days in words, and why a date cannot be."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta
from typing import NamedTuple

#: Years beyond this are refused, so that a run of days can be widened without leaving the calendar.
LATEST_YEAR = 9900
#: Months in their order.
MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)


class CannotBeError(Exception):
    """A date that cannot be: code, what is wrong (after "The date … "), and what was probably meant."""

    def __init__(self, code: str, words: str, suggestion: str = "") -> None:
        self.code, self.words, self.suggestion = code, words, suggestion
        super().__init__(words)


class Interval(NamedTuple):
    """A closed run of days and its kind."""

    first: date
    last: date
    kind: str


def serial_to_day(serial: float) -> date:
    """A spreadsheet's day number in its 1900 date system as the day it shows.

    The system counts 1 January 1900 as 1 and believes in a 29 February 1900, which is number 60 and no day.

    Raises
    ------
    CannotBeError
        The number is below 1, is 60, or lies beyond the year 9999.

    Source: the published description of the 1900 date system and of its leap-year fault.

    Examples
    --------
    >>> serial_to_day(59), serial_to_day(61), serial_to_day(36161.75)
    (datetime.date(1900, 2, 28), datetime.date(1900, 3, 1), datetime.date(1999, 1, 1))
    """
    if not 1 <= serial < 2_958_466:
        raise CannotBeError(
            "date not read",
            "could not be read as a date or as a spreadsheet's day number",
            "a date such as 12 May 1998",
        )
    whole = int(serial)
    if whole == 60:
        raise CannotBeError(
            "impossible date",
            "is 29 February 1900 to a spreadsheet, a day that never was",
            "28 February or 1 March 1900",
        )
    return date(1899, 12, 31) + timedelta(days=whole - (whole > 60))


def shifted_month(day: date, months: int) -> date:
    """The same day some months on, or the last day of that month.

    Examples
    --------
    >>> shifted_month(date(2001, 1, 31), 1)
    datetime.date(2001, 2, 28)
    """
    count = day.year * 12 + day.month - 1 + months
    year, month = count // 12, count % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def thirds(whole: Interval, which: int) -> tuple[date, date, str]:
    """The early (0), middle (1) or late (2) third of a run of days and the kind it has.

    Examples
    --------
    >>> thirds(Interval(date(1987, 6, 1), date(1987, 6, 30), "month"), 2)
    (datetime.date(1987, 6, 21), datetime.date(1987, 6, 30), 'days')
    >>> thirds(Interval(date(1990, 1, 1), date(1999, 12, 31), "decade"), 1)
    (datetime.date(1993, 1, 1), datetime.date(1995, 12, 31), 'years')
    """
    first, last, kind = whole
    if kind in ("decade", "century", "years"):
        years = last.year - first.year + 1
        bounds = [first.year + years * part // 3 for part in range(4)]
        return date(bounds[which], 1, 1), date(bounds[which + 1] - 1, 12, 31), "years"
    if kind in ("year", "season", "months"):
        months = (last.year - first.year) * 12 + last.month - first.month + 1
        begin = shifted_month(first.replace(day=1), months * which // 3)
        end = shifted_month(first.replace(day=1), months * (which + 1) // 3) - timedelta(days=1)
        return begin, end, "months" if begin.month != end.month else "month"
    if kind == "month":
        return (
            first.replace(day=1 + 10 * which),
            last if which == 2 else first.replace(day=10 * which + 10),
            "days",
        )
    return first, last, kind


def day_in_words(day: date) -> str:
    """A day as it is written in a letter.

    Examples
    --------
    >>> day_in_words(date(1998, 5, 12))
    '12 May 1998'
    """
    return f"{day.day} {MONTHS[day.month - 1].capitalize()} {day.year}"
