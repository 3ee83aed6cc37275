"""Tables for other programs, read back with other libraries: openpyxl, pyogrio, pyarrow and the csv module.

That a cell which begins with = + - @ or a tab, blanks before it or not, may run as a formula is OWASP's advice on
CSV injection (from memory); a sheet's 1,048,576 rows are ECMA-376's.
"""

from __future__ import annotations

import csv
import json
import sqlite3
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pyogrio
import pytest

sys.path.append(str(Path(__file__).resolve().parent))
from page_frames import make_page

from gapmap.grid.references import squares_to_references
from gapmap.grid.systems import system_named
from gapmap.outputs import tables
from gapmap.outputs.tables import (
    harmless,
    label_squares,
    meanings,
    write_csv,
    write_geopackage,
    write_geoparquet,
    write_workbook,
)  # fmt: skip

RISKY = ["=1+1", "+44", "-5", "@SUM(A1)", "\t=1+1", "\r=1", " =1+1", "  \t @x", "\u00a0=1", "\ufeff=1"]
SAFE = ["Oniscus asellus", "a=b", "5-7", "", "'=1", "x\t=1"]
LABELS = {0: "to 2000", 1: "2001–2010", 2: "from 2011"}


@pytest.fixture(scope="module")
def squares() -> tuple[pd.DataFrame, np.ndarray]:
    page = make_page(30, 5, 3, views=False)
    assert page.standing is not None
    return label_squares(page.standing, LABELS), page.standing["square"].to_numpy()


def test_no_cell_of_a_csv_runs(tmp_path: Path) -> None:
    write_csv(pd.DataFrame({"text": RISKY + SAFE, "number": -1.5}), tmp_path / "t.csv")
    with (tmp_path / "t.csv").open(encoding="utf-8-sig", newline="") as file:
        read = list(csv.DictReader(file))
    assert [row["text"] for row in read] == ["'" + text.replace("\r", "\n") for text in RISKY] + SAFE
    assert {row["number"] for row in read} == {"-1.5"}, "numbers stay numbers"


def test_headers_from_files_do_not_run_either(tmp_path: Path) -> None:
    write_csv(pd.DataFrame({"=cmd": ["x"]}), tmp_path / "t.csv")
    assert (tmp_path / "t.csv").read_text(encoding="utf-8-sig").startswith("'=cmd")


def test_no_cell_of_a_workbook_runs_and_none_is_changed(tmp_path: Path) -> None:
    write_workbook({"t": pd.DataFrame({"text": RISKY + SAFE})}, tmp_path / "t.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "t.xlsx")["t"]
    cells = [sheet.cell(row, 1) for row in range(2, 2 + len(RISKY))]
    assert {cell.data_type for cell in cells} == {"s"}
    assert all(cell.quotePrefix for cell in cells), "a text that is edited stays a text"
    assert [str(cell.value).replace("_x000D_", "\r").strip("\r") for cell in cells] == [t.strip("\r") for t in RISKY]


def test_a_workbook_has_frozen_headers_widths_notes_and_a_filter(
    tmp_path: Path, squares: tuple[pd.DataFrame, np.ndarray]
) -> None:
    write_workbook({"squares": squares[0]}, tmp_path / "t.xlsx", {"reason": "own note"})
    sheet = openpyxl.load_workbook(tmp_path / "t.xlsx")["squares"]
    assert sheet.freeze_panes == "B2"
    assert sheet.auto_filter.ref
    heads = {cell.value: cell for cell in sheet[1]}
    assert all(cell.font.b for cell in heads.values())
    assert "sample coverage of the visits made" in heads["sample_coverage"].comment.text
    assert "south-west corner" in heads["easting"].comment.text
    assert heads["reason"].comment.text == "own note"
    assert sheet.column_dimensions["A"].width > 6
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == squares[0]["square"].tolist()


def test_a_table_longer_than_a_sheet_goes_on_in_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert tables.MOST_ROWS_IN_A_SHEET == 2**20 - 1
    monkeypatch.setattr(tables, "MOST_ROWS_IN_A_SHEET", 10)
    write_workbook({"long": pd.DataFrame({"n": range(25)}), "short": pd.DataFrame({"n": [1]})}, tmp_path / "t.xlsx")
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    assert book.sheetnames == ["long", "long 2", "long 3", "short"]
    found = [cell for name in book.sheetnames[:3] for (cell,) in book[name].iter_rows(min_row=2, values_only=True)]
    assert found == list(range(25))
    assert [book[name]["A1"].value for name in book.sheetnames] == ["n"] * 4


def test_an_empty_table_is_a_sheet_with_headers(tmp_path: Path) -> None:
    write_workbook({"none": pd.DataFrame({"square": pd.Series(dtype="str")})}, tmp_path / "t.xlsx")
    assert openpyxl.load_workbook(tmp_path / "t.xlsx")["none"]["A1"].value == "square"


def test_a_geopackage_says_what_its_columns_mean(tmp_path: Path, squares: tuple[pd.DataFrame, np.ndarray]) -> None:
    labelled, packed = squares
    write_geopackage(labelled, packed, system_named("british"), tmp_path / "t.gpkg")
    names = [str(name) for name, _ in pyogrio.list_layers(tmp_path / "t.gpkg")]
    assert names == ["squares_all", "squares_to_2000", "squares_2001_2010", "squares_from_2011"]
    with sqlite3.connect(tmp_path / "t.gpkg") as base:
        described = dict(base.execute("select table_name, description from gpkg_contents"))
    assert "Squares, all dates." in described["squares_all"]
    assert "dates 2001–2010" in described["squares_2001_2010"]
    assert "refound_share: 0 to 1: known species found again in this class" in described["squares_all"]
    layer = gpd.read_file(tmp_path / "t.gpkg", layer="squares_all")
    assert layer.crs.to_epsg() == 27700
    rows = labelled[labelled["date_class"] == "all"]
    assert layer["square"].tolist() == rows["square"].tolist()
    assert layer.geometry.bounds["minx"].astype(int).tolist() == rows["easting"].tolist()
    assert (layer.area == rows["side_m"].to_numpy() ** 2).all()


def test_no_square_is_a_layer_without_rows(tmp_path: Path, squares: tuple[pd.DataFrame, np.ndarray]) -> None:
    labelled, packed = squares
    write_geopackage(labelled.head(0), packed[:0], system_named("british"), tmp_path / "t.gpkg")
    assert [str(name) for name, _ in pyogrio.list_layers(tmp_path / "t.gpkg")] == ["squares_all"]
    read = gpd.read_file(tmp_path / "t.gpkg")
    assert (len(read), read.crs.to_epsg()) == (0, 27700)
    assert set(labelled.columns) <= set(read.columns)


def test_geoparquet_comes_back(tmp_path: Path, squares: tuple[pd.DataFrame, np.ndarray]) -> None:
    labelled, packed = squares
    write_geoparquet(labelled, packed, system_named("british"), tmp_path / "t.parquet")
    back = gpd.read_parquet(tmp_path / "t.parquet")
    assert back.crs.to_epsg() == 27700
    pd.testing.assert_frame_equal(
        pd.DataFrame(back.drop(columns="geometry")), labelled, check_dtype=False, check_index_type=False
    )
    metadata = pq.read_schema(tmp_path / "t.parquet").metadata
    assert json.loads(metadata[b"geo"])["primary_column"] == "geometry", "GeoParquet 1.0, file metadata"
    assert json.loads(metadata[b"gapmap_columns"])["estimate_low"] == "lower end of its 95 % interval"
    assert set(back["square"]) == set(squares_to_references(np.unique(packed)))


def test_every_column_of_squares_has_a_meaning(squares: tuple[pd.DataFrame, np.ndarray]) -> None:
    assert set(meanings(squares[0].columns)) == set(squares[0].columns)


def test_harmless_leaves_what_is_empty_empty() -> None:
    frame = harmless(pd.DataFrame({"a": pd.Series(["=1", None], dtype=object)}))
    assert frame["a"].tolist()[0] == "'=1"
    assert pd.isna(frame["a"][1])
