"""Tables for other programs: CSV, GeoPackage, GeoParquet and workbooks.

Nothing is worked out here: every number was made in a room below and is written as it stands.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import xlsxwriter

from gapmap import columns
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import polygons, unpack
from gapmap.grid.systems import System
from gapmap.outputs.whole import whole_file

#: Spreadsheets run a cell as a formula that begins with one of these, blanks before it passed over.
_FORMULA = re.compile(r"^[\s\ufeff\x00-\x1f]*[=+\-@]|^[\t\r\n]")
#: A sheet holds 1,048,576 rows (ECMA-376), one of them the headers.
MOST_ROWS_IN_A_SHEET = 1_048_575
_MOST_LETTERS_IN_A_CELL = 32_767
_TABLES = (
    columns.VISITS, columns.FINDINGS, columns.SPECIES, columns.RECORDS, columns.PROBLEMS, columns.EXPECTED,
    columns.TALLY, columns.EFFORT, columns.STANDING,
)  # fmt: skip
#: What the columns mean that ``label_squares`` puts in front.
_LABELS = {
    "square": "grid reference of the square",
    "easting": "metres: south-west corner of the square in its own grid",
    "northing": "metres: south-west corner of the square in its own grid",
    "side_m": "metres: side of the square",
    "date_class": "years the row counts; all is every date",
    "species": "species found, or the species' name where the row is one species",
}


def label_squares(frame: pd.DataFrame, class_labels: Mapping[int, str]) -> pd.DataFrame:
    """Put a table of squares into words: references, corners and class labels instead of packed numbers.

    Parameters
    ----------
    frame
        Any table with ``square`` (packed) and perhaps ``date_class``.
    class_labels
        Label of each date class by its index; ``columns.ALL_DATES`` is always ``all``.

    Returns
    -------
    DataFrame
        ``square`` (text), ``easting``, ``northing`` (metres, south-west corner), ``side_m``, then
        ``date_class`` (text) if there was one, then the remaining columns.
    """
    packed = frame["square"].to_numpy(dtype="int64")
    _, side, easting, northing = unpack(packed)
    head = {"square": squares_to_references(packed), "easting": easting, "northing": northing, "side_m": side}
    if "date_class" in frame:
        labels = {**class_labels, columns.ALL_DATES: "all"}
        head["date_class"] = frame["date_class"].map(labels).to_numpy()
    rest = frame.drop(columns=["square", "date_class"], errors="ignore").reset_index(drop=True)
    return pd.concat([pd.DataFrame(head), rest], axis=1)


def write_csv(frame: pd.DataFrame, path: Path) -> None:
    """Write a table as CSV (UTF-8 with a byte-order mark, so that spreadsheets read accents right).

    Text cells that a spreadsheet would run as a formula get an apostrophe in front. Line breaks in a cell are
    written one way: a lone carriage return would end the row, unquoted, and begin another with the rest.
    """
    with whole_file(path) as draft:
        harmless(frame).replace({r"\r\n?": "\n"}, regex=True).to_csv(
            draft,
            index=False,
            encoding="utf-8-sig",
            lineterminator="\n",
            date_format="%Y-%m-%d",
            float_format="%.6g",
        )


def write_geopackage(labelled: pd.DataFrame, packed: np.ndarray, system: System, path: Path) -> None:
    """Write squares as a GeoPackage: a layer ``squares_all`` and one more for each date class; an empty one of none.

    Parameters
    ----------
    labelled
        As ``label_squares`` returns.
    packed
        The packed square of each row.
    system
        Grid system whose coordinate reference system the layers carry; squares of other systems are
        brought into it.
    path
        The ``.gpkg`` to write.
    """
    distinct, place = np.unique(packed, return_inverse=True)
    shapes = np.asarray(polygons(distinct, system), dtype=object)[place]
    layers = gpd.GeoDataFrame(labelled, geometry=shapes, crs=f"EPSG:{system.epsg}")
    with whole_file(path) as draft:
        draft.unlink(missing_ok=True)
        by_class = list(layers.groupby("date_class", sort=False)) or [("all", layers)]
        for number, (label, rows) in enumerate(by_class):
            name = "squares_" + str(label).replace("–", "_").replace(" ", "_")
            rows.to_file(
                draft, layer=name, driver="GPKG", mode="w" if number == 0 else "a", engine="pyogrio",
                layer_metadata={"IDENTIFIER": name, "DESCRIPTION": _description(str(label), list(labelled.columns))},
            )  # fmt: skip


def write_geoparquet(labelled: pd.DataFrame, packed: np.ndarray, system: System, path: Path) -> None:
    """Write squares as GeoParquet, all date classes in one file; what each column means stands in its metadata.

    Parameters
    ----------
    labelled, packed, system
        As for :func:`write_geopackage`.
    path
        The ``.parquet`` to write.
    """
    distinct, place = np.unique(packed, return_inverse=True)
    shapes = np.asarray(polygons(distinct, system), dtype=object)[place]
    squares = gpd.GeoDataFrame(labelled, geometry=shapes, crs=f"EPSG:{system.epsg}")
    with whole_file(path) as draft:
        squares.to_parquet(draft, index=False)
        table = pq.read_table(draft)
        notes = {b"gapmap_columns": json.dumps(meanings(labelled.columns), ensure_ascii=False).encode()}
        pq.write_table(table.replace_schema_metadata({**(table.schema.metadata or {}), **notes}), draft)


def meanings(names: Iterable[str]) -> dict[str, str]:
    """What columns mean, in the words of the contract between rooms; a column nobody described is left out.

    Examples
    --------
    >>> meanings(["side_m", "busiest_share", "unheard of"])
    {'side_m': 'metres: side of the square', 'busiest_share': '0 to 1: share of records by the busiest set of people'}
    """
    known = {column.name: column.meaning for table in _TABLES for column in table.columns} | _LABELS
    return {str(name): known[str(name)] for name in names if str(name) in known}


def write_workbook(sheets: Mapping[str, pd.DataFrame], path: Path, notes: Mapping[str, str] | None = None) -> None:
    """Write tables as the sheets of a workbook: frozen bold headers, fitting widths, notes on headers.

    Parameters
    ----------
    sheets
        Sheet name → table.
    path
        The ``.xlsx`` to write.
    notes
        Column name → what it means, shown when the pointer rests on the header; the columns of the contract
        between rooms have theirs anyway.

    A table longer than a sheet goes on in a next sheet.
    """
    options = {"strings_to_formulas": False, "strings_to_urls": False, "nan_inf_to_errors": True}
    with whole_file(path) as draft:
        book = xlsxwriter.Workbook(str(draft), options)
        book.set_properties({"created": datetime(2000, 1, 1)})
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        as_text = book.add_format({"quote_prefix": True})
        for name, frame in sheets.items():
            said = {**meanings(frame.columns), **(notes or {})}
            for start in range(0, max(len(frame), 1), MOST_ROWS_IN_A_SHEET):
                part = frame.iloc[start : start + MOST_ROWS_IN_A_SHEET]
                _write_sheet(book.add_worksheet(sheet_name(name, book)), part, head, day, as_text, said)
        book.close()


def harmless(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with an apostrophe before every text cell that a spreadsheet would run as a formula.

    Examples
    --------
    >>> harmless(pd.DataFrame({"a": ["=1+1", "fine"], "n": [-1, 2]})).to_dict("list")
    {'a': ["'=1+1", 'fine'], 'n': [-1, 2]}
    """
    safe = frame.copy()
    for name in safe.columns:
        if isinstance(safe[name].dtype, pd.StringDtype) or safe[name].dtype == object:
            text = safe[name].astype("str")
            risky = safe[name].notna() & text.str.contains(_FORMULA)
            safe[name] = safe[name].where(~risky, "'" + text)
    return safe.rename(columns=lambda name: f"'{name}" if _FORMULA.search(str(name)) else name)


def _write_sheet(
    sheet: xlsxwriter.worksheet.Worksheet,
    frame: pd.DataFrame,
    head: object,
    day: object,
    as_text: object,
    notes: Mapping[str, str],
) -> None:
    sheet.freeze_panes(1, 1)
    for position, name in enumerate(frame.columns):
        sheet.write_string(0, position, str(name), head)
        if name in notes:
            sheet.write_comment(0, position, notes[name])
        values = frame[name]
        if values.dtype.kind == "M":
            texts = [None if pd.isna(v) else v.to_pydatetime() for v in values]
            for row, value in enumerate(texts, start=1):
                if value is not None:
                    sheet.write_datetime(row, position, value, day)
        elif values.dtype.kind in "iufb":
            sheet.write_column(1, position, [None if pd.isna(v) else v for v in values.tolist()])
        else:
            for row, value in enumerate(values, start=1):
                if not pd.isna(value):
                    text = str(value)[:_MOST_LETTERS_IN_A_CELL]
                    sheet.write_string(row, position, text, *([as_text] if _FORMULA.search(text) else []))
        lengths = values.astype("str").str.len()
        widest = max([len(str(name)), *(lengths.head(200).tolist())])
        sheet.set_column(position, position, min(60, widest + 2))
    sheet.autofilter(0, 0, len(frame), max(0, frame.shape[1] - 1))


def _description(label: str, names: list[str]) -> str:
    """What a layer holds and what its columns mean, a line each."""
    dates = "all dates" if label == "all" else f"dates {label}"
    return "\n".join([f"Squares, {dates}.", *(f"{name}: {text}" for name, text in meanings(names).items())])


def sheet_name(name: str, book: xlsxwriter.Workbook) -> str:
    """A name that a workbook allows for a sheet and that no other sheet of it has."""
    plain = "".join("-" if letter in "[]:*?/\\'" else letter for letter in name)[:28] or "sheet"
    taken = {sheet.get_name().lower() for sheet in book.worksheets()}
    number, candidate = 1, plain
    while candidate.lower() in taken:
        number += 1
        candidate = f"{plain[:25]} {number}"
    return candidate
