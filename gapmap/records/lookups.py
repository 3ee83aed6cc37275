"""Each messy column is resolved once for each distinct value, and joined back."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import duckdb
import pandas as pd

from gapmap.records.database import first_row
from gapmap.records.files.raw import number_of, texts_of
from gapmap.records.verdicts import NOT_A_RECORD

#: Distinct values handed to a resolver at once.
AT_ONCE = 500_000

#: Column of a lookup: how many rows hold the value.
ROWS = "rows_alike"

#: What every resolver says about each value beside its answer.
VERDICT = {"code": "varchar", "severity": "varchar", "sentence": "varchar", "suggestion": "varchar"}


@dataclass(frozen=True)
class Lookup:
    """Resolved distinct values in the database.

    Parameters
    ----------
    table
        Its name; it holds the key columns, ROWS, the answer's columns and those of VERDICT.
    keys
        SQL expression over the file's rows (named ``raw``) for each key column.
    numbers
        The same for the number of each key's text, where the file's texts are numbered; else nothing.
    where
        SQL condition: the rows it was made for.
    has_verdicts
        Whether there is something to say about any value.
    has_refusals
        Whether any value makes its row no record.
    is_empty
        Whether no row holds a value.
    """

    table: str
    keys: Mapping[str, str]
    numbers: Mapping[str, str]
    where: str = "true"
    has_verdicts: bool = True
    has_refusals: bool = True
    is_empty: bool = False

    def refuses(self, alias: str) -> str:
        """SQL: whether the joined value makes the row no record."""
        return f"coalesce({alias}.severity, '') = '{NOT_A_RECORD}'" if self.has_refusals else "false"

    def on(self, alias: str) -> str:
        """The SQL condition that joins the file's rows with this lookup under a name."""
        joined = {f"number_{key}": number for key, number in self.numbers.items()}
        joined = joined or {f"key_{key}": expression for key, expression in self.keys.items()}
        same = " and ".join(f"{expression} = {alias}.{column}" for column, expression in joined.items())
        return same if self.where == "true" else f"{same} and {self.where}"

    def join(self, alias: str) -> str:
        """The SQL join itself; every row finds its value unless the lookup was made for some rows only."""
        return f"left join {self.table} {alias} on {self.on(alias)}"


def look_up(
    connection: duckdb.DuckDBPyConnection,
    table: str,
    rows: str,
    keys: Mapping[str, str],
    answer: Mapping[str, str],
    resolve: Callable[[pd.DataFrame], pd.DataFrame],
    where: str = "true",
    *,
    numbered: Collection[str] = (),
) -> Lookup:
    """Resolve the distinct values of some columns.

    Parameters
    ----------
    table
        Name of the table to make.
    rows
        Relation of the file's rows, named ``raw`` in the SQL below.
    keys
        SQL expression of each key column: text, never NULL.
    answer
        SQL type of each column the resolver answers with, without those of VERDICT.
    resolve
        Frame of distinct keys to frame of answers and verdicts, row by row.
    where
        SQL condition: the rows whose values are wanted.
    numbered
        Columns of the file whose texts have numbers.
    """
    cells = {key: expression.removeprefix("raw.") for key, expression in keys.items()}
    numbers = {key: f"raw.{number_of(cell)}" for key, cell in cells.items() if cell in numbered}
    if len(numbers) < len(keys):
        numbers = {}
    given = {
        **{f"key_{key}": "varchar" for key in keys}, **{f"number_{key}": "integer" for key in numbers}, ROWS: "bigint",
    }  # fmt: skip
    types = {**answer, **VERDICT}
    distinct = _distinct_texts(rows, cells, numbers, where) if numbers else _distinct_values(rows, keys, where)
    connection.execute(f"create or replace temp table {table}_keys as {distinct}")
    columns = ", ".join(f'"{name}" {kind}' for name, kind in {**given, **types}.items())
    connection.execute(f"create or replace temp table {table} ({columns})")
    names = ", ".join(f'"{name}"' for name in (*given, *types))
    start, found = 0, True
    while found:
        values = connection.execute(
            f"select * from {table}_keys where rowid >= {start} and rowid < {start + AT_ONCE}"
        ).df()
        found = len(values) == AT_ONCE
        start += AT_ONCE
        if len(values):
            texts = pd.DataFrame({key: values[f"key_{key}"] for key in keys})
            connection.register("resolved", pd.concat([values, resolve(texts)[list(types)]], axis=1))
            connection.execute(f"insert into {table} select {names} from resolved")
            connection.unregister("resolved")
    connection.execute(f"drop table {table}_keys")
    said = f"select bool_or(code <> ''), bool_or(severity = '{NOT_A_RECORD}'), count(*) from {table}"
    has_verdicts, has_refusals, count = first_row(connection, said)
    return Lookup(table, dict(keys), numbers, where, bool(has_verdicts), bool(has_refusals), count == 0)


def _distinct_values(rows: str, keys: Mapping[str, str], where: str) -> str:
    """SQL: the distinct values and how many rows hold each."""
    chosen = ", ".join(f"{expression} as key_{key}" for key, expression in keys.items())
    return f"select {chosen}, count(*) as {ROWS} from {rows} raw where {where} group by all"


def _distinct_texts(rows: str, cells: Mapping[str, str], numbers: Mapping[str, str], where: str) -> str:
    """SQL: the same by the numbers of the texts, which is quicker."""
    chosen = ", ".join(f"{number} as number_{key}" for key, number in numbers.items())
    joins = " ".join(
        f"join {texts_of(rows, cell)} texts_{key} on texts_{key}.number = number_{key}" for key, cell in cells.items()
    )
    texts = ", ".join(f"texts_{key}.text as key_{key}" for key in cells)
    return f"""select {texts}, counted.* from (
        select {chosen}, count(*) as {ROWS} from {rows} raw where {where} group by all) counted {joins}"""
