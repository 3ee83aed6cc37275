"""Effort: how hard each square has been looked at in each date class, counted in DuckDB."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import EFFORT
from gapmap.coverage.counted import IN_ONE_MONTH, IN_ONE_YEAR, by_class_sql, counted_sql, counts_sql, year_sql
from gapmap.coverage.finds import MOST_GROUPED, Finds, find_finds, ranges_of_squares
from gapmap.coverage.gaps import with_gaps
from gapmap.records.table import Records
from gapmap.typed import DateClass

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
    finds = find_finds(records, side, classes)
    of_ranges = [
        _count_lists(connection, finds, counts_sql(records), classes, own)
        for own in ranges_of_squares(records, finds, MOST_GROUPED)
    ]
    totals, *parts, months = (pd.concat(part) for part in zip(*of_ranges, strict=True))
    written = connection.execute(_written_sql(counted_sql(records, side, classes))).df()
    frame = _every_square_and_class(totals, squares, len(classes))
    for part in (totals, *parts, written):
        frame = frame.merge(part, on=["square", "date_class"], how="left")
    frame.insert(3, "species", frame.pop("species"))
    for name in _COUNTS:
        frame[name] = frame[name].fillna(0).astype(np.int64)
    return EFFORT.check(with_gaps(frame, months.groupby(["date_class", "month"], as_index=False).sum()))


def _count_lists(
    connection: duckdb.DuckDBPyConnection, finds: Finds, counts: str, classes: Sequence[DateClass], own: str
) -> list[pd.DataFrame]:
    """What the lists of some whole squares come to; ``own`` is the SQL condition that says which squares."""
    connection.execute(f"create or replace temp table gapmap_lists as {_lists_sql(finds, counts, own)}")
    species, years = _species_sql(finds, counts, own), _years_sql(finds, own)
    queries = (_TOTALS, species, years, _LISTS, _BUSIEST, _undated_sql(classes), _AREA_MONTHS)
    counted = [connection.execute(sql).df() for sql in queries]
    connection.execute("drop table gapmap_lists")
    return counted


_TOTALS = f"""
    select square, coalesce(date_class, -1)::integer as date_class, sum(records)::bigint as records,
        count(distinct people_id) filter (people_id > 0) as recorders,
        count(distinct year(date_from)) filter ({IN_ONE_YEAR}) as years,
        coalesce(bit_or(1 << (month(date_from) - 1)::integer) filter ({IN_ONE_MONTH}), 0) as months,
        bit_or(hours) as hours
    from gapmap_lists {by_class_sql("square")}
"""

_LISTS = f"""
    select square, coalesce(date_class, -1)::integer as date_class,
        count(*) as lists, count(*) filter (is_visit) as visits,
        count(distinct date_from) filter (is_visit) as days,
        count(*) filter (hours & 6 <> 0) as night_visits,
        count(*) filter (length <= 1) as single_lists,
        count(*) filter (length in (2, 3)) as short_lists,
        count(*) filter (length >= 4) as long_lists,
        max(length) as longest_list, median(length)::double as median_list
    from gapmap_lists where in_list {by_class_sql("square")}
"""

_BUSIEST = f"""
    with people as (
        select square, people_id, coalesce(date_class, -1)::integer as date_class, sum(records) as records
        from gapmap_lists {by_class_sql("square", "people_id")}
    )
    select square, date_class,
        (max(records) filter (people_id > 0) / sum(records))::double as busiest_share
    from people group by square, date_class
"""

#: Over all squares: how many finds, and on how many lists, each month brought in each class.
_AREA_MONTHS = f"""
    select coalesce(date_class, -1)::integer as date_class, month(date_from)::integer as month,
        sum(finds)::bigint as finds, count(*) as lists
    from gapmap_lists where in_list and {IN_ONE_MONTH} {by_class_sql("month(date_from)")}
"""


def _lists_sql(finds: Finds, counts: str, own: str) -> str:
    """Lists of the squares, and what was found on none, with their finds summed up."""
    return f"""
        select square, {finds.date_from} as date_from, {finds.date_to} as date_to, greatest(who, 0) as people_id,
            nullif({finds.date_class}, -1) as date_class, {finds.in_list} as in_list,
            is_visit, length, finds, records, hours
        from (
            select square, span, who, bool_or(is_visit) as is_visit, count(*) filter ({counts}) as length,
                count(*) as finds, sum(records)::bigint as records, bit_or(hours)::integer as hours
            from {finds.table} where {own} group by square, span, who
        )
    """


def _species_sql(finds: Finds, counts: str, own: str) -> str:
    """Species of each square, in each class and over all dates."""
    return f"""
        with found as (
            select square, species_id, {finds.date_class} as date_class
            from {finds.table} where {own} and {counts} group by all
        )
        select square, date_class, count(*) as species from found where date_class >= 0 group by square, date_class
        union all
        select square, -1, count(*) from (select distinct square, species_id from found) group by square
    """


def _years_sql(finds: Finds, own: str) -> str:
    """First and last year of each square: those of its species, so that none was found before the square was."""
    return f"""
        with dated as (
            select square, species_id, nullif({finds.date_class}, -1) as date_class,
                {finds.date_from} as date_from, {finds.date_to} as date_to
            from {finds.table} where {own}
        ),
        found as (
            select square, coalesce(date_class, -1)::integer as date_class,
                {year_sql("min")} as first, {year_sql("max")} as last
            from dated {by_class_sql("square", "species_id")}
        )
        select square, date_class, min(nullif(first, 0)) as first, max(last) as last from found group by all
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
        f"select square, {index} as date_class, sum(records)::bigint as undated from gapmap_lists "
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
