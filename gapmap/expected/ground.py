"""What ground a square is made of: shares of habitats and of height bands, from the user's own rasters."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import rasterio
from exactextract import exact_extract
from rasterio.errors import RasterioError

from gapmap.errors import FileError
from gapmap.grid.squares import polygons, unpack
from gapmap.grid.systems import system_of

#: Height is told apart in so many bands with as many squares in each.
_BANDS = 5
#: Habitats that cover less of all squares together than this are too rare to learn from.
_RARE = 0.002


def read_ground(squares: npt.ArrayLike, habitat: Path | None = None, height: Path | None = None) -> pd.DataFrame:
    """Shares of each habitat and height band in each square.

    Parameters
    ----------
    squares
        Packed squares; those of other systems than the first one's are carried into its plane.
    habitat
        Raster of whole numbers, one a habitat; edges are weighted by the share of the cell inside the square.
    height
        Raster of metres; a square's mean height lies between two of five bands and counts for both.

    Returns
    -------
    DataFrame
        Index ``square``; columns ``habitat <number>`` and ``height <band>``, shares that halve the square between
        habitat and height where both are given, so that each row sums to at most 1.

    Raises
    ------
    FileError
        A raster cannot be read or does not say its projection.
    """
    at = np.asarray(squares, dtype=np.int64)
    parts = []
    if habitat is not None and at.size:
        parts.append(_habitat_shares(at, habitat))
    if height is not None and at.size:
        parts.append(_height_shares(at, height))
    if not parts:
        return pd.DataFrame(index=pd.Index(at, name="square"))
    return pd.concat(parts, axis=1) / len(parts)


def _habitat_shares(squares: npt.NDArray[np.int64], path: Path) -> pd.DataFrame:
    extracted = exact_extract(
        str(path), _outlines(squares, path), ["unique", "frac"], include_cols=["place"], output="pandas"
    )
    rows = [
        (square, int(value), float(share))
        for square, values, shares in zip(
            squares[extracted["place"].to_numpy(np.int64)], extracted["unique"], extracted["frac"], strict=True
        )
        for value, share in zip(np.atleast_1d(values), np.atleast_1d(shares), strict=True)
    ]
    long = pd.DataFrame(rows, columns=["square", "habitat", "share"])
    wide = long.pivot_table(index="square", columns="habitat", values="share", aggfunc="sum", fill_value=0.0)
    wide = wide.reindex(squares).fillna(0.0)
    common = wide.loc[:, wide.mean() >= _RARE]
    return common.set_axis([f"habitat {name}" for name in common.columns], axis=1).rename_axis("square")


def _height_shares(squares: npt.NDArray[np.int64], path: Path) -> pd.DataFrame:
    extracted = exact_extract(str(path), _outlines(squares, path), ["mean"], include_cols=["place"], output="pandas")
    mean = extracted.set_index("place")["mean"].reindex(np.arange(len(squares))).to_numpy(np.float64)
    known = np.isfinite(mean)
    shares = np.zeros((len(squares), _BANDS))
    if known.any():
        middles = np.unique(np.quantile(mean[known], (np.arange(_BANDS) + 0.5) / _BANDS))
        place = np.interp(mean[known], middles, np.arange(len(middles)))
        lower = np.minimum(place.astype(np.int64), len(middles) - 1)
        upper = np.minimum(lower + 1, len(middles) - 1)
        rows = np.flatnonzero(known)
        np.add.at(shares, (rows, lower), 1 - (place - lower))
        np.add.at(shares, (rows, upper), place - lower)
    names = [f"height {band + 1}" for band in range(_BANDS)]
    return pd.DataFrame(shares, columns=names, index=pd.Index(squares, name="square"))


def _outlines(squares: npt.NDArray[np.int64], path: Path) -> gpd.GeoDataFrame:
    try:
        with rasterio.open(path) as raster:
            crs = raster.crs
    except RasterioError as error:
        raise FileError(
            f"The raster {path.name} cannot be read", found=error, do="give a GeoTIFF that a GIS can open"
        ) from error
    if crs is None:
        raise FileError(
            f"The raster {path.name} does not say its projection", do="save it with its projection from a GIS"
        )
    system = system_of(int(unpack(squares)[0][0]))
    outlines = gpd.GeoDataFrame({"place": np.arange(len(squares))}, geometry=polygons(squares, system), crs=system.epsg)
    return outlines.to_crs(crs)
