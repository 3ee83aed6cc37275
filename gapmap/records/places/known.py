"""What an area knows of its places: its boundary, its land, and where named places are."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gapmap.columns import NO_SQUARE
from gapmap.errors import FileError
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.grid.systems import System
from gapmap.records.own_lists import read_own_list


def read_boundary(path: Path, system: System) -> shapely.Geometry:
    """The area that the shapes of a layer cover together, in the plane of a grid.

    Parameters
    ----------
    path
        A GeoPackage, GeoJSON or shapefile of polygons that says its coordinate reference system.
    system
        The grid.

    Raises
    ------
    FileError
        The file cannot be read, does not say its reference system, or holds no polygon.
    """
    try:
        stamp = path.stat().st_mtime_ns
    except OSError as error:
        raise FileError(
            f"The boundary {path.name} cannot be read", found=error.strerror, do="check the path in area.toml"
        ) from error
    return _boundary(path, stamp, system.epsg)


def holds_area(path: Path) -> bool:
    """Whether a layer has polygons: a coast drawn as a line says nothing about where the land is."""
    try:
        kinds = gpd.read_file(path).geom_type
    except Exception:
        return False
    return bool(kinds.isin(["Polygon", "MultiPolygon"]).any())


@lru_cache(maxsize=16)
def _boundary(path: Path, stamp: int, epsg: int) -> shapely.Geometry:
    try:
        frame = gpd.read_file(path)
    except Exception as error:
        raise FileError(
            f"The boundary {path.name} is no layer that can be read", found=type(error).__name__,
            do="give a GeoPackage, GeoJSON or shapefile of polygons",
        ) from error  # fmt: skip
    if not isinstance(frame, gpd.GeoDataFrame) or frame.crs is None:
        raise FileError(
            f"The boundary {path.name} does not say its coordinate reference system",
            do="save it with one, for instance as GeoPackage",
        )
    shapes = frame.to_crs(epsg=epsg).geometry
    polygons = shapes[shapes.geom_type.isin(["Polygon", "MultiPolygon"])]
    if not len(polygons):
        raise FileError(f"The boundary {path.name} holds no area", found="no polygon", do="give a layer of polygons")
    return shapely.union_all(shapely.make_valid(polygons.to_numpy()))


def read_places(path: Path) -> pd.DataFrame:
    """Read lookups/places.csv: names of places or vice-counties and the squares they lie in.

    Parameters
    ----------
    path
        A CSV file with the columns ``place`` and ``reference``; several references are separated by spaces or
        semicolons.

    Returns
    -------
    DataFrame
        A row a name and square: ``place``, ``key`` (the name as compared), ``system``, ``easting``, ``northing`` and
        ``side`` (metres).

    Raises
    ------
    FileError
        The file cannot be read, or a reference in it cannot; the sentence names the row.
    ColumnError
        One of the two columns is missing.
    """
    places = read_own_list(path, "the places' file", needs=("place", "reference"))
    entries = [
        (number, row["place"], word)
        for number, row in places.dicts()
        if row["place"]
        for word in re.split(r"[\s;,]+", row["reference"])
        if word
    ]
    return _with_squares(path, pd.DataFrame(entries, columns=["row", "place", "reference"]))


def _with_squares(path: Path, entries: pd.DataFrame) -> pd.DataFrame:
    resolution = references_to_squares(entries["reference"].tolist())
    for place in np.flatnonzero(np.asarray(resolution.squares) == NO_SQUARE)[:1]:
        raise FileError(
            f"{path.name}, row {entries['row'].iloc[place]}: the reference cannot be read",
            found=entries["reference"].iloc[place], do="write references such as NT27 or NT2773, without spaces inside",
        )  # fmt: skip
    system, side, easting, northing = unpack(resolution.squares)
    keys = [" ".join(place.split()).casefold() for place in entries["place"]]
    return pd.DataFrame({
        "place": entries["place"], "key": keys, "system": system, "easting": easting, "northing": northing,
        "side": side,
    })  # fmt: skip
