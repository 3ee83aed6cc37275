"""Well-formed delimited text, whole columns at a time: each distinct text is kept once, each cell as its number.

Only files whose rows can be told apart in one way are read here: the same number of cells in each row, quotation marks
around whole cells and doubled inside, UTF-8, no NUL, no cell that looks like rows run together. Of any other file
`load_at_speed` says so, and it is read line by line. A file larger than the database's memory goes into its own file
on disk, as text.
"""

from __future__ import annotations

import codecs
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv

from gapmap.records.database import MOST_IN_MEMORY, first_row
from gapmap.records.files.raw import LONGEST_CELL, has_blank_text, is_blank, number_of, numbered_cells, texts_of

#: Bytes parsed at once; a longer line is no line of a table.
_BLOCK = 4_194_304
_CHUNK = 1_048_576
_BLANK_LINES = (b"\n\n", b"\n\r\n", b"\r\r")


@dataclass(frozen=True)
class Layout:
    """How a delimited file is written.

    Parameters
    ----------
    path
        The file.
    delimiter, quote
        The marks between cells and around them; no quote for none.
    headers
        Headers as written.
    header_row, header_line
        Number of the header among the rows, and of its last line among the lines; a quoted cell may run over several.
    """

    path: Path
    delimiter: str
    quote: str
    headers: tuple[str, ...]
    header_row: int
    header_line: int


def hides_rows(line_ends: int, separators: int, width: int) -> bool:
    """Whether a quoted cell has about as many separators for each of its line ends as a row of so many cells.

    Parameters
    ----------
    line_ends, separators
        How many there are in the cell; commas of a sentence, with a space behind them, are no separators.
    width
        Cells of a row; of two, a single comma a line would do, so nothing is said.

    Examples
    --------
    >>> hides_rows(2, 7, 5), hides_rows(2, 1, 5)
    (True, False)
    """
    return width > 2 and 4 * separators >= 3 * line_ends * (width - 1)


class NotPlainError(Exception):
    """The file has to be read line by line."""


def load_at_speed(layout: Layout, connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> None:
    """Make the relation that `RawTable.load` promises.

    Raises
    ------
    NotPlainError
        The file has to be read line by line; nothing was made.
    """
    try:
        _scan(layout, connection, name, wanted)
        filled = "true"
        if _has_blank_rows(connection, name, wanted):
            every = range(len(layout.headers))
            _scan(layout, connection, name, every)
            filled = " or ".join(f"not {is_blank(f'c{i}')}" for i in every)
    except (pa.ArrowException, ValueError, duckdb.Error) as error:  # ValueError: a mark of several characters
        raise NotPlainError from error
    connection.execute(f"create or replace view {name} as select * from {name}_cells where {filled}")


def _scan(layout: Layout, connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> None:
    """Make the relation of cells: in memory as numbers of distinct texts, of a large file as text on disk."""
    scan = _scan_to_disk if layout.path.stat().st_size > MOST_IN_MEMORY else _scan_to_memory
    parsing = csv.ParseOptions(
        delimiter=layout.delimiter, quote_char=layout.quote or False, newlines_in_values=_is_quoted(layout)
    )
    try:
        parsing.ignore_empty_lines = False
        scan(layout, connection, name, wanted, parsing)
    except pa.ArrowInvalid:  # perhaps for blank lines at the end, which do no harm
        _check_blank_lines(layout.path)
        parsing.ignore_empty_lines = True
        scan(layout, connection, name, wanted, parsing)


def _scan_to_memory(
    layout: Layout,
    connection: duckdb.DuckDBPyConnection,
    name: str,
    wanted: Sequence[int],
    parsing: csv.ParseOptions,
) -> None:
    table = csv.read_csv(
        layout.path, _reading(layout), parsing, _converting(wanted, pa.dictionary(pa.int32(), pa.string()))
    )
    table = table.unify_dictionaries()
    columns = {"row": pa.array(np.arange(table.num_rows, dtype=np.int64) + layout.header_row + 1)}
    for cell, column in zip(table.column_names, table.columns, strict=True):
        texts = column.chunk(0).dictionary if column.num_chunks else pa.array([], pa.string())
        _check_texts(texts)
        connection.register(texts_of(name, cell), pa.table({"number": np.arange(len(texts)), "text": texts}))
        columns |= {cell: column, number_of(cell): pa.chunked_array([chunk.indices for chunk in column.chunks])}
    connection.register(f"{name}_cells", pa.table(columns))


def _scan_to_disk(
    layout: Layout,
    connection: duckdb.DuckDBPyConnection,
    name: str,
    wanted: Sequence[int],
    parsing: csv.ParseOptions,
) -> None:
    columns = ", ".join(f"c{i} varchar" for i in wanted)
    connection.execute(f'create or replace table {name}_cells ({columns}, "row" bigint)')
    row = layout.header_row + 1
    with csv.open_csv(layout.path, _reading(layout), parsing, _converting(wanted, pa.string())) as batches:
        for batch in batches:
            for column in batch.columns:
                _check_texts(column)
            numbers = pa.array(np.arange(row, row + batch.num_rows, dtype=np.int64))
            connection.register("batch", pa.Table.from_batches([batch]).append_column("row", numbers))
            connection.execute(f"insert into {name}_cells select * from batch")
            connection.unregister("batch")
            row += batch.num_rows


def _reading(layout: Layout) -> csv.ReadOptions:
    names = [f"c{i}" for i in range(len(layout.headers))]
    return csv.ReadOptions(skip_rows=layout.header_line, column_names=names, block_size=_BLOCK)


def _converting(wanted: Sequence[int], kind: pa.DataType) -> csv.ConvertOptions:
    names = [f"c{i}" for i in wanted]
    return csv.ConvertOptions(include_columns=names, column_types=dict.fromkeys(names, kind), strings_can_be_null=False)


def _check_texts(texts: pa.Array) -> None:
    if pc.any(pc.match_substring(texts, "\0")).as_py():
        raise NotPlainError
    if (pc.max(pc.binary_length(texts)).as_py() or 0) > LONGEST_CELL:
        raise NotPlainError


def _check_blank_lines(path: Path) -> None:
    """Make sure that there are no blank lines but at the end: they would shift the numbers of the rows."""
    before = b""
    with path.open("rb") as handle:
        while chunk := handle.read(_CHUNK):
            marks = _BLANK_LINES if b"\r" in chunk or b"\r" in before else _BLANK_LINES[:1]
            for text, rest in ((before + chunk[:2], chunk[2:]), (chunk, b"")):
                if any(text.rfind(mark) >= 0 for mark in marks):  # quicker than looking from the front
                    blank = min(place for mark in marks if (place := text.find(mark)) >= 0)
                    left = iter(lambda: handle.read(_CHUNK), b"")
                    if text[blank:].strip() or rest.strip() or any(more.strip() for more in left):
                        raise NotPlainError
                    return
            before = chunk[-2:]


def _is_quoted(layout: Layout) -> bool:
    """Whether there are quotation marks, each of which opens a cell, closes one or stands doubled inside one.

    Raises
    ------
    NotPlainError
        A quotation mark stands elsewhere, or rows are hidden between two.
    """
    quote = layout.quote.encode()
    if not quote:
        return False
    borders = np.frombuffer(layout.delimiter.encode() + b"\r\n" + quote, dtype=np.uint8)
    count, before = 0, b"\n"
    with layout.path.open("rb") as handle:
        chunk = handle.read(_CHUNK).removeprefix(codecs.BOM_UTF8)
        while chunk:
            after = handle.read(_CHUNK)
            if quote in chunk:
                text = np.frombuffer(before + chunk + (after[:1] or b"\n"), dtype=np.uint8)
                marks = np.flatnonzero(text[1:-1] == quote[0]) + 1
                is_opening = (np.arange(count, count + marks.size) & 1) == 0
                if not np.isin(np.where(is_opening, text[marks - 1], text[marks + 1]), borders).all():
                    raise NotPlainError
                if _rows_hidden(layout, text, marks, count):
                    raise NotPlainError
                count += marks.size
            before, chunk = chunk[-1:], after
    if count % 2:
        raise NotPlainError
    return count > 0


def _rows_hidden(layout: Layout, text: np.ndarray, marks: np.ndarray, before: int) -> bool:
    """Whether a cell looks like rows run together, given the places of quotation marks and how many came before."""
    ends = np.searchsorted(marks, np.flatnonzero(text[1:-1] == ord("\n")) + 1)
    ends = ends[(ends + before) & 1 == 1]
    if not ends.size:
        return False
    is_separator = (text[1:-1] == layout.delimiter.encode()[0]) & (text[2:] != ord(" "))
    counts = np.bincount(np.searchsorted(marks, np.flatnonzero(is_separator) + 1), minlength=marks.size + 1)
    return any(
        hides_rows(int(line_ends), int(counts[cell]), len(layout.headers))
        for cell, line_ends in zip(*np.unique(ends, return_counts=True), strict=True)
    )


def _has_blank_rows(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> bool:
    numbered = numbered_cells(connection, f"{name}_cells")
    for cell in sorted(numbered):
        if not has_blank_text(connection, name, cell):
            return False
    blank = " and ".join(is_blank(f"c{i}") for i in wanted)
    return bool(first_row(connection, f"select 1 from {name}_cells where {blank} limit 1"))
