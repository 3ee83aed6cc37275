"""Effort: how hard each square has been looked at in each date class, counted in DuckDB."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import EFFORT
from gapmap.coverage.counted import LIST_KEY, by_class_sql, counted_sql, year_sql
from gapmap.coverage.gaps import with_gaps
from gapmap.coverage.hours import darkness_sql
from gapmap.records.table import Records
from gapmap.settings import DateClass

_COUNTS = (
    "records", "species", "visits", "lists", "recorders", "days", "years", "months", "night_visits",
    "single_lists", "short_lists", "long_lists", "longest_list", "hours", "methods", "habitats", "first",
    "last", "undated",
)


def effort(
    records: Records,
    side: int,
    classes: Sequence[DateClass],
    squares: npt.ArrayLike | None = None,
) -> pd.DataFrame:
    """Measure how hard each square has been looked at.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square in metres.
    classes
        Date classes in the order of time.
    squares
        Packed squares that belong to the area, int64 of any shape: those without a record get rows of zeros.

    Returns
    -------
    DataFrame
        As in columns.EFFORT, one row for every square and every class (also where nothing is known) and the
        total, ordered by square and class. Also:

        ``short_lists``, ``long_lists``
            lists with two or three species, with four or more (``single_lists`` have one);
        ``longest_list``
            species on the longest list;
        ``hours``
            bit set of the hours known to be covered: 1 day, 2 dusk, 4 night;
        ``methods``, ``habitats``
            how many different ones are written down;
        ``undated``
            records of the square that may belong to this class but whose dates reach beyond it;
        ``not_done``
            what has not been done there, in words;
        ``best_month``, ``best_time``
            the month (1 to 12; 0 when it cannot be said) and the time of day that would add most to what is
            covered.
    """
    connection = records.connection
    counted = counted_sql(records, side, classes)
    connection.execute(f"""
        create or replace temp table gapmap_finds as
        with counted as (select *, {darkness_sql(records)} as dark from ({counted}) where square >= 0)
        select {LIST_KEY}, species_id, any_value(counts) as counts, any_value(date_class) as date_class,
            any_value(in_list) as in_list, bool_or(is_visit) as is_visit, count(*) as records,
            bool_or(dark = 'day') as by_day, bool_or(dark = 'dusk') as at_dusk, bool_or(dark = 'night') as at_night
        from counted group by {LIST_KEY}, species_id
    """)
    queries = (_TOTALS, _LISTS, _BUSIEST, _written_sql(counted), _undated_sql(classes))
    parts = [connection.execute(sql).df() for sql in queries]
    months = connection.execute(_AREA_MONTHS).df()
    connection.execute("drop table gapmap_finds")
    frame = _every_square_and_class(parts[0], squares, len(classes))
    for part in parts:
        frame = frame.merge(part, on=["square", "date_class"], how="left")
    for name in _COUNTS:
        frame[name] = frame[name].fillna(0).astype(np.int64)
    return EFFORT.check(with_gaps(frame, months))


_ONE_MONTH = "date_trunc('month', date_from) = date_trunc('month', date_to)"

_TOTALS = f"""
    select square, coalesce(date_class, -1)::integer as date_class,
        sum(records)::bigint as records, count(distinct species_id) filter (counts) as species,
        count(distinct people_id) filter (people_id > 0) as recorders,
        count(distinct year(date_from)) filter (year(date_from) = year(date_to)) as years,
        coalesce(bit_or(1 << (month(date_from) - 1)::integer) filter ({_ONE_MONTH}), 0) as months,
        bit_or(by_day::integer + 2 * at_dusk::integer + 4 * at_night::integer) as hours,
        {year_sql("min")} as first, {year_sql("max")} as last
    from gapmap_finds {by_class_sql("square")}
"""

_LISTS = f"""
    with lists as (
        select {LIST_KEY}, date_class, bool_or(is_visit) as is_visit, count(*) filter (counts) as length,
            bool_or(at_dusk or at_night) as in_the_dark
        from gapmap_finds where in_list group by {LIST_KEY}, date_class
    )
    select square, coalesce(date_class, -1)::integer as date_class,
        count(*) as lists, count(*) filter (is_visit) as visits,
        count(distinct date_from) filter (is_visit) as days,
        count(*) filter (in_the_dark) as night_visits,
        count(*) filter (length <= 1) as single_lists,
        count(*) filter (length in (2, 3)) as short_lists,
        count(*) filter (length >= 4) as long_lists,
        max(length) as longest_list, median(length)::double as median_list
    from lists {by_class_sql("square")}
"""

_BUSIEST = f"""
    with people as (
        select square, people_id, coalesce(date_class, -1)::integer as date_class, sum(records) as records
        from gapmap_finds {by_class_sql("square", "people_id")}
    )
    select square, date_class,
        (max(records) filter (people_id > 0) / sum(records))::double as busiest_share
    from people group by square, date_class
"""

#: Over the whole area: how many finds, and on how many lists, each month brought in each class.
_AREA_MONTHS = f"""
    select coalesce(date_class, -1)::integer as date_class, month(date_from)::integer as month,
        count(*) as finds, count(distinct ({LIST_KEY})) as lists
    from gapmap_finds where in_list and {_ONE_MONTH} {by_class_sql("month(date_from)")}
"""


def _written_sql(counted: str) -> str:
    """Different methods and habitats written down."""
    return f"""
        select square, coalesce(date_class, -1)::integer as date_class,
            count(distinct method) filter (method <> '') as methods,
            count(distinct habitat) filter (habitat <> '') as habitats
        from ({counted}) where square >= 0 and (method <> '' or habitat <> '') {by_class_sql("square")}
    """


def _undated_sql(classes: Sequence[DateClass]) -> str:
    """Records in no class whose dates touch this class."""
    touching = [
        f"select square, {index} as date_class, sum(records)::bigint as undated from gapmap_finds "
        f"where date_class is null and coalesce(date_from, date '0001-01-01') <= date '{one.last_day}' "
        f"and coalesce(date_to, date '9999-12-31') >= date '{one.first_day}' group by square"
        for index, one in enumerate(classes)
    ]
    none = "select 0::bigint as square, 0 as date_class, 0::bigint as undated where false"
    return " union all ".join([none, *touching])


def _every_square_and_class(
    found: pd.DataFrame, squares: npt.ArrayLike | None, classes: int
) -> pd.DataFrame:
    """One row for every square, of the records or of the area, and every class and the total."""
    known = found["square"].to_numpy(dtype=np.int64)
    area = np.empty(0, np.int64) if squares is None else np.asarray(squares, dtype=np.int64).ravel()
    every = np.unique(np.concatenate([known, area[area >= 0]]))
    return pd.DataFrame({
        "square": np.repeat(every, classes + 1),
        "date_class": np.tile(np.arange(-1, classes), len(every)),
    })
