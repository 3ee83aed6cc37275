"""Layers of points (GeoPackage, GeoJSON, shapefile, GPX, KML): attributes as text, and where each point lies."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path

import duckdb
import geopandas as gpd
import pyogrio

from gapmap.errors import FileError
from gapmap.grid.systems import SYSTEMS
from gapmap.records.files.raw import RawTable, load_rows
from gapmap.records.problems import Problem
from gapmap.records.verdicts import NOTE

#: Endings of files of layers.
LAYERS = (".gpkg", ".geojson", ".json", ".shp", ".dbf", ".gpx", ".kml", ".tab", ".mif")
#: First words of marked-up files that are layers of points.
MARKS = (b"<gpx", b"<kml")

#: Headers as people would write them, for files whose own have another sense.
_HEADERS = {
    ".gpx": {"time": "date", "cmt": "comment", "desc": "description"},
    ".kml": {"timestamp": "date", "begin": "start date", "end": "end date"},
}
_SHAPES = {
    "LineString": "a line", "MultiLineString": "a line", "LinearRing": "a line", "Polygon": "an outline",
    "MultiPolygon": "an outline", "MultiPoint": "several points", "GeometryCollection": "several shapes",
}  # fmt: skip
_SAY_WHERE = "Send points, or a column of grid references; without one the row is no record."
_METRES = ("geometry easting", "geometry northing")
_DEGREES = ("geometry latitude", "geometry longitude")


def open_layers(path: Path, file: str) -> list[RawTable]:
    """Open the layers of a file.

    Raises
    ------
    FileError
        The file is damaged or has no layer.
    """
    try:
        with warnings.catch_warnings(action="ignore"):
            names = [str(name) for name, _ in pyogrio.list_layers(path)]
            if "waypoints" in names and path.suffix.lower() == ".gpx":
                names = ["waypoints"]
            frames = [gpd.read_file(path, layer=name) for name in names]
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.GeometryError,
        ValueError,
        OSError,
    ) as error:
        raise FileError(
            f"{file} is damaged, was cut off, or is no layer of points", do="ask for the file again, or for a CSV file"
        ) from error
    if not frames:
        raise FileError(f"{file} has no layer", do="ask for the file again")
    if not any(len(frame) for frame in frames):
        raise FileError(f"{file} is empty", found="a layer without features", do="ask for the file again")
    return [
        _layer_to_table(_told(frame, path), file if len(names) == 1 else f"{file}: {name}")
        for name, frame in zip(names, frames, strict=True)
    ]


def _told(frame: gpd.GeoDataFrame, path: Path) -> gpd.GeoDataFrame:
    """A layer under everyday headers, without the columns that its format has and nobody filled."""
    headers = _HEADERS.get(path.suffix.lower())
    if headers is None:
        return frame
    empty = [name for name in frame.columns if frame[name].isna().all() and name != "geometry"]
    return frame.drop(columns=empty).rename(columns=headers)


def _layer_to_table(frame: gpd.GeoDataFrame, shown: str) -> RawTable:
    has_points = isinstance(frame, gpd.GeoDataFrame) and frame.active_geometry_name is not None
    attributes = [str(name) for name in frame.columns if not has_points or name != frame.active_geometry_name]
    epsg = frame.crs.to_epsg() if has_points and frame.crs is not None else None
    is_metres = has_points and epsg in {system.epsg for system in SYSTEMS.values()}
    if has_points and not is_metres and frame.crs is not None:
        frame = frame.to_crs(4326)
    headers = (*attributes, *((_METRES if is_metres else _DEGREES) if has_points else ()))
    rows = list(_feature_rows(frame, attributes, has_points, is_metres))
    told = tuple(
        Problem(number, "geometry", kind, "not a point", NOTE, f"The feature is no point but {kind}.", _SAY_WHERE)
        for number, _, kind in rows
        if kind
    )

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        return load_rows(connection, name, wanted, ((number, cells) for number, cells, _ in rows), headers)

    sample = tuple(tuple(cells) for _, cells, _ in rows[:200])
    return RawTable(shown, headers, sample, load, crs=f"EPSG:{epsg}" if is_metres else "", problems=told)


def _feature_rows(
    frame: gpd.GeoDataFrame, attributes: Sequence[str], has_points: bool, is_metres: bool
) -> Iterator[tuple[int, list[str], str]]:
    """Row number (the header is row 1), cells, and what the feature is when it is no point."""
    columns = [[_value_to_text(value) for value in frame[name]] for name in attributes]
    for position in range(len(frame)):
        cells = [column[position] for column in columns]
        kind = ""
        if has_points:
            shape = frame.geometry.iloc[position]
            if shape is not None and shape.geom_type == "MultiPoint" and len(shape.geoms) == 1:
                shape = shape.geoms[0]
            if shape is None or shape.is_empty:
                cells += ["", ""]
            elif shape.geom_type != "Point":
                kind = _SHAPES.get(shape.geom_type, "another shape")
                cells += ["", ""]
            else:
                cells += [repr(shape.x), repr(shape.y)] if is_metres else [repr(shape.y), repr(shape.x)]
        yield position + 2, cells, kind


def _value_to_text(value: object) -> str:
    """A value as people would type it; a day without its midnight.

    Examples
    --------
    >>> from datetime import datetime
    >>> _value_to_text(datetime(1998, 5, 12)), _value_to_text(3.0), _value_to_text(None)
    ('1998-05-12', '3.0', '')
    """
    if value is None or value != value:
        return ""
    return str(value).removesuffix(" 00:00:00")
