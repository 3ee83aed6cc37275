"""Delimited text (CSV, TSV and their kin): well-formed files whole columns at a time, all others line by line."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import duckdb

from gapmap.errors import FileError
from gapmap.records.files.at_speed import Layout, NotPlainError, hides_rows, load_at_speed
from gapmap.records.files.headers import find_header
from gapmap.records.files.raw import HEADER_WITHIN, RawTable, load_rows, without_empty_ends
from gapmap.records.problems import Problem
from gapmap.records.verdicts import DOUBT, NOTE

_DELIMITERS = ",;\t|"
_HEAD_BYTES = 262_144
_CHUNK_BYTES = 1_048_576
_LONGEST_LINE = 67_108_864
#: A quoted cell may run over so many lines; beyond that its quotation mark is taken as a slip.
_MOST_LINES = 100
#: Stands for a separator of several characters, which the csv module does not take.
_UNIT = "\x1f"
_UTF_16 = {codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


def open_delimited(path: Path, file: str, folder: Path) -> list[RawTable]:
    """Open delimited text.

    Parameters
    ----------
    path
        The file; UTF-8 with or without a byte order mark, UTF-16, or Windows-1252.
    file
        Its name as shown to people.
    folder
        A folder for a copy, should the file have to be copied before it can be read; needed until it is loaded.

    Raises
    ------
    FileError
        The file is empty or holds no table.
    """
    path = _as_eight_bit(path, file, folder)
    head = _read_head(path)
    if not head.strip():
        raise FileError(f"{file} is empty", do="ask for the file again")
    if head.count("\0") > len(head) // 10:
        raise FileError(
            f"{file} is not a table of text", found="bytes that are no text", do="save it as CSV or as a workbook"
        )
    layout = _find_layout(path, head, file)
    cut_off = head.rpartition("\n")[0] or head if len(head) >= _HEAD_BYTES // 2 else head
    first = list(_rows(layout, _text_lines(cut_off)))
    sample = tuple(tuple(cells) for number, cells in first if number > layout.header_row)[:200]

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        return _load(layout, connection, name, wanted)

    return [RawTable(file, layout.headers, sample, load)]


def delimited_with(
    path: Path, file: str, folder: Path, *, delimiter: str, quote: str, headers: Sequence[str], header_lines: int
) -> RawTable:
    """Open delimited text whose layout is known from elsewhere, such as the description in an archive."""
    path = _as_eight_bit(path, file, folder)
    layout = Layout(path, delimiter, quote, tuple(headers), header_lines, header_lines)
    first = list(_rows(layout, _text_lines(_read_head(path))))[: 200 + header_lines]
    sample = tuple(tuple(cells) for number, cells in first if number > header_lines)

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        return _load(layout, connection, name, wanted)

    return RawTable(file, layout.headers, sample, load)


def _as_eight_bit(path: Path, file: str, folder: Path) -> Path:
    """The file itself, or a UTF-8 copy of a UTF-16 file in the folder."""
    try:
        with path.open("rb") as handle:
            head = handle.read(4096)
    except OSError as error:
        raise FileError(
            f"{file} cannot be opened", found=error.strerror, do="check its name and that you may read it"
        ) from error
    encoding = _UTF_16.get(head[:2], "")
    if not encoding and len(head) >= 4:
        odd, even = head[1::2].count(0), head[0::2].count(0)
        encoding = (
            "utf-16-le"
            if odd > len(head) * 0.3 and not even
            else "utf-16-be"
            if even > len(head) * 0.3 and not odd
            else ""
        )
    if not encoding:
        return path
    copy = folder / f"{path.name}.utf-8"
    with (
        path.open("r", encoding=encoding, errors="replace", newline="") as source,
        copy.open("w", encoding="utf-8", newline="") as target,
    ):
        while chunk := source.read(_CHUNK_BYTES):
            target.write(chunk.removeprefix("\ufeff"))
    return copy


def _read_head(path: Path) -> str:
    with path.open("rb") as handle:
        return _decode(handle.read(_HEAD_BYTES).removeprefix(codecs.BOM_UTF8), cut=True)


def _decode(line: bytes, cut: bool = False) -> str:
    try:
        return codecs.getincrementaldecoder("utf-8")().decode(line, final=not cut)
    except UnicodeDecodeError:
        return line.decode("cp1252", "replace")


def _find_layout(path: Path, head: str, file: str) -> Layout:
    lines = head.splitlines()
    told = re.fullmatch(r"sep=(.)", lines[0].strip("\"' "))
    delimiter = told[1] if told else _find_delimiter(lines[:100])
    draft = Layout(path, delimiter, '"', (), 0, 0)
    rows = list(islice(_logical_rows(draft, _text_lines(head)), HEADER_WITHIN))
    skipped = 1 if told else 0
    _, line, cells = (
        rows[skipped + find_header([cells for _, _, cells in rows[skipped:]])] if rows[skipped:] else (0, 0, [])
    )
    if not any(cell.strip() for cell in cells):
        raise FileError(f"{file} is empty", do="ask for the file again")
    return Layout(path, delimiter, '"', without_empty_ends(cells), rows[0][0] + [r[1] for r in rows].index(line), line)


def _find_delimiter(lines: Sequence[str]) -> str:
    def evidence(delimiter: str) -> tuple[float, int]:
        widths = [
            len(row)
            for row in csv.reader([line.replace("\0", "") for line in lines if line.strip()], delimiter=delimiter)
            if row
        ]
        usual = max(set(widths), key=lambda width: (widths.count(width), width)) if widths else 1
        return (0.0, 0) if usual < 2 else (widths.count(usual) / len(widths), usual)

    csv.field_size_limit(2**31 - 1)
    return max(_DELIMITERS, key=evidence)


def _load(layout: Layout, connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
    try:
        load_at_speed(layout, connection, name, wanted)
        return []
    except NotPlainError:
        problems: list[Problem] = []
        rows = _checked_rows(layout, _rows(layout, _file_lines(layout.path)), problems)
        return [*load_rows(connection, name, wanted, rows, layout.headers), *problems]


def _checked_rows(
    layout: Layout, rows: Iterator[tuple[int, list[str]]], problems: list[Problem]
) -> Iterator[tuple[int, list[str]]]:
    width = len(layout.headers)
    for number, cells in rows:
        if number <= layout.header_row:
            continue
        for column, cell in enumerate(cells):
            line_ends = cell.count("\n")
            separators = cell.count(layout.delimiter) - cell.count(f"{layout.delimiter} ")
            if line_ends and hides_rows(line_ends, separators, width):
                problems.append(
                    Problem(
                        number,
                        layout.headers[column] if column < width else "",
                        cell[:200],
                        "rows in a cell",
                        DOUBT,
                        f"A cell runs over {line_ends + 1} lines with about as many separators as rows have; "
                        "perhaps a quotation mark is missing and rows are hidden in it.",
                        "Look at the row in a text editor and close the quotation mark.",
                    )
                )
        if len(cells) < width and any(cell.strip() for cell in cells):
            problems.append(
                Problem(
                    number,
                    "",
                    layout.delimiter.join(cells)[:200],
                    "too few cells",
                    DOUBT if len(cells) < width - 1 else NOTE,
                    f"The row has {len(cells)} cells where the header has {width}; "
                    "the missing ones are taken as empty.",
                    "Check that the row was not cut off.",
                )
            )
        yield number, cells


def _rows(layout: Layout, lines: Iterator[str]) -> Iterator[tuple[int, list[str]]]:
    for number, _, cells in _logical_rows(layout, lines):
        yield number, cells


def _logical_rows(layout: Layout, lines: Iterator[str]) -> Iterator[tuple[int, int, list[str]]]:
    """Row number, last line number and cells of each row; a quoted cell may run over several lines."""
    number = line_number = 0
    waiting: list[str] = []
    for line in lines:
        waiting.append(line)
        while waiting:
            taken = _lines_of_row(layout, waiting)
            if taken == 0 and len(waiting) < _MOST_LINES:
                break
            cells = _split(layout, waiting[:taken]) if taken else None
            if cells is None:
                cells, taken = waiting[0].split(layout.delimiter), 1
            del waiting[:taken]
            number, line_number = number + 1, line_number + taken
            yield number, line_number, cells
    for text in waiting:
        number, line_number = number + 1, line_number + 1
        yield number, line_number, text.split(layout.delimiter)


def _lines_of_row(layout: Layout, waiting: Sequence[str]) -> int:
    """How many of the lines make up the next row; 0 when its quotation mark is still open."""
    quote = layout.quote
    if not quote or quote not in waiting[0]:
        return 1
    opened = re.compile(f"(?:^|{re.escape(layout.delimiter)}) *{re.escape(quote)}")
    if not opened.search(waiting[0]):
        return 1
    marks = 0
    for taken, line in enumerate(waiting, start=1):
        marks += line.count(quote)
        if marks % 2 == 0:
            return taken
    return 0


def _split(layout: Layout, lines: Sequence[str]) -> list[str] | None:
    """Cells of the lines of one row; None when its quotation marks make no sense, so that each line is a row."""
    text, mark = "\n".join(lines), layout.delimiter
    if not layout.quote or layout.quote not in text:
        return text.split(mark)
    single = mark if len(mark) == 1 else _UNIT
    try:
        rows = list(
            csv.reader([text.replace(mark, single)], delimiter=single, quotechar=layout.quote, skipinitialspace=True)
        )
    except (csv.Error, TypeError):  # TypeError: a quotation mark of several characters
        return None
    return [cell.replace(single, mark) for cell in rows[0]] if rows else []


def _text_lines(text: str) -> Iterator[str]:
    yield from re.split(r"\r\n|\n|\r", text.rstrip("\r\n"))


def _file_lines(path: Path) -> Iterator[str]:
    """Lines of a file, each decoded as UTF-8 or else as Windows-1252."""
    with path.open("rb") as handle:
        first = handle.read(3)
        if first != codecs.BOM_UTF8:
            handle.seek(0)
        while line := handle.readline(_LONGEST_LINE):
            if len(line) == _LONGEST_LINE:
                raise FileError(
                    f"{path.name} has a line of more than {_LONGEST_LINE:,} characters", do="ask for the file again"
                )
            for part in line.splitlines():
                yield _decode(part)
