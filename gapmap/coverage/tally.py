"""The tally: how often each species was found in each square and date class, counted in DuckDB."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from gapmap.columns import FINDS, LISTS, NO_SQUARE, TALLY
from gapmap.coverage.counted import COUNTED, LIST_KEY, by_class_sql, class_sql, counted_sql, year_sql
from gapmap.coverage.hours import darkness_sql
from gapmap.grid.squares import SIDES, place_in, place_sql
from gapmap.records.table import Records
from gapmap.settings import DateClass


def tally(records: Records, side: int, classes: Sequence[DateClass]) -> pd.DataFrame:
    """Count records, visits and lists of each species in each square and date class.

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
    DataFrame
        As in columns.TALLY, ordered by square, species and class, and also ``counts`` (whether the name
        counts as a species of its own) and ``known_from`` (the first class before which it was known in the
        square; the number of classes when there is none). Records too coarse for the square are not in it.
    """
    frame = records.connection.execute(tally_sql(records, side, classes)).df()
    return TALLY.check(frame)


def tally_sql(records: Records, side: int, classes: Sequence[DateClass]) -> str:
    """SQL of the whole tally over the relation ``records``: one statement, so that any engine can be given it."""
    return f"""
        with counted as ({counted_sql(records, side, classes)}),
        finds as (
            select {LIST_KEY}, species_id, any_value(counts) as counts, any_value(date_class) as date_class,
                any_value(in_list) as in_list, bool_or(is_visit) as is_visit, count(*) as records,
                min(known_from) as known_from
            from counted where square >= 0 group by {LIST_KEY}, species_id
        )
        select square, species_id, coalesce(date_class, -1)::integer as date_class,
            sum(records)::bigint as records,
            count(*) filter (in_list and is_visit) as visits,
            count(*) filter (in_list) as lists,
            {year_sql("min")} as first, {year_sql("max")} as last,
            counts, min(known_from)::integer as known_from
        from finds {by_class_sql("square", "species_id", "counts")}
        order by square, species_id, date_class
    """


def lists_and_finds(
    records: Records, side: int, classes: Sequence[DateClass]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Fetch every list at the map's size, and the species on it.

    Lists of the same people over the same dates in one square are one list, which keeps the lowest of their
    numbers; where their own references differ, its place is the square. Lists that nobody signed and that lack
    their day stay apart. A list too coarse for the square keeps its own place, with square -1. Records whose
    dates span more than a year are on no list.

    Parameters
    ----------
    records, side, classes
        As for :func:`tally`.

    Returns
    -------
    (DataFrame, DataFrame)
        As in columns.LISTS and columns.FINDS, ordered by list and species. ``length`` counts names that count
        as species.
    """
    finds_sql = f"""
        with counted as ({counted_sql(records, side, classes)}),
        own as (
            select *, {darkness_sql(records)} as dark from counted where in_list
        ),
        merged as (
            select {LIST_KEY}, min(list_id) as list_id from own group by {LIST_KEY}
        )
        select merged.list_id as merged_id, own.* exclude (list_id)
        from own join merged on own.own_list = merged.own_list and own.square = merged.square
            and own.people_id = merged.people_id
            and own.date_from is not distinct from merged.date_from
            and own.date_to is not distinct from merged.date_to
    """
    lists = records.connection.execute(f"""
        with placed as ({finds_sql})
        select merged_id as list_id, any_value(square) as square,
            any_value(system)::bigint as system,
            min(easting)::bigint as easting, min(northing)::bigint as northing,
            max(easting)::bigint as easting_max, max(northing)::bigint as northing_max,
            max(precision_m)::bigint as precision_m,
            any_value(date_from) as date_from, any_value(date_to) as date_to,
            (case when year(any_value(date_from)) = year(any_value(date_to))
                then year(any_value(date_from)) else 0 end)::integer as year,
            (case when date_trunc('month', any_value(date_from)) = date_trunc('month', any_value(date_to))
                then month(any_value(date_from)) else 0 end)::integer as month,
            coalesce(any_value(date_class), -1)::integer as date_class,
            bool_or(is_visit) as is_visit, any_value(people_id)::bigint as people_id,
            case count(distinct dark) filter (dark <> '')
                when 0 then '' when 1 then max(dark) else 'several' end as time_of_day,
            case count(distinct method) filter (method <> '') when 1 then max(method) else '' end as method,
            count(distinct species_id) filter (counts) as length
        from placed group by merged_id order by merged_id
    """).df()
    finds = records.connection.execute(f"""
        with placed as ({finds_sql})
        select merged_id as list_id, species_id::bigint as species_id, count(*) as records
        from placed group by merged_id, species_id order by merged_id, species_id
    """).df()
    return LISTS.check(_with_one_place(lists, side)), FINDS.check(finds)


def too_coarse(records: Records, side: int) -> int:
    """Count the records that count but cannot be put in a square of this side (metres)."""
    return _how_many(records, f"({place_sql(side)}) < 0")


def too_coarse_squares(records: Records, side: int) -> pd.DataFrame:
    """Where the records are that are too coarse for squares of this side: the smallest squares that hold them.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square in metres.

    Returns
    -------
    DataFrame
        ``square`` (packed, each once, larger than the map's) and ``records``. Records that no square of the
        grid holds whole, such as one of the whole country, are not in it.
    """
    coarse = records.connection.execute(f"""
        select system, easting, northing, precision_m, is_point, count(*) as records
        from records where {COUNTED} and ({place_sql(side)}) < 0 group by all
    """).df()
    system, easting, northing = (coarse[name].to_numpy() for name in ("system", "easting", "northing"))
    width, is_point = coarse["precision_m"].to_numpy(), coarse["is_point"].to_numpy()
    square = np.full(len(coarse), NO_SQUARE, dtype=np.int64)
    for larger in sorted(each for each in SIDES if each > side):
        placed = place_in(system, easting, northing, width, is_point, larger)
        square = np.where(square == NO_SQUARE, placed, square)
    counts = coarse.assign(square=square).groupby("square")["records"].sum().astype("int64").reset_index()
    return counts[counts["square"] != NO_SQUARE].reset_index(drop=True)


def across_classes(records: Records, classes: Sequence[DateClass]) -> int:
    """Count the records that count but whose dates lie in no single date class."""
    return _how_many(records, f"({class_sql(classes)}) is null")


def _how_many(records: Records, condition: str) -> int:
    [(count,)] = records.connection.execute(
        f"select count(*) from records where {COUNTED} and {condition}"
    ).fetchall()
    return int(count)


def _with_one_place(lists: pd.DataFrame, side: int) -> pd.DataFrame:
    """Give a list whose own references differ the square as its place."""
    spread = (lists["easting"] != lists["easting_max"]) | (lists["northing"] != lists["northing_max"])
    spread &= lists["square"] >= 0
    placed = lists.drop(columns=["easting_max", "northing_max"])
    placed["easting"] = placed["easting"].where(~spread, placed["easting"] // side * side)
    placed["northing"] = placed["northing"].where(~spread, placed["northing"] // side * side)
    placed["precision_m"] = placed["precision_m"].where(~spread, side)
    return placed
