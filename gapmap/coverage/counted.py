"""Which records count, in which square and in which date class: one SQL query the counting starts from.

A record somebody did not accept does not count. A record whose dates reach across a class boundary
belongs to no class (NULL here) and counts in the total over all dates only.

At the map's size a *list* is everything the same people noted in the same square over the same dates: a
recorder who gave every find its own 10 m reference on one walk made one visit to the square, not forty. Only
where nobody is named and the day is not known does each reference keep its own list, as nothing says that the
same people made them. A record too coarse for the square keeps its own list too.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from gapmap.grid.squares import place_sql
from gapmap.records.table import ON_A_LIST, Records
from gapmap.typed import DateClass

#: What makes a list at the map's size.
LIST_KEY = "square, date_from, date_to, people_id, own_list"

#: SQL: the month of a record, or of a list, is known; a visit over two days running has that of its first day.
IN_ONE_MONTH = "coalesce(is_visit or date_trunc('month', date_from) = date_trunc('month', date_to), false)"
#: SQL: the year of a record, or of a list, is known; a visit over two days running has that of its first day.
IN_ONE_YEAR = "coalesce(is_visit or year(date_from) = year(date_to), false)"


def counted_sql(records: Records, side: int, classes: Sequence[DateClass]) -> str:
    """SQL for the records that count, each with its square and date class.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square in metres.
    classes
        Date classes in the order of time.

    Returns
    -------
    str
        A query over ``records`` with every column of it and also ``square`` (-1 when too coarse),
        ``date_class`` (NULL when the dates lie in none), ``in_list``, ``known_from`` (the first class that
        begins after the record's last day; the number of classes when there is none), ``counts``
        (whether its name counts as a species of its own) and ``own_list`` (the list's number where it is kept
        apart from others of the square, else -1).
    """
    return f"""
        with placed as (
            select * replace (date_from::date as date_from, date_to::date as date_to),
                ({place_sql(side)})::bigint as square,
                {class_sql(classes)} as date_class,
                {known_from_sql(classes)} as known_from,
                {ON_A_LIST} as in_list,
                {counts_sql(records)} as counts
            from records where {COUNTED}
        )
        select *, case when square < 0 or (people_id = 0 and not is_visit) then list_id else -1 end as own_list
        from placed
    """


#: Condition on ``records``: it counts.
COUNTED = "coalesce(status, '') <> 'not accepted'"


def class_sql(classes: Sequence[DateClass]) -> str:
    """SQL for the class that holds the whole of a record's dates; NULL when none does.

    Examples
    --------
    >>> import duckdb
    >>> from gapmap.typed import text_to_classes
    >>> sql = class_sql(text_to_classes("-2000, 2001-"))
    >>> one_day, new_year = "(date '1999-05-01', date '1999-05-01')", "(date '2000-12-01', date '2001-01-05')"
    >>> dates = f"(values {one_day}, {new_year}, (NULL, date '1950-12-31')) t(date_from, date_to)"
    >>> duckdb.sql(f"select {sql} from {dates}").fetchall()
    [(0,), (None,), (0,)]
    """
    cases = [
        f"when coalesce(date_from::date, {_day(date.min)}) >= {_day(one.first_day)} "
        f"and coalesce(date_to::date, {_day(date.max)}) <= {_day(one.last_day)} then {index}"
        for index, one in enumerate(classes)
    ]
    return f"(case {' '.join(cases)} end)::integer" if cases else "NULL::integer"


def known_from_sql(classes: Sequence[DateClass]) -> str:
    """SQL for the first class that begins after the record's last day; their number when none does."""
    cases = [
        f"when date_to::date < {_day(one.first_day)} then {index}" for index, one in enumerate(classes)
    ]
    return f"(case {' '.join(cases)} else {len(classes)} end)::integer" if cases else "0"


def year_sql(which: str) -> str:
    """SQL aggregate for the first (``min``) or last (``max``) year of a group of records; 0 when unknown.

    Records that lie in one year decide. Where a group has none, the outer end of the wider dates stands in,
    so that a species known only from "1950 to 1975" has a first and a last year and is not taken for new.
    """
    outer = "date_from" if which == "min" else "date_to"
    inner = "date_to" if which == "min" else "date_from"
    return (
        f"coalesce({which}(year(date_from)) filter (year(date_from) = year(date_to)), "
        f"{which}(year({outer})), {which}(year({inner})), 0)::integer"
    )


def by_class_sql(*keys: str) -> str:
    """SQL clause that groups by the keys within each date class, and once more over all dates."""
    names = ", ".join(keys)
    return (
        f"group by grouping sets (({names}, date_class), ({names})) "
        "having grouping(date_class) = 1 or date_class is not null"
    )


def _day(day: date) -> str:
    return f"date '{day.isoformat()}'"


def counts_sql(records: Records) -> str:
    """SQL condition: the species counts as one of its own."""
    others = records.species.loc[~records.species["counts"].astype(bool), "species_id"]
    return f"species_id not in ({', '.join(str(int(one)) for one in others)})" if len(others) else "true"
