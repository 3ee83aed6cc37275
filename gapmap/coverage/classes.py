"""Three sensible date classes when nobody chose any: the current, the one before it, and all earlier."""

from __future__ import annotations

from gapmap.coverage.counted import COUNTED
from gapmap.records.table import Records
from gapmap.typed import DateClass


def choose_classes(records: Records) -> tuple[DateClass, ...]:
    """Choose date classes from the years of the records.

    Parameters
    ----------
    records
        The cleaned records; those dated within one year decide.

    Returns
    -------
    tuple of DateClass
        Three classes in the order of time, fewer where the records span fewer than three years; one class of
        all years where no record says its year.
    """
    [(first, last)] = records.connection.execute(f"""
        select quantile_disc(year(date_from), 0.01), max(year(date_from)) from records
        where {COUNTED} and year(date_from) = year(date_to)
    """).fetchall()
    return (DateClass(),) if last is None else years_to_classes(int(first), int(last))


def years_to_classes(first: int, last: int) -> tuple[DateClass, ...]:
    """Cut a span of years in three at round years, the last class at least half as long as the middle one.

    Decades for a span of thirty years or more, runs of five years for twelve or more (decades begin in a year
    ending in 1; common practice, no source), else thirds of the span.

    Examples
    --------
    >>> [one.label for one in years_to_classes(1991, 2021)]
    ['to 2000', '2001–2010', 'from 2011']
    >>> [one.label for one in years_to_classes(2000, 2016)]
    ['to 2005', '2006–2010', 'from 2011']
    >>> [one.label for one in years_to_classes(2019, 2024)]
    ['to 2020', '2021–2022', 'from 2023']
    >>> [one.label for one in years_to_classes(2024, 2024)]
    ['all years']
    """
    span = last - first + 1
    if span == 1:
        return (DateClass(),)
    if span == 2:
        return (DateClass(last=first), DateClass(first=last))
    step = 10 if span >= 30 else 5 if span >= 12 else span // 3
    current = last - step + 1 if step < 5 else last - (last - 1) % step
    if last - current + 1 < step / 2:
        current -= step
    return (
        DateClass(last=current - step - 1),
        DateClass(first=current - step, last=current - 1),
        DateClass(first=current),
    )
