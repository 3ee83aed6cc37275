"""A file while it is cleaned."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import duckdb
import pandas as pd

from gapmap.records.files.headers import Columns
from gapmap.records.files.raw import RawTable, is_blank
from gapmap.records.lookups import Lookup, look_up
from gapmap.records.problems import add_cell_problems


@dataclass(frozen=True)
class FileInHand:
    """A loaded file while it is cleaned: its rows, what its columns mean, and where its problems go.

    ``numbered`` names the columns whose texts have numbers.
    """

    connection: duckdb.DuckDBPyConnection
    rows: str
    problems: str
    columns: Columns
    raw: RawTable
    numbered: frozenset[str] = frozenset()

    def cell(self, meaning: str) -> str:
        """SQL expression of the cell with a meaning; an empty text when the file has no such column."""
        return f"raw.c{self.columns.index[meaning]}" if meaning in self.columns else "''"

    def is_among(self, names: Sequence[str]) -> bool:
        """Whether one of some names of files is this one's; a workbook's or archive's name stands for all in it."""
        shown = self.raw.file
        return any(shown == name or shown.startswith(f"{name}: ") or shown.endswith(f"/{name}") for name in names)

    def look_up(
        self,
        name: str,
        keys: Mapping[str, str],
        answer: Mapping[str, str],
        resolve: Callable[[pd.DataFrame], pd.DataFrame],
        header: str,
        where: str = "true",
    ) -> Lookup:
        """Resolve distinct values and write down what is wrong with them."""
        lookup = look_up(
            self.connection, f"{self.rows}_{name}", self.rows, keys, answer, resolve, where, numbered=self.numbered
        )
        shown = " || ' ' || ".join(keys.values())
        if lookup.has_verdicts:
            add_cell_problems(
                self.connection, self.problems, self.rows, header, f"trim({shown})", lookup.table, lookup.on("looked")
            )
        return lookup

    def species(self) -> str:
        """SQL expression of the name of the species as written."""
        if "species" in self.columns:
            name = self.cell("species")
        else:
            name = f"trim({self.cell('genus')} || ' ' || {self.cell('epithet')})"
        return (
            f"case when {is_blank(name)} then {self.cell('vernacular')} else {name} end"
            if "vernacular" in self.columns
            else name
        )
