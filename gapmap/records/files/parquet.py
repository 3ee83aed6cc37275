"""Parquet files: typed columns turned back into the text a person would have typed, and read where they lie.

Nothing is copied: each step of the cleaning scans the columns it needs, so a file may be far larger than memory.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from gapmap.errors import FileError
from gapmap.records.files.raw import RawTable, is_blank
from gapmap.records.problems import Problem, text_to_sql

#: First bytes of such a file.
PARQUET_MARK = b"PAR1"
_SAMPLE = 200


def open_parquet(path: Path, file: str) -> list[RawTable]:
    """Open a Parquet file.

    Parameters
    ----------
    path
        The file.
    file
        Its name as shown to people.

    Raises
    ------
    FileError
        The file is damaged or has no columns.
    """
    try:
        schema = pq.read_schema(path)
        connection = duckdb.connect()
        cells = _cells(schema, range(len(schema)))
        found = connection.execute(f"select {cells} {_source(path, schema)} limit {_SAMPLE}").fetchall()
        sample = tuple(tuple(row) for row in found)
        connection.close()
    except (pa.ArrowException, duckdb.Error, OSError) as error:
        raise FileError(f"{file} is damaged or is no Parquet file", do="ask for the file again") from error
    if not len(schema):
        raise FileError(f"{file} has no columns", do="ask for the file again")

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        try:
            _load(path, schema, connection, name, wanted)
        except duckdb.Error as error:
            raise FileError(f"{file} is damaged", do="ask for the file again") from error
        return []

    return [RawTable(file, tuple(schema.names), sample, load)]


def _load(
    path: Path, schema: pa.Schema, connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]
) -> None:
    source, blank = _source(path, schema), " and ".join(is_blank(_cell(schema, i)) for i in wanted)
    condition = ""
    if connection.execute(f"select 1 {source} where {blank} limit 1").fetchall():
        condition = f"where not ({' and '.join(is_blank(_cell(schema, i)) for i in range(len(schema)))})"
    connection.execute(
        f"""create or replace view {name} as select number_of_row + 2 as "row", {_cells(schema, wanted)}
            {source} {condition}"""
    )


def _source(path: Path, schema: pa.Schema) -> str:
    """SQL: the file's own values as v0, v1 …; by place, as two columns may be called the same."""
    literal = text_to_sql(re.sub(r"([*?\[])", r"[\1]", str(path)))  # the marks mean patterns in names of files
    names = ", ".join([*(f"v{i}" for i in range(len(schema))), "number_of_row"])
    return f"from read_parquet({literal}, file_row_number = true) file({names})"


def _cells(schema: pa.Schema, wanted: Sequence[int]) -> str:
    return ", ".join(f"{_cell(schema, i)} as c{i}" for i in wanted)


def _cell(schema: pa.Schema, index: int) -> str:
    """SQL: a value as text; whole numbers without a decimal point, days without a midnight, pictures not at all."""
    kind, value = schema.types[index], f"v{index}"
    if pa.types.is_binary(kind) or pa.types.is_large_binary(kind) or pa.types.is_fixed_size_binary(kind):
        return "''"
    if pa.types.is_timestamp(kind):
        day, minute = f"strftime({value}, '%Y-%m-%d')", f"strftime({value}, '%Y-%m-%d %H:%M')"
        return f"coalesce(case when {value} = date_trunc('day', {value}) then {day} else {minute} end, '')"
    if pa.types.is_floating(kind):
        whole = f"case when {value} = trunc({value}) and abs({value}) < 1e15 then {value}::bigint::varchar end"
        return f"case when isnan({value}) then '' else coalesce({whole}, {value}::varchar, '') end"
    return f"coalesce({value}::varchar, '')"
