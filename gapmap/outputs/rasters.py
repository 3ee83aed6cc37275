"""Rasters for any GIS."""

from __future__ import annotations

from pathlib import Path

import rasterio
from rasterio.crs import CRS
from rasterio.transform import Affine

from gapmap.coverage.surface import Surface
from gapmap.outputs.whole import whole_file


def write_surface(surface: Surface, path: Path) -> None:
    """Write an effort surface as a GeoTIFF: one band a date class and one for all dates, NaN for no data.

    Parameters
    ----------
    surface
        As :func:`gapmap.coverage.surface.effort_surfaces` gives it.
    path
        The ``.tif`` to write.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    bands, rows, columns = surface.bands.shape
    with whole_file(path) as draft, rasterio.open(
        draft, "w", driver="GTiff", count=bands, height=rows, width=columns, dtype="float32",
        nodata=float("nan"), crs=CRS.from_epsg(surface.system.epsg), transform=Affine(*surface.transform),
        compress="deflate", predictor=3, tiled=rows >= 256 and columns >= 256,
    ) as raster:
        raster.write(surface.bands)
        raster.update_tags(TIFFTAG_IMAGEDESCRIPTION=surface.note)
        for number, label in enumerate(surface.labels, start=1):
            raster.set_band_description(number, label)
