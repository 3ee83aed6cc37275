"""The workbook of problems: one sheet a file, the cell as it was found, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd
import xlsxwriter

from gapmap.outputs.tables import sheet_name
from gapmap.outputs.whole import whole_file

_WIDTHS = {"row": 7, "column": 18, "value": 30, "severity": 14, "sentence": 70, "suggestion": 50}
_TINTS = {"not a record": "#f6c9b8", "doubt": "#fbe7b0", "note": "#dfe8ec"}
_MOST_ROWS = 1_000_000


def write_problem_book(problems: pd.DataFrame, summaries: Mapping[str, pd.DataFrame], path: Path) -> None:
    """Write the workbook that can be sent to the people whose files they are.

    Parameters
    ----------
    problems
        columns.PROBLEMS.
    summaries
        Sheet name → table, placed before the files' sheets.
    path
        The ``.xlsx`` to write.
    """
    options = {"strings_to_formulas": False, "strings_to_urls": False, "constant_memory": False}
    with whole_file(path) as draft:
        book = xlsxwriter.Workbook(str(draft), options)
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True})
        tints = {
            word: book.add_format({"bg_color": colour, "text_wrap": True, "valign": "top"})
            for word, colour in _TINTS.items()
        }
        body = book.add_format({"text_wrap": True, "valign": "top"})
        for name, table in summaries.items():
            _write_summary(book.add_worksheet(sheet_name(name, book)), table, head)
        for file, rows in problems.groupby("file", sort=False):
            for start in range(0, len(rows), _MOST_ROWS):
                part = rows.iloc[start : start + _MOST_ROWS]
                _write_file(book.add_worksheet(sheet_name(str(file), book)), str(file), part, head, body, tints)
        book.close()


def _write_summary(sheet: xlsxwriter.worksheet.Worksheet, table: pd.DataFrame, head: object) -> None:
    sheet.freeze_panes(1, 1)
    for place, name in enumerate(table.columns):
        sheet.write_string(0, place, str(name), head)
        for row, value in enumerate(table[name], start=1):
            if isinstance(value, str):
                sheet.write_string(row, place, value[:32_000])
            else:
                sheet.write_number(row, place, float(value))
        is_wide = place == 0 or table[name].map(lambda value: isinstance(value, str)).any()
        sheet.set_column(place, place, 40 if is_wide else 14)


def _write_file(
    sheet: xlsxwriter.worksheet.Worksheet,
    file: str,
    rows: pd.DataFrame,
    head: object,
    body: object,
    tints: Mapping[str, object],
) -> None:
    sheet.write_string(0, 0, f"Problems in {file}; rows are numbered as a spreadsheet shows them.", head)
    sheet.freeze_panes(2, 0)
    for place, name in enumerate(_WIDTHS):
        sheet.write_string(1, place, name, head)
        sheet.set_column(place, place, _WIDTHS[name])
    for line, problem in enumerate(rows.itertuples(index=False), start=2):
        sheet.write_number(line, 0, int(str(problem.row)), body)
        for place, name in list(enumerate(_WIDTHS))[1:]:
            text = str(getattr(problem, name))[:32_000]
            sheet.write_string(line, place, text, tints.get(str(problem.severity), body) if name == "value" else body)
    sheet.autofilter(1, 0, 1 + len(rows), len(_WIDTHS) - 1)
