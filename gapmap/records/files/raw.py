"""The raw table: a file's cells as text, before anything is understood."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import duckdb
import pyarrow as pa

from gapmap.records.database import first_row
from gapmap.records.problems import Problem
from gapmap.records.verdicts import NOT_A_RECORD

#: A cell longer than this is taken for a broken file: an unclosed quotation mark, or a hostile one.
LONGEST_CELL = 20_000

#: The header is looked for in so many rows from the top.
HEADER_WITHIN = 20

_ROWS_AT_ONCE = 50_000
#: Every character that Python takes for a space, the hard one of web pages among them.
_SPACES = "".join(character for character in map(chr, range(0x3001)) if character.isspace())


@dataclass(frozen=True)
class RawTable:
    """One file, or one sheet or layer of a file, that is ready to be loaded.

    Parameters
    ----------
    file
        Name as shown to people, with the sheet where there are several.
    headers
        Headers as the file writes them.
    sample
        A few rows of cells.
    load
        ``load(connection, name, wanted)`` makes a relation ``name`` with a column ``row`` (as a spreadsheet shows it)
        and a text column ``c0``, ``c1`` … for each wanted index into ``headers`` ('' for an empty cell); blank rows
        are left out; rows that cannot be used are left out and returned as problems. Where each distinct text of a
        column has a number, the relation also has it (`number_of`), and `texts_of` says which text it stands for.
    crs
        Coordinate system of the file itself, for files of points; empty otherwise.
    problems
        What was noticed while opening it.
    """

    file: str
    headers: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    load: Callable[[duckdb.DuckDBPyConnection, str, Sequence[int]], list[Problem]]
    crs: str = ""
    problems: tuple[Problem, ...] = ()


def number_of(cell: str) -> str:
    """Name of the column with the numbers of the texts of a column.

    Examples
    --------
    >>> number_of("c4")
    'n4'
    """
    return f"n{cell[1:]}"


def texts_of(rows: str, cell: str) -> str:
    """Name of the relation of a column's distinct texts: ``number`` (from 0) and ``text``."""
    return f"{rows}_texts_{cell}"


def numbered_cells(connection: duckdb.DuckDBPyConnection, rows: str) -> frozenset[str]:
    """Columns of loaded rows whose texts have numbers."""
    names = {name for name, *_ in connection.execute(f"describe {rows}").fetchall()}
    return frozenset(name for name in names if name.startswith("c") and number_of(name) in names)


def has_blank_text(connection: duckdb.DuckDBPyConnection, rows: str, cell: str) -> bool:
    """Whether any text of a numbered column is blank."""
    return bool(first_row(connection, f"select 1 from {texts_of(rows, cell)} where {is_blank('text')} limit 1"))


def load_rows(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    wanted: Sequence[int],
    rows: Iterable[tuple[int, Sequence[str]]],
    headers: Sequence[str],
) -> list[Problem]:
    """Load numbered rows of cells into a table, as `RawTable.load` does.

    Parameters
    ----------
    rows
        Row number and cells; fewer cells than headers are filled with empty ones.
    """
    problems: list[Problem] = []
    columns = [pa.field("row", pa.int64()), *(pa.field(f"c{i}", pa.string()) for i in wanted)]
    schema = pa.schema(columns)
    names = ", ".join(f'"{field.name}" {"bigint" if field.name == "row" else "varchar"}' for field in columns)
    connection.execute(f"create or replace table {name} ({names})")
    usable = iter(_usable_rows(rows, headers, problems))
    while block := list(islice(usable, _ROWS_AT_ONCE)):
        numbers = pa.array([number for number, _ in block], pa.int64())
        cells = [pa.array([row[i] for _, row in block], pa.string()) for i in wanted]
        connection.register("row_block", pa.Table.from_arrays([numbers, *cells], schema=schema))
        connection.execute(f"insert into {name} select * from row_block")
        connection.unregister("row_block")
    return problems


def _usable_rows(
    rows: Iterable[tuple[int, Sequence[str]]], headers: Sequence[str], problems: list[Problem]
) -> Iterator[tuple[int, list[str]]]:
    width = len(headers)
    for number, cells in rows:
        if not any(cell.replace("\0", "").strip() for cell in cells):
            continue
        beyond = [cell for cell in cells[width:] if cell.strip()]
        longest = max(len(cell) for cell in cells)
        if longest > LONGEST_CELL:
            column = next(i for i, cell in enumerate(cells) if len(cell) == longest)
            problems.append(
                Problem(
                    number,
                    headers[column] if column < width else "",
                    cells[column][:100] + "…",
                    "cell too long",
                    NOT_A_RECORD,
                    f"A cell of {longest:,} characters cannot be right.",
                    "Look for a quotation mark that is not closed.",
                )
            )
        elif beyond:
            problems.append(
                Problem(
                    number,
                    "",
                    beyond[0],
                    "too many cells",
                    NOT_A_RECORD,
                    f"The row has {len(cells)} cells where the header has {width}, "
                    "so it is not certain which cell belongs to which column.",
                    "Put quotation marks around a cell that holds the separator.",
                )
            )
        else:
            yield number, [*(_clean_cell(cell) for cell in cells[:width]), *[""] * (width - len(cells))]


def _clean_cell(cell: str) -> str:
    return (
        cell.replace("\0", "").encode("utf-8", "replace").decode("utf-8")
        if "\0" in cell or not cell.isascii()
        else cell
    )


def without_empty_ends(cells: Sequence[str]) -> tuple[str, ...]:
    """Headers without the empty ones at the end.

    Examples
    --------
    >>> without_empty_ends(["Species", "", "Date", " ", ""])
    ('Species', '', 'Date')
    """
    kept = list(cells)
    while len(kept) > 1 and not kept[-1].strip():
        kept.pop()
    return tuple(kept)


def is_blank(cell: str) -> str:
    """SQL: whether Python's ``strip`` leaves nothing of a cell; the cheap comparisons settle almost every row.

    Examples
    --------
    >>> query = ", ".join(is_blank(f"'{text}'") for text in ("  ", "\u00a0 ", "a", " a", "é"))
    >>> duckdb.connect().execute(f"select {query}").fetchall()
    [(True, True, False, False, False)]
    """
    return f"(({cell} < '!' or {cell} >= '\u0080') and trim({cell}, '{_SPACES}') = '')"
