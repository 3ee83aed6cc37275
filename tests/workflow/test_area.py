"""The area's own layers, as people draw them."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from gapmap.grid.references import squares_to_references
from gapmap.grid.systems import system_named
from gapmap.settings import Settings
from gapmap.workflow.area import area_squares, read_boundary, read_layer
from gapmap.workflow.source import Source

BRITISH = system_named("british")


def test_an_outline_that_crosses_itself_is_the_areas_it_encloses(tmp_path: Path) -> None:
    """Two triangles of 10 km by 20 km that meet in the middle of a square: half of its area (geometry at school)."""
    crossed = shapely.Polygon([(640_000, 660_000), (660_000, 680_000), (660_000, 660_000), (640_000, 680_000)])
    path = tmp_path / "outline.gpkg"
    gpd.GeoDataFrame({"name": ["crossed"]}, geometry=[crossed], crs=27700).to_file(path)
    source = Source(tmp_path, (), Settings.model_validate({"area": {"boundary": "outline.gpkg", "square": "10km"}}))
    boundary = read_boundary(source, BRITISH)
    assert boundary is not None
    assert boundary.geometry.is_valid.all()
    assert boundary.geometry.area.sum() == pytest.approx(200e6)
    squares = area_squares(source, boundary, BRITISH)
    assert squares is not None
    assert set(squares_to_references(squares)) == {"OR46", "OR56", "OR47", "OR57"}


def test_sound_layers_stay_as_they_are(tmp_path: Path) -> None:
    shapes = [shapely.box(0, 0, 10, 10), shapely.LineString([(0, 0), (5, 5), (0, 5), (5, 0)]), shapely.Point(3, 4), None]
    path = tmp_path / "layer.gpkg"
    gpd.GeoDataFrame({"name": list("abcd")}, geometry=shapes, crs=27700).to_file(path)
    found = read_layer(path, BRITISH)
    assert found["name"].tolist() == list("abcd")
    assert [None if shape is None else shape.wkt for shape in found.geometry] == [
        None if shape is None else shape.wkt for shape in shapes
    ]


def test_the_records_of_an_islet_inside_the_outline_stay_on_the_map(
    tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]]
) -> None:
    """An islet of 300 m by 300 m takes 2.25 % of a square of 2 km; records 20 km out at sea are outside."""
    main, islet = shapely.box(640_000, 660_000, 660_000, 680_000), shapely.box(690_500, 670_500, 690_800, 670_800)
    folder = tmp_path / "area"
    assert gapmap("new", folder)[0] == 0
    gpd.GeoDataFrame(geometry=[main, islet], crs=27700).to_file(folder / "outline.gpkg")
    lines = [f"Oniscus asellus,{where},1{day}/5/2020" for day, where in enumerate(("OR4672", "OR9070", "OW0070"))]
    (folder / "records" / "a.csv").write_text("\n".join(["species,reference,date", *lines]), encoding="utf-8")
    settings = (folder / "area.toml").read_text(encoding="utf-8")
    (folder / "area.toml").write_text(settings.replace("[area]", '[area]\nboundary = "outline.gpkg"', 1), encoding="utf-8")
    code, said, complained = gapmap("coverage", folder)
    assert code == 0, complained
    assert re.search(r"outside the area +1\n", said)
    with (folder / "maps" / "squares.csv").open(encoding="utf-8-sig", newline="") as file:
        recorded = {row["square"] for row in csv.DictReader(file) if int(row["records"])}
    assert recorded == {"OR47R", "OR97A"}
