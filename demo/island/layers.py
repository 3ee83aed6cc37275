"""The land as files for any GIS: boundary, coast, rivers, roads, towns (GeoPackage), habitat and height (GeoTIFF)."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
from shapely.geometry import LineString, Point

from island.terrain import COLUMNS, HABITATS, ISLAND, ISLET, NOTICE, ROWS, TRANSFORM, Terrain

_CRS = "EPSG:27700"


def write_layers(folder: Path, terrain: Terrain, roads: list[LineString], rivers: list[LineString]) -> None:
    """Write the vector layers into the folder."""
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2026-11-01T00:00:00.000Z"})
    parts = list(terrain.boundary.geoms)
    names = [ISLAND, ISLET][: len(parts)]
    towns = [Point(east, north) for east, north, _ in terrain.towns.values()]
    _write(folder / "boundary.gpkg", {"name": names}, parts)
    _write(folder / "coast.gpkg", {"name": names}, [LineString(part.exterior.coords) for part in parts])
    _write(folder / "rivers.gpkg", {"number": list(range(1, len(rivers) + 1))}, rivers)
    _write(folder / "roads.gpkg", {"number": list(range(1, len(roads) + 1))}, roads)
    _write(folder / "towns.gpkg", {"name": list(terrain.towns)}, towns)


def _write(path: Path, columns: dict[str, list[object]], shapes: list[object]) -> None:
    frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=_CRS)
    pyogrio.write_dataframe(
        frame, path, layer=path.stem, driver="GPKG", layer_options={"DESCRIPTION": NOTICE}
    )


def write_rasters(folder: Path, terrain: Terrain) -> None:
    """Write habitat.tif (codes of HABITATS, 0 is the sea) and height.tif (metres) into the folder."""
    _raster(folder / "habitat.tif", terrain.habitat, 0, {str(code): name for code, name in HABITATS.items()})
    _raster(
        folder / "height.tif",
        np.where(terrain.land, terrain.height, -1).astype(np.int16),
        -1,
        {"unit": "metres"},
    )


def _raster(path: Path, values: np.ndarray, nothing: int, tags: dict[str, str]) -> None:
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=ROWS,
        width=COLUMNS,
        count=1,
        dtype=values.dtype,
        crs=_CRS,
        transform=TRANSFORM,
        nodata=nothing,
        compress="deflate",
        predictor=1,
    ) as raster:
        raster.write(values, 1)
        raster.update_tags(notice=NOTICE)
        raster.update_tags(1, **tags)
