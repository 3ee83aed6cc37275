"""The database that records are cleaned in: in memory while they are few, in a temporary file when they are many."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import duckdb

from gapmap.records.memory import memory_to_be_had

#: Files that hold more bytes of text than this in sum are cleaned in a file instead of in memory.
MOST_IN_MEMORY = 1_000_000_000
#: Files of these kinds are packed: they hold about ten times as much text as they have bytes.
_PACKED, _TIMES = (".parquet", ".zip", ".xlsx", ".ods"), 10

#: Megabytes that the database takes at most …
MOST_MEMORY = 2_500
#: … and its share of what may be had, the rest being for everything else; whatever is more spills into a folder.
_SHARE, _LEAST_MEMORY = 0.3, 200


def open_database(files: Sequence[Path]) -> duckdb.DuckDBPyConnection:
    """Open an empty database fit for the size of the files; its temporary folder goes when the connection does.

    Examples
    --------
    >>> open_database([]).execute("select 1").fetchall()
    [(1,)]
    """
    return database_for(sum(_bytes_of_text(path) for path in files if path.is_file()))


def database_for(size: int) -> duckdb.DuckDBPyConnection:
    """Open an empty database fit for so many bytes of text."""
    folder = tempfile.mkdtemp(prefix="gapmap-")
    connection = duckdb.connect(f"{folder}/records.duckdb" if size > MOST_IN_MEMORY else ":memory:")
    connection.execute(f"set temp_directory = '{folder}/spill'")
    connection.execute(f"set memory_limit = '{memory_limit()}'")
    connection.execute("set preserve_insertion_order = true")
    connection.execute("set timezone = 'UTC'")  # an instant is the same day on every machine
    connection.execute("set enable_progress_bar = false")
    weakref.finalize(connection, shutil.rmtree, folder, ignore_errors=True)
    return connection


def memory_limit() -> str:
    """Memory that the database may take, as DuckDB wants it written.

    Examples
    --------
    >>> memory_limit().endswith("MB")
    True
    """
    share = min(memory_to_be_had() * _SHARE / 1_000_000, MOST_MEMORY)
    return f"{max(int(share), _LEAST_MEMORY)}MB"


def _bytes_of_text(path: Path) -> int:
    return path.stat().st_size * (_TIMES if path.suffix.lower() in _PACKED else 1)


def drop_cells(connection: duckdb.DuckDBPyConnection) -> None:
    """Drop the cells as they were found, which nobody needs when the records are made: they may be gigabytes."""
    named = "select table_name from duckdb_tables() where starts_with(table_name, 'raw_')"
    for (table,) in connection.execute(named).fetchall():
        connection.execute(f"drop table {table}")
    lent = "select view_name from duckdb_views() where temporary and starts_with(view_name, 'raw_')"
    for (view,) in connection.execute(lent).fetchall():
        connection.unregister(view)


def first_row(connection: duckdb.DuckDBPyConnection, sql: str) -> tuple[Any, ...]:
    """The first row of an answer; empty when there is none. The answer is fetched whole, so that it is done with.

    Examples
    --------
    >>> first_row(open_database([]), "select 1, 2"), first_row(open_database([]), "select 1 where false")
    ((1, 2), ())
    """
    rows = connection.execute(sql).fetchall()
    return tuple(rows[0]) if rows else ()
