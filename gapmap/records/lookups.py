"""Each messy column is resolved once for each distinct value, and joined back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import duckdb
import pandas as pd

from gapmap.records.database import first_row
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
    where
        SQL condition: the rows it was made for.
    has_verdicts
        Whether there is something to say about any value.
    has_refusals
        Whether any value makes its row no record.
    """

    table: str
    keys: Mapping[str, str]
    where: str = "true"
    has_verdicts: bool = True
    has_refusals: bool = True

    def refuses(self, alias: str) -> str:
        """SQL: whether the joined value makes the row no record."""
        return f"coalesce({alias}.severity, '') = '{NOT_A_RECORD}'" if self.has_refusals else "false"

    def on(self, alias: str) -> str:
        """The SQL condition that joins the file's rows with this lookup under a name."""
        same = " and ".join(f"{expression} = {alias}.key_{key}" for key, expression in self.keys.items())
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
    """
    types = {**answer, **VERDICT}
    chosen = ", ".join(f"{expression} as {key}" for key, expression in keys.items())
    connection.execute(
        f"create or replace temp table {table}_keys as select {chosen}, count(*) as {ROWS} "
        f"from {rows} raw where {where} group by all"
    )
    columns = ", ".join(
        f'"{name}" {kind}'
        for name, kind in {**{f"key_{key}": "varchar" for key in keys}, ROWS: "bigint", **types}.items()
    )
    connection.execute(f"create or replace temp table {table} ({columns})")
    names = ", ".join(f'"{name}"' for name in (*(f"key_{key}" for key in keys), ROWS, *types))
    start, found = 0, True
    while found:
        distinct = connection.execute(
            f"select * from {table}_keys where rowid >= {start} and rowid < {start + AT_ONCE}"
        ).df()
        found = len(distinct) == AT_ONCE
        start += AT_ONCE
        if len(distinct):
            given = distinct.drop(columns=ROWS)
            answers = resolve(given)[list(types)]
            connection.register("resolved", pd.concat([given.add_prefix("key_"), distinct[[ROWS]], answers], axis=1))
            connection.execute(f"insert into {table} select {names} from resolved")
            connection.unregister("resolved")
    connection.execute(f"drop table {table}_keys")
    said = first_row(connection, f"select bool_or(code <> ''), bool_or(severity = '{NOT_A_RECORD}') from {table}")
    return Lookup(table, dict(keys), where, bool(said[0]), bool(said[1]))
