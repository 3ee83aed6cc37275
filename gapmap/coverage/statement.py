"""The tally as one relational statement, for engines that records are not to leave."""

from __future__ import annotations

from collections.abc import Sequence

from gapmap.coverage.counted import LIST_KEY, by_class_sql, counted_sql, year_sql
from gapmap.records.table import Records
from gapmap.typed import DateClass


def tally_sql(records: Records, side: int, classes: Sequence[DateClass]) -> str:
    """SQL of the whole tally over the relation ``records``, which :func:`gapmap.coverage.tally.tally` counts quicker.

    Parameters
    ----------
    records, side, classes
        As for :func:`gapmap.coverage.tally.tally`.

    Returns
    -------
    str
        One statement with the columns and the order of the tally, so that any engine can be given it.
    """
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
