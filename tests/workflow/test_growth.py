"""Growth by year is the same on the page, on the plate and in the workbook: species are species, and the map is the map."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import openpyxl
import shapely

from gapmap.outputs.page.read import page_to_columns
from gapmap.outputs.plates.curves import growth_plate
from gapmap.workflow.coverage import coverage
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import read_and_count

ROWS = [
    "Oniscus asellus,OR4672,12/5/2001,A. Marsh", "Oniscus asellus,OR4672,12/5/2003,A. Marsh",
    "Porcellio scaber,OR4172,3/6/2003,A. Marsh", "Oniscus,OR4374,4/6/2004,A. Marsh",
    "Philoscia muscorum,OW0070,5/6/2004,A. Marsh", "Oniscus asellus,OR4,6/6/2004,A. Marsh",
    "Porcellio scaber,OR47,7/6/2004,A. Marsh",
]  # fmt: skip


def test_page_plate_and_workbook_tell_the_same_growth(tmp_path: Path) -> None:
    """Two species, one genus in a square of its own, one record out at sea and one too coarse for the map, by hand."""
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
    assert [row["year"] for row in table] == [2001, 2002, 2003, 2004]
    assert [row["species_so_far"] for row in table] == [1, 1, 2, 2]
    assert [row["squares_so_far"] for row in table] == [1, 1, 2, 3]
    assert [row["lists"] for row in table] == [1, 0, 2, 1]

    _, columns = page_to_columns((area / "maps" / "coverage.html").read_text(encoding="utf-8"))
    by_year = {name: dict(zip(columns[f"{name}.year"].tolist(), columns[f"{name}.count"].tolist(), strict=True))
               for name in ("growth.species", "lists")}  # fmt: skip
    assert by_year == {"growth.species": {2001: 1, 2003: 1}, "lists": {2001: 1, 2003: 2, 2004: 1}}
    assert sorted(year for year in columns["effort.first"].tolist() if year) == [2001, 2003, 2004]

    species, squares, lists = growth_plate(coverage_page(source, read_and_count(source))).axes
    assert species.lines[0].get_ydata()[-1] == 2
    assert squares.lines[0].get_ydata()[-1] == 3
    assert [bar.get_height() for bar in lists.patches] == [1, 2, 1]
