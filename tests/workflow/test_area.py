"""The area's own layers, as people draw them."""

from __future__ import annotations

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
