"""Height and habitat under the records, from the user's own rasters."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from rasterio.crs import CRS
from rasterio.errors import RasterioIOError
from rasterio.warp import transform
from rasterio.windows import Window

from gapmap.errors import FileError
from gapmap.grid.systems import System

Number = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Rows of a raster read at once.
_STRIP = 512


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
            across, down = _in_plane_of(raster.crs, system, x, y)
            back = ~raster.transform
            column = np.floor(np.nan_to_num(back.a * across + back.b * down + back.c, nan=-1))
            row = np.floor(np.nan_to_num(back.d * across + back.e * down + back.f, nan=-1))
            inside = (column >= 0) & (row >= 0) & (column < raster.width) & (row < raster.height)
            under = np.full(np.shape(x), np.nan)
            under[inside] = _cells(raster, row[inside].astype(np.int64), column[inside].astype(np.int64))
    except RasterioIOError as error:
        raise FileError(
            f"The raster {path.name} cannot be read", found=str(error), do="check its name in area.toml"
        ) from error
    return under


def _in_plane_of(crs: CRS | None, system: System, x: Number, y: Number) -> tuple[Number, Number]:
    """Positions in the plane of a raster; one that does not say its own is taken to be in the grid's."""
    if crs is None or crs.to_epsg() == system.epsg:
        return x, y
    across, down = (np.full(len(x), np.nan) for _ in range(2))
    laid = np.isfinite(x) & np.isfinite(y)
    across[laid], down[laid] = transform(CRS.from_epsg(system.epsg), crs, x[laid], y[laid])
    return across, down


def _cells(raster: rasterio.DatasetReader, row: Whole, column: Whole) -> Number:
    """Values of some cells, strip by strip of only the columns that are wanted: a country's raster fills the memory."""
    values = np.full(row.shape, np.nan)
    strip = row // _STRIP
    left, right = (int(column.min()), int(column.max()) + 1) if len(column) else (0, 0)
    for number in np.unique(strip):
        wanted = strip == number
        top, bottom = int(row[wanted].min()), int(row[wanted].max()) + 1
        band = raster.read(1, window=Window(left, top, right - left, bottom - top), masked=True)
        values[wanted] = band.astype(float).filled(np.nan)[row[wanted] - top, column[wanted] - left]
    return values
