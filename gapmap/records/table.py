"""Cleaned records as they leave the room: tables in one DuckDB connection, small lookups as frames."""

from __future__ import annotations

from dataclasses import dataclass, field

import duckdb
import pandas as pd

from gapmap.grid.systems import System

#: SQL: the dates of a record lie within a year, so that it is on a list (its ``list_id`` is not -1).
ON_A_LIST = "coalesce(date_diff('day', date_from::date, date_to::date) <= 365, false)"
#: SQL: the number of a record's list, which is the same place, dates and people; -1 when it is on none.
LIST_NUMBER = (
    f"case when {ON_A_LIST} then (hash(system, easting, northing, precision_m, is_point, date_from, date_to, people_id)"
    " >> 1)::bigint else -1 end"
)

#: SQL: the dates of a record are one day, or two days running as of a trap's night, so that its list is a visit.
IS_VISIT = """coalesce(date_kind in ('day', 'days') and date_diff('day', date_from::date, date_to::date) in (0, 1),
    false)"""


@dataclass(frozen=True)
class Records:
    """Everything that was read, cleaned and kept.

    The connection holds two relations, ``records`` (columns.RECORDS) and ``problems`` (columns.PROBLEMS);
    either may be larger than memory, so rooms count in SQL and fetch only what they tallied. A third, ``alike``
    (file, row, code, severity), has the rows of those problems that are said once for many rows, and a fourth,
    ``people``, each ``recorder_text`` as it was written.

    Parameters
    ----------
    connection
        DuckDB connection with the relations ``records``, ``problems``, ``alike`` and ``people``.
    system
        The grid system of the map; records in other systems have been brought into it where that can be done.
    files, species, people
        Frames as in columns.FILES, columns.SPECIES and columns.PEOPLE.
    remarks
        Sentences to print about the reading as a whole.
    """

    connection: duckdb.DuckDBPyConnection
    system: System
    files: pd.DataFrame
    species: pd.DataFrame
    people: pd.DataFrame
    remarks: tuple[str, ...] = field(default=())

    def frame(self, columns: str = "*", where: str = "true") -> pd.DataFrame:
        """Records as a frame in the order of record_id: the columns and the condition are SQL."""
        return self._query(f"select {columns} from records where {where} order by record_id")

    def problems(self) -> pd.DataFrame:
        """All problems in the order of files and rows."""
        return self._query("select * from problems")

    def kinds_of_problems(self) -> pd.DataFrame:
        """How many rows each severity and code is said of; what is said of a whole file counts once.

        Rows that are no record come first, then doubts, then notes.
        """
        return self._query(
            """select severity, code as kind, count(*) as "rows" from (
                   select severity, code from problems p anti join alike a
                       on p."row" = 0 and p.file = a.file and p.code = a.code and p.severity = a.severity
                   union all select severity, code from alike)
               group by severity, code
               order by list_position(['not a record', 'doubt', 'note'], severity), "rows" desc, kind"""
        )

    def _query(self, sql: str) -> pd.DataFrame:
        result: pd.DataFrame = self.connection.sql(sql).df()
        return result
