"""Height and habitat under the records, from the user's own rasters."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from rasterio.errors import RasterioIOError
from rasterio.warp import transform

from gapmap.errors import FileError
from gapmap.grid.systems import System

Number = npt.NDArray[np.float64]


def raster_under(path: Path, system: System, x: Number, y: Number) -> Number:
    """Value of the first band under each position; NaN outside the raster and where it has no value.

    Parameters
    ----------
    path
        Any raster that GDAL reads.
    system
        The grid system of x and y; the raster may be in another.
    x, y
        Metres, shape (n,).

    Raises
    ------
    FileError
        The raster cannot be read.
    """
    try:
        with rasterio.open(path) as raster:
            band = raster.read(1, masked=True).astype(float).filled(np.nan)
            across, down = x, y
            if raster.crs is not None and raster.crs.to_epsg() not in (None, system.epsg):
                across, down = (np.asarray(axis) for axis in transform(f"EPSG:{system.epsg}", raster.crs, x, y))
            back = ~raster.transform
            column = back.a * across + back.b * down + back.c
            row = back.d * across + back.e * down + back.f
    except RasterioIOError as error:
        raise FileError(
            f"The raster {path.name} cannot be read", found=str(error), do="check its name in area.toml"
        ) from error
    column, row = np.floor(np.nan_to_num(column, nan=-1)), np.floor(np.nan_to_num(row, nan=-1))
    inside = (column >= 0) & (row >= 0) & (column < band.shape[1]) & (row < band.shape[0])
    at = np.where(inside, row, 0).astype(np.int64), np.where(inside, column, 0).astype(np.int64)
    return np.where(inside, band[at], np.nan)
