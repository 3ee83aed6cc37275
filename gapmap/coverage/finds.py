"""Finds: each species once on each list of a square, counted in DuckDB once and shared by tally and effort.

Everything that a find depends on is packed into four whole numbers before it is grouped, which is several times
quicker than grouping by ten columns. When the records are many, they are grouped for some whole squares at a time, in
the order of the squares, so that no group waits on disk and the finds of a square lie together in the table. Whoever
reads it does likewise (:func:`ranges_of_squares`, :func:`in_parts`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from gapmap.coverage.counted import COUNTED, class_sql, known_from_sql
from gapmap.coverage.hours import darkness_sql
from gapmap.grid.packing import SHIFT
from gapmap.grid.squares import place_sql
from gapmap.records.table import ON_A_LIST, Records
from gapmap.typed import DateClass

#: Bits of a day, counted from the year 1; the two outermost numbers stand for an open end.
DAY_BITS = 22
OPEN_START, OPEN_END = 0, (1 << DAY_BITS) - 1
#: Number of 1 January 1970, from which numpy counts its days.
EPOCH = 719_163
#: Finds taken into memory at once.
MOST_AT_ONCE = 4_000_000
#: Rows grouped at once in the database.
MOST_GROUPED = 16_000_000

_PREFIX = "gapmap_finds_"
_UNFINISHED = f"{_PREFIX}unfinished"
_COLUMNS = {
    "square": "bigint",
    "species_id": "integer",
    "span": "bigint",
    "who": "bigint",
    "is_visit": "boolean",
    "records": "bigint",
    "hours": "utinyint",
}


@dataclass(frozen=True)
class Finds:
    """The table of finds in the database.

    Parameters
    ----------
    table
        Its name. Columns: ``square``; ``species_id``; ``span``, which packs the dates and what follows from them;
        ``who``, the people, or the list's own number as ``-1 - list_id`` where nothing says that the same people made
        it; ``is_visit``; ``records``; ``hours``, a bit set of 1 day, 2 dusk, 4 night.
    classes
        How many date classes there are.
    """

    table: str
    classes: int

    @property
    def date_class(self) -> str:
        """SQL: the date class of a find; -1 for none."""
        return f"((span >> 1) % {self.classes + 1} - 1)::integer"

    @property
    def in_list(self) -> str:
        """SQL: whether the find is on a list."""
        return "(span & 1 = 1)"

    @property
    def date_from(self) -> str:
        """SQL: the first day; NULL when open."""
        return self._day(f"(span // {2 * (self.classes + 1) ** 2}) >> {DAY_BITS}")

    @property
    def date_to(self) -> str:
        """SQL: the last day; NULL when open."""
        return self._day(f"(span // {2 * (self.classes + 1) ** 2}) & {OPEN_END}")

    def _day(self, number: str) -> str:
        return (
            f"(case when ({number}) between {OPEN_START + 1} and {OPEN_END - 1} "
            f"then date '0001-01-01' + (({number}) - 1)::integer end)"
        )


def find_finds(records: Records, side: int, classes: Sequence[DateClass]) -> Finds:
    """Make the table of finds in the records' database, unless it is there already.

    Parameters
    ----------
    records
        The cleaned records; those too coarse for the square are left out.
    side
        Side of the map's square in metres.
    classes
        Date classes in the order of time.
    """
    connection = records.connection
    wanted = hashlib.blake2b(f"{side} {list(classes)}".encode(), digest_size=8).hexdigest()
    finds = Finds(f"{_PREFIX}{wanted}", len(classes))
    there = connection.execute(
        f"select table_name from duckdb_tables() where starts_with(table_name, '{_PREFIX}')"
    ).fetchall()
    if (finds.table,) in there:
        return finds
    for (other,) in there:
        connection.execute(f"drop table {other}")
    columns = ", ".join(f"{name} {kind}" for name, kind in _COLUMNS.items())
    connection.execute(f"create table {_UNFINISHED} ({columns})")
    for band in _bands(records, side):
        connection.execute(f"insert into {_UNFINISHED} {_finds_sql(records, side, classes, band)}")
    connection.execute(f"alter table {_UNFINISHED} rename to {finds.table}")
    return finds


def _bands(records: Records, side: int) -> list[str]:
    """SQL conditions on records, each of some rows of squares from south to north with about so many records."""
    (count,) = records.connection.execute("select count(*) from records").fetchall()[0]
    if count <= MOST_GROUPED:
        return ["true"]
    sizes = records.connection.execute(
        f"select (northing + {SHIFT}) // {side} as row, count(*) as records from records group by row order by row"
    ).df()
    part = (sizes["records"].cumsum() - 1) // MOST_GROUPED
    ends = sizes.groupby(part)["row"].max().to_numpy(np.int64) * side + side - SHIFT
    return [f"northing >= {start} and northing < {end}" for start, end in pairwise([-SHIFT, *ends.tolist()])]


def _finds_sql(records: Records, side: int, classes: Sequence[DateClass], which: str) -> str:
    """SQL that sums up the records of some whole squares to finds."""
    span = (
        f"({_number('date_from', OPEN_START)} * {1 << DAY_BITS} + {_number('date_to', OPEN_END)})"
        f" * {2 * (len(classes) + 1) ** 2}"
        f" + ({known_from_sql(classes)}) * {2 * (len(classes) + 1)}"
        f" + coalesce(({class_sql(classes)}) + 1, 0) * 2 + {ON_A_LIST}::integer"
    )
    dark = darkness_sql(records) if _has_hours(records) else ""
    hours = f"case {dark} when 'day' then 1 when 'dusk' then 2 when 'night' then 4 else 0 end" if dark else "0"
    return f"""
        with placed as (
            select ({place_sql(side)})::bigint as square, species_id::integer as species_id, ({span})::bigint as span,
                case when people_id = 0 and not is_visit then -1 - list_id else people_id end as who, is_visit
                {f", ({hours})::utinyint as dark" if dark else ""}
            from (select * replace (date_from::date as date_from, date_to::date as date_to) from records)
            where {COUNTED} and {which}
        )
        select square, species_id, span, who, bool_or(is_visit) as is_visit, count(*) as records,
            {"bit_or(dark)" if dark else "0::utinyint"} as hours
        from placed where square >= 0 group by square, species_id, span, who
    """


def _number(day: str, otherwise: int) -> str:
    """SQL: a day's number from 1 on the first day of the year 1."""
    return f"coalesce({day} - date '0001-01-01' + 1, {otherwise})::bigint"


def _has_hours(records: Records) -> bool:
    """Whether any record says anything of the time of day."""
    said = "coalesce(time_of_day, '') <> '' or coalesce(method, '') <> ''"
    return bool(records.connection.execute(f"select 1 from records where {said} limit 1").fetchall())


def in_parts(records: Records, finds: Finds, columns: str) -> Iterator[dict[str, Any]]:
    """The finds as arrays, some whole squares at a time, the squares in their order.

    Parameters
    ----------
    columns
        SQL of the columns wanted.
    """
    for squares in ranges_of_squares(records, finds, MOST_AT_ONCE):
        yield records.connection.execute(f"select {columns} from {finds.table} where {squares}").fetchnumpy()


def ranges_of_squares(records: Records, finds: Finds, most: int) -> list[str]:
    """SQL conditions on finds, each of some whole squares that hold about so many, the squares in their order.

    Parameters
    ----------
    most
        Finds wanted at once; a single square may hold more.
    """
    connection = records.connection
    (count,) = connection.execute(f"select count(*) from {finds.table}").fetchall()[0]
    if count <= most:
        return ["true"]
    sizes = connection.execute(
        f"select square, count(*) as finds from {finds.table} group by square order by square"
    ).df()
    part = (sizes["finds"].cumsum() - 1) // most
    bounds = sizes.groupby(part)["square"].agg(["min", "max"])
    return [f"square between {low} and {high}" for low, high in bounds.itertuples(index=False)]
