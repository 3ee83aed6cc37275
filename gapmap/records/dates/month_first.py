"""Files whose dates put the month before the day: how to tell them, and how to read them once the organiser says so.

Nothing is switched in silence: a file that looks month first is read day first all the same, and it says so loudly.
"""

from __future__ import annotations

import re

from gapmap.records.dates.days import CannotBeError

_YEAR = r"(?:\d{4}|'?\d{2})(?!\d)"
#: Two numbers before a year, or before a range whose other end has one.
_NUMBERS = re.compile(
    rf"(?<![\d/.-])(\d{{1,2}})(\s?[-/.]\s?|\s)(\d{{1,2}})(?=\2{_YEAR}|\s*(?:-|to)\s*\d{{1,2}}\2\d{{1,2}}\2{_YEAR})"
)
_HEADER = re.compile(r"\bm{1,2}\s*[-/. ]\s*d{1,2}\s*[-/. ]\s*y", re.IGNORECASE)


def with_day_first(plain: str) -> str:
    """A plain date with its day before its month, when it was written in numbers with the month first.

    Examples
    --------
    >>> with_day_first("5/13/1998"), with_day_first("5/13 - 6/2/98"), with_day_first("1998-05-13")
    ('13/5/1998', '13/5 - 2/6/98', '1998-05-13')
    >>> with_day_first("12-14 may 2010")
    '12-14 may 2010'
    """
    return _NUMBERS.sub(r"\3\2\1", plain)


def day_first_again(fault: CannotBeError) -> CannotBeError:
    """What is wrong with a date of a file that is read month first, in words that fit it."""
    words = fault.words.replace("when the day comes first", "when the month comes first")
    suggestion = fault.suggestion.replace("if the month was written first", "if the day was written first")
    code = "day before month" if fault.code == "month before day" else fault.code
    return CannotBeError(code, words, suggestion)


def says_month_first(header: str) -> bool:
    """Whether a header itself says that the month comes first.

    Examples
    --------
    >>> says_month_first("Date (mm/dd/yyyy)"), says_month_first("Date (dd/mm/yyyy)"), says_month_first("Date")
    (True, False, False)
    """
    return _HEADER.search(header) is not None
