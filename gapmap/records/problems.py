"""Problems: one row for each thing wrong with one cell, and the sum that proves that no row was lost."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import duckdb
import pandas as pd

from gapmap.errors import GapmapError
from gapmap.records.database import first_row
from gapmap.records.verdicts import NOT_A_RECORD

#: A doubt or note on more rows than this in one column of a file is said once for each value, with the count.
MOST_ALIKE = 200


class Problem(NamedTuple):
    """One thing wrong with one cell of a file, or with the whole file (row 0)."""

    row: int
    column: str
    value: str
    code: str
    severity: str
    sentence: str
    suggestion: str = ""


def problems_to_frame(problems: Iterable[Problem]) -> pd.DataFrame:
    """Problems as a frame with the columns of Problem.

    Examples
    --------
    >>> problems_to_frame([Problem(0, "", "", "empty file", "note", "The file is empty.")]).loc[0, "code"]
    'empty file'
    >>> len(problems_to_frame([]))
    0
    """
    names = list(Problem._fields)
    frame = pd.DataFrame(list(problems), columns=names)
    return frame.astype({name: "int64" if name == "row" else object for name in names})


def create_problems(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    """Make an empty table of problems of one file: the columns of Problem, without the file's name.

    Beside it stands an empty table (`alike_of` names it) of the rows whose problem is said once for all of them.
    """
    columns = ", ".join(f'"{name}" {"bigint" if name == "row" else "varchar"}' for name in Problem._fields)
    connection.execute(f"create or replace table {table} ({columns})")
    connection.execute(f'create or replace table {alike_of(table)} ("row" bigint, code varchar, severity varchar)')


def alike_of(table: str) -> str:
    """Name of the table of those rows whose problem the table of problems says once for all of them."""
    return f"{table}_alike"


def add_problems(connection: duckdb.DuckDBPyConnection, table: str, problems: Iterable[Problem]) -> None:
    """Append problems to a table made by `create_problems`."""
    frame = problems_to_frame(problems)
    if len(frame):
        connection.register("new_problems", frame)
        connection.execute(f"insert into {table} select * from new_problems")
        connection.unregister("new_problems")


def add_cell_problems(
    connection: duckdb.DuckDBPyConnection, table: str, rows: str, header: str, value: str, lookup: str, join: str
) -> None:
    """Append the problems that a lookup of distinct values has found, one for each row that holds the value.

    Parameters
    ----------
    table
        Where to, made by `create_problems`.
    rows
        Relation of the file's rows, named ``raw`` in the other arguments.
    header
        Header of the column as the file writes it.
    value
        SQL expression of the cell as found.
    lookup, join
        Relation with code, severity, sentence and suggestion, named ``looked``, and the SQL condition that joins it.
    """
    said = f"(select * from {lookup} where code <> '')"
    if not first_row(connection, f"select 1 from {said} limit 1"):
        return
    source = f"{rows} raw join {said} looked on {join}"
    connection.execute(
        f"""create or replace temp table found_alike as
            select *, sum(alike) over (partition by code, severity) as of_kind,
                count(*) over (partition by code, severity) as kinds
            from (select code, severity, {value} as value, count(*) as alike, min(raw."row") as first_row,
                      sentence, suggestion
                  from {source} group by all)"""
    )
    named = text_to_sql(header)
    few = f"severity = '{NOT_A_RECORD}' or of_kind <= {MOST_ALIKE}"
    if first_row(connection, f"select 1 from found_alike where {few} limit 1"):
        connection.execute(
            f"""insert into {table}
                select raw."row", {named}, {value}, looked.code, looked.severity, looked.sentence, looked.suggestion
                from {source}
                where (looked.code, looked.severity) in (select (code, severity) from found_alike where {few})"""
        )
    connection.execute(
        f"""insert into {alike_of(table)} select raw."row", looked.code, looked.severity from {source}
            where (looked.code, looked.severity) in (select (code, severity) from found_alike where not ({few}))"""
    )
    connection.execute(
        f"""insert into {table} select 0, {named}, value, code, severity, {_counted("alike")}, suggestion
            from found_alike where not ({few}) and kinds <= {MOST_ALIKE} order by first_row"""
    )
    connection.execute(
        f"""insert into {table} select 0, {named}, arg_min(value, first_row), code, severity,
                {_counted("sum(alike)", "min(first_row)", "arg_min(sentence, first_row)")},
                arg_min(suggestion, first_row)
            from found_alike where not ({few}) and kinds > {MOST_ALIKE}
            group by code, severity order by min(first_row)"""
    )


def _counted(alike: str, first_row: str = "first_row", sentence: str = "sentence") -> str:
    several = f"' (' || {alike} || ' rows alike, the first is row ' || {first_row} || '.)'"
    return f"{sentence} || case when {alike} > 1 then {several} else ' (Row ' || {first_row} || '.)' end"


def check_conservation(files: pd.DataFrame) -> None:
    """Make sure that every row of every file is a record, a problem row or a duplicate.

    Parameters
    ----------
    files
        As columns.FILES.

    Raises
    ------
    GapmapError
        A row has been lost: a fault in the program, said as a sentence.

    Examples
    --------
    >>> counted = {"file": ["a"], "rows": [3], "records": [1], "problem_rows": [1], "duplicates": [1]}
    >>> check_conservation(pd.DataFrame(counted))
    """
    ends = files["records"] + files["problem_rows"] + files["duplicates"]
    lost = files[files["rows"] != ends]
    for row in lost.to_dict("records"):
        raise GapmapError(
            f"{row['file']}: rows were lost while reading, which must never happen",
            found=f"{row['rows']} rows, {row['records']} records, {row['problem_rows']} problem rows, "
            f"{row['duplicates']} duplicates",
            do="please report this with the file",
        )


def text_to_sql(text: str) -> str:
    """A text as an SQL literal.

    Examples
    --------
    >>> text_to_sql("it's")
    "'it''s'"
    """
    return "'" + text.replace("\0", "").replace("'", "''") + "'"
