"""A cell that shows a month is a month, though the workbook keeps its first day.

The formats are those of ECMA-376, part 1, 5th edition: number 17 of the table in 18.8.30 is mmm-yy; 18.8.31 says what
the letters stand for. The workbooks are written by two libraries, openpyxl and xlsxwriter, that share no code.
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
import xlsxwriter  # type: ignore[import-untyped]

from gapmap.records.clean import read_records
from gapmap.records.files.months_shown import format_to_shown, months_shown
from gapmap.settings import Settings

HEAD = ["Species", "Grid ref", "Date"]
#: Value and format, and the interval and kind they stand for.
CASES = [
    (date(1998, 6, 1), "mmm-yy", ("1998-06-01", "1998-06-30", "month")),
    (date(1999, 2, 1), '[$-809]mmmm" "yyyy;@', ("1999-02-01", "1999-02-28", "month")),
    (datetime(2004, 2, 1), "mm/yyyy", ("2004-02-01", "2004-02-29", "month")),
    (date(1987, 1, 1), "yyyy", ("1987-01-01", "1987-12-31", "year")),
    (date(1998, 6, 17), "mmm-yy", ("1998-06-17", "1998-06-17", "day")),
    (date(1987, 3, 1), "yyyy", ("1987-03-01", "1987-03-01", "day")),
    (date(1998, 6, 1), "dd/mm/yyyy", ("1998-06-01", "1998-06-01", "day")),
    (date(1998, 6, 1), 'd" of "mmmm', ("1998-06-01", "1998-06-01", "day")),
]


def by_openpyxl(path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Our records, as they came"])
    sheet.append([None, *HEAD])
    for value, code, _ in CASES:
        sheet.append([None, "Oniscus asellus", "NT2776", value])
        sheet.cell(sheet.max_row, 4).number_format = code
    book.create_sheet("more")
    book.save(path)


def by_xlsxwriter(path: Path) -> None:
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("more")
        sheet = book.add_worksheet("found")
        sheet.write(0, 0, "Our records, as they came")
        sheet.write_row(1, 1, HEAD)
        for row, (value, code, _) in enumerate(CASES, start=2):
            sheet.write_row(row, 1, ["Oniscus asellus", "NT2776"])
            sheet.write_datetime(row, 3, value, book.add_format({"num_format": code}))


@pytest.mark.parametrize("write", [by_openpyxl, by_xlsxwriter])
def test_a_cell_stands_for_what_it_shows(tmp_path: Path, write: Callable[[Path], None]) -> None:
    write(tmp_path / "club.xlsx")
    frame = read_records([tmp_path / "club.xlsx"], Settings()).frame()
    found = [(str(row.date_from)[:10], str(row.date_to)[:10], row.date_kind) for row in frame.itertuples()]
    assert found == [interval for *_, interval in CASES]
    assert not frame.loc[frame["date_kind"] != "day", "is_visit"].any()


@pytest.mark.parametrize(
    ("code", "characters"),
    [("mmm-yy", 7), ("mmmm yyyy", 7), ("yyyy", 4), ("d-mmm-yy", 10), ("m/d/yy h:mm", 10), ("mm:ss", 10), ("General", 10),
     ('0.00" yd"', 10), ("[Red]yyyy", 4), ("yyyy\\-mm", 7), ("yyyy-mm-dd;@", 10), ("", 10)],
)  # fmt: skip
def test_formats(code: str, characters: int) -> None:
    assert format_to_shown(code) == characters


def test_places_that_a_writer_leaves_out_follow_one_another(tmp_path: Path) -> None:
    """``r`` is optional on rows and cells (ECMA-376, part 1, 18.3.1.4 and 18.3.1.73)."""
    by_openpyxl(tmp_path / "full.xlsx")
    with zipfile.ZipFile(tmp_path / "full.xlsx") as full, zipfile.ZipFile(tmp_path / "short.xlsx", "w") as short:
        for name in full.namelist():
            text = full.read(name)
            if name == "xl/worksheets/sheet1.xml":
                head, _, _ = text.partition(b"<sheetData>")
                text = head + b'<sheetData><row/><row><c/><c s="1"/></row><row r="9"><c r="C9" s="1"/><c s="2"/></row></sheetData></worksheet>'
            short.writestr(name, text)
    sheet = openpyxl.load_workbook(tmp_path / "full.xlsx").sheetnames[0]
    assert months_shown(tmp_path / "short.xlsx", sheet) == {(1, 1): 7, (8, 2): 7, (8, 3): 7}


def test_of_other_files_nothing_is_known(tmp_path: Path) -> None:
    by_openpyxl(tmp_path / "a.xlsx")
    assert months_shown(tmp_path / "a.xlsx", "no such sheet") == {}
    whole = (tmp_path / "a.xlsx").read_bytes()
    (tmp_path / "cut.xlsx").write_bytes(whole[: len(whole) // 2])
    assert months_shown(tmp_path / "cut.xlsx", "Sheet") == {}


def test_empty_columns_before_the_table_do_not_shift_what_is_shown(tmp_path: Path) -> None:
    """A table that begins in B1: June 1998 shown as Jun-98, and beside it in the next row a day that was a day."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in ([None, *HEAD, "Seen"], [None, "Oniscus asellus", "NT2776", date(1998, 6, 1), date(1998, 6, 1)]):
        sheet.append(row)
    sheet["D2"].number_format, sheet["E2"].number_format = "mmm-yy", "dd/mm/yyyy"
    book.save(tmp_path / "b.xlsx")
    [row] = read_records([tmp_path / "b.xlsx"], Settings()).frame().itertuples()
    assert (str(row.date_from)[:10], str(row.date_to)[:10], row.date_kind) == ("1998-06-01", "1998-06-30", "month")
