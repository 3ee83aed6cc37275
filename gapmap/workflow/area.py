"""The area itself: its outline, its squares and the layers behind them, from the files the settings name."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from gapmap.columns import NO_SQUARE
from gapmap.errors import FileError, SettingsError
from gapmap.grid.covering import shares_inside, squares_touching
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import neighbours, unpack
from gapmap.grid.systems import System
from gapmap.outputs.page.contents import Background, BackgroundKind
from gapmap.workflow.source import Source

#: Words in a layer's or file's name that tell how it is drawn; without one, its shapes tell.
_KIND_WORDS: Mapping[str, BackgroundKind] = {
    "coast": "land", "land": "land", "boundary": "land", "lake": "water", "water": "water", "sea": "water",
    "river": "river", "stream": "river", "road": "road", "path": "road", "town": "place", "village": "place",
    "place": "place",
}  # fmt: skip
_KIND_OF_SHAPE: Mapping[str, BackgroundKind] = {"Polygon": "land", "LineString": "road", "Point": "place"}


def read_boundary(source: Source, system: System) -> gpd.GeoDataFrame | None:
    """Outline of the area in the plane of the grid; None when the settings name none."""
    path = source.beside_area_file(source.settings.area.boundary)
    return None if path is None else read_layer(path, system)


def area_squares(source: Source, boundary: gpd.GeoDataFrame | None, system: System) -> npt.NDArray[np.int64] | None:
    """The squares that belong to the area: those listed in the settings, else those the boundary touches.

    Returns
    -------
    array of int64 or None
        Packed squares of the map's side; None when neither is given, and the area is where the records are.

    Raises
    ------
    SettingsError
        A listed square cannot be read or has another size than the map's.
    """
    side = source.settings.area.side_m
    listed = source.settings.area.squares
    if listed:
        packed = references_to_squares(list(listed), source.settings.area.grid, source.settings.area.zones).squares
        wrong = [
            text
            for text, square in zip(listed, packed, strict=True)
            if square == NO_SQUARE or unpack([square])[1][0] != side
        ]
        if wrong:
            raise SettingsError(
                "The list of squares in the area file holds one that is no square of the map",
                found=wrong[0],
                do=f"write squares of {side} m, or change the map's square",
            )
        return np.unique(np.asarray(packed, dtype=np.int64))
    if boundary is None or boundary.empty:
        return None
    return squares_touching(boundary.geometry.union_all(), system, side)


def squares_away_from(
    squares: npt.ArrayLike, area: npt.NDArray[np.int64], boundary: gpd.GeoDataFrame | None, system: System
) -> npt.NDArray[np.int64]:
    """Those of the squares that neither belong to the area, nor touch one of its squares, nor hold any of its ground.

    An islet takes too little of its square for the area to count it, and is a part of the area all the same.
    """
    given = np.unique(np.asarray(squares, dtype=np.int64))
    strange = np.setdiff1d(given, area)
    near = [bool(np.isin(neighbours(int(square)), area).any()) for square in strange]
    away: npt.NDArray[np.int64] = strange[~np.array(near, dtype=bool)]
    if boundary is None or boundary.empty or not away.size:
        return away
    inside: npt.NDArray[np.bool_] = shares_inside(boundary.geometry.union_all(), away, system) > 0
    return away[~inside]


def read_backgrounds(source: Source, system: System) -> list[Background]:
    """All layers behind the squares, in the order of the settings."""
    paths = [path for name in source.settings.area.background if (path := source.beside_area_file(name))]
    return [layer for path in paths for layer in _read_background(path, system)]


def read_layer(path: Path, system: System, layer: str | None = None) -> gpd.GeoDataFrame:
    """A vector file in the plane of the grid; an outline that crosses itself is the areas it encloses.

    Raises
    ------
    FileError
        The file is no vector layer, or does not say its coordinate reference system.
    """
    try:
        frame = gpd.read_file(path, layer=layer) if layer else gpd.read_file(path)
    except Exception as error:
        raise _unreadable(path, error) from error
    if frame.crs is None:
        raise FileError(
            "A layer of the area does not say its coordinate reference system",
            found=path.name,
            do="save it with one, for instance as GeoPackage",
        )
    shapes = frame.to_crs(epsg=system.epsg)
    return shapes.set_geometry(_mended(shapes.geometry))


def _mended(shapes: gpd.GeoSeries) -> gpd.GeoSeries:
    broken = (~shapes.is_valid & shapes.notna()).to_numpy(bool)
    mended = shapes.to_numpy(copy=True)
    mended[broken] = shapely.make_valid(mended[broken], method="structure", keep_collapsed=False)
    return gpd.GeoSeries(mended, index=shapes.index, crs=shapes.crs)


def _read_background(path: Path, system: System) -> list[Background]:
    try:
        names = [str(name) for name in gpd.list_layers(path)["name"]]
    except Exception as error:
        raise _unreadable(path, error) from error
    found = []
    for name in names:
        shapes = read_layer(path, system, name)
        if len(shapes):
            label = name if len(names) > 1 else path.stem
            found.append(Background(label, _kind(label, shapes), shapes))
    return found


def _unreadable(path: Path, error: Exception) -> FileError:
    return FileError(
        "A layer of the area cannot be read",
        found=f"{path.name} ({type(error).__name__})",
        do="give a GeoPackage, GeoJSON or shapefile",
    )


def _kind(label: str, shapes: gpd.GeoDataFrame) -> BackgroundKind:
    for word, kind in _KIND_WORDS.items():
        if word in label.lower():
            return kind
    shape = str(pd.Series(shapes.geom_type).iloc[0]).removeprefix("Multi")
    return _KIND_OF_SHAPE.get(shape, "land")
