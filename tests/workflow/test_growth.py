"""Growth by year is the same on the page, on the plate and in the workbook: species are species, and the map is the map."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import openpyxl
import shapely

from gapmap.outputs.page.read import page_to_columns
from gapmap.outputs.plates.curves import growth_plate
from gapmap.workflow.coverage import area_tables, coverage
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import read_and_count

ROWS = [
    "Oniscus asellus,OR4672,12/5/2001,A. Marsh", "Oniscus asellus,OR4672,12/5/2003,A. Marsh",
    "Porcellio scaber,OR4172,3/6/2003,A. Marsh", "Oniscus,OR4374,4/6/2004,A. Marsh",
    "Philoscia muscorum,OW0070,5/6/2004,A. Marsh", "Oniscus asellus,OR4,6/6/2004,A. Marsh",
    "Porcellio scaber,OR47,7/6/2004,A. Marsh", "Porcellio scaber,OR4872,1998-2000,A. Marsh",
]  # fmt: skip


def test_page_plate_and_workbook_tell_the_same_growth(tmp_path: Path) -> None:
    """By hand: two species, one of them from 1998 to 2000 in a square of its own; one genus in another; one record out
    at sea and one too coarse for the map.
    """
    area = tmp_path / "area"
    (area / "records").mkdir(parents=True)
    gpd.GeoDataFrame(geometry=[shapely.box(640_000, 670_000, 650_000, 680_000)], crs=27700).to_file(area / "b.gpkg")
    (area / "area.toml").write_text('[area]\nboundary = "b.gpkg"\n', encoding="utf-8")
    (area / "records" / "a.csv").write_text("\n".join(["species,reference,date,recorder", *ROWS]), encoding="utf-8")
    source = open_source([str(area)])
    coverage(source, area / "maps")

    sheet = openpyxl.load_workbook(area / "maps" / "squares.xlsx")["growth"]
    heads, *rows = sheet.iter_rows(values_only=True)
    table = [dict(zip(heads, row, strict=True)) for row in rows]
    assert [row["year"] for row in table] == list(range(1998, 2005))
    assert [row["species_so_far"] for row in table] == [1, 1, 1, 2, 2, 2, 2]
    assert [row["squares_so_far"] for row in table] == [1, 1, 1, 2, 2, 3, 4]
    assert [row["lists"] for row in table] == [0, 0, 0, 1, 0, 2, 1]

    _, columns = page_to_columns((area / "maps" / "coverage.html").read_text(encoding="utf-8"))
    by_year = {name: dict(zip(columns[f"{name}.year"].tolist(), columns[f"{name}.count"].tolist(), strict=True))
               for name in ("growth.species", "lists")}  # fmt: skip
    assert by_year == {"growth.species": {1998: 1, 2001: 1}, "lists": {2001: 1, 2003: 2, 2004: 1}}
    assert sorted(year for year in columns["effort.first"].tolist() if year) == [1998, 2001, 2003, 2004]

    species, squares, lists = growth_plate(coverage_page(source, read_and_count(source))).axes
    assert species.lines[0].get_ydata()[-1] == 2
    assert squares.lines[0].get_ydata()[-1] == 4
    assert [bar.get_height() for bar in lists.patches] == [1, 2, 1]


def test_listed_squares_are_the_whole_of_an_area_without_an_outline(tmp_path: Path) -> None:
    """Two tetrads are the area, one of them with a record: half of two, not one of the 25 that a hectad has."""
    area = tmp_path / "area"
    (area / "records").mkdir(parents=True)
    (area / "area.toml").write_text('[area]\ngrid = "british"\nsquares = ["OR47R", "OR47S"]\n', encoding="utf-8")
    (area / "records" / "a.csv").write_text("species,reference,date\nOniscus asellus,OR4672,2001\n", encoding="utf-8")
    source = open_source([str(area)])
    [hectad] = area_tables(source, read_and_count(source))["10 km squares"].query("date_class == 'all'").to_dict("records")
    assert (hectad["squares"], hectad["not visited"], hectad["casual records only"]) == (2, 1, 1)
    assert hectad["needs"] == "OR47R; OR47S"
