"""Workbooks (XLSX, XLS, ODS): every sheet that holds something is a table of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

import duckdb
from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum,
    load_workbook,
)

from gapmap.errors import FileError
from gapmap.records.files.archives import check_archive
from gapmap.records.files.headers import find_header
from gapmap.records.files.months_shown import YEAR, Shown, months_shown
from gapmap.records.files.raw import HEADER_WITHIN, RawTable, load_rows, without_empty_ends
from gapmap.records.problems import Problem
from gapmap.records.verdicts import NOTE

Cell = int | float | str | bool | time | date | datetime | timedelta


def open_workbook(path: Path, file: str, *, is_zip: bool) -> list[RawTable]:
    """Open a workbook.

    Parameters
    ----------
    path
        The file.
    file
        Its name as shown to people.
    is_zip
        Whether it is packed, as XLSX and ODS are.

    Raises
    ------
    FileError
        It is locked, damaged, empty, or dangerous to unpack.
    """
    if is_zip:
        check_archive(path, file)
    workbook = _open(path, file)
    sheets = [s for s in workbook.sheets_metadata if s.typ == SheetTypeEnum.WorkSheet]
    hidden = [s.name for s in sheets if s.visible != SheetVisibleEnum.Visible]
    tables = []
    for name in (s.name for s in sheets if s.name not in hidden):
        sheet = _sheet(workbook, name, file)
        shown = file if len(sheets) == 1 else f"{file}: {name}"
        if sheet.height:
            tables.append(_sheet_to_table(sheet, shown, months_shown(path, name) if is_zip else {}))
    if not tables:
        raise FileError(
            f"{file} is empty",
            found=f"hidden sheets {', '.join(hidden)}" if hidden else None,
            do="ask for the file again",
        )
    if hidden:
        words = f"The workbook has hidden sheets, which were left out: {', '.join(hidden)}."
        do = "Show them in a copy of the workbook if they hold records."
        note = Problem(0, "", "", "hidden sheet", NOTE, words, do)
        tables[0] = replace(tables[0], problems=(*tables[0].problems, note))
    return tables


def cell_to_text(cell: Cell) -> str:
    """A workbook's cell as text: dates and times as ISO 8601, whole numbers without a point.

    Examples
    --------
    >>> cell_to_text(datetime(1998, 5, 12)), cell_to_text(3.0), cell_to_text(time(21, 5)), cell_to_text("")
    ('1998-05-12', '3', '21:05', '')
    """
    if isinstance(cell, str):
        return cell
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(timespec="minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return cell.isoformat(timespec="minutes")
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _open(path: Path, file: str) -> CalamineWorkbook:
    try:
        return load_workbook(str(path))
    except PasswordError as error:
        raise FileError(f"{file} is locked with a password", do="save it without the password") from error
    except (CalamineError, OSError) as error:
        raise FileError(f"{file} is damaged, was cut off, or is no workbook", do="ask for the file again") from error


def _sheet(workbook: CalamineWorkbook, name: str, file: str) -> CalamineSheet:
    try:
        return workbook.get_sheet_by_name(name)
    except (CalamineError, OSError) as error:
        raise FileError(f"The sheet {name} of {file} is damaged or was cut off", do="ask for the file again") from error


def _sheet_to_table(sheet: CalamineSheet, shown: str, months: Shown) -> RawTable:
    top = [cells for (_, cells), _ in zip(_sheet_rows(sheet, months), range(HEADER_WITHIN + 200), strict=False)]
    header = find_header(top[:HEADER_WITHIN])
    headers = without_empty_ends(top[header])
    sample = tuple(tuple(row[: len(headers)]) for row in top[header + 1 :])

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        rows = ((number, cells) for number, cells in _sheet_rows(sheet, months) if number > header + 1)
        return load_rows(connection, name, wanted, rows, headers)

    return RawTable(shown, headers, sample, load)


def _sheet_rows(sheet: CalamineSheet, months: Shown) -> Iterator[tuple[int, list[str]]]:
    """Row number as the spreadsheet shows it, and its cells as text."""
    first = sheet.start[1] if sheet.start else 0  # empty columns before the table are not in its rows
    for number, row in enumerate(sheet.iter_rows(), start=1):
        if months:
            row = [_as_shown(cell, months.get((number - 1, first + column))) for column, cell in enumerate(row)]
        yield number, [cell_to_text(cell) for cell in row]


def _as_shown(cell: Cell, shown: int | None) -> Cell:
    """The month or year that a cell shows, where it keeps the first day of it; a day that only is not shown stays."""
    if shown is None or not isinstance(cell, date) or cell.day > 1 or (shown == YEAR and cell.month > 1):
        return cell
    return cell.isoformat()[:shown]
