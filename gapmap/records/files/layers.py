"""Layers of points (GeoPackage, GeoJSON, shapefile): attributes as text, and where each point lies."""

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
from gapmap.records.verdicts import NOT_A_RECORD

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
            frames = [gpd.read_file(path, layer=name) for name in names]
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.GeometryError,
        ValueError,
        OSError,
    ) as error:
        raise FileError(
            f"{file} is damaged, was cut off, or is no layer of points", do="ask for the file again"
        ) from error
    if not frames:
        raise FileError(f"{file} has no layer", do="ask for the file again")
    return [
        _layer_to_table(frame, file if len(names) == 1 else f"{file}: {name}")
        for name, frame in zip(names, frames, strict=True)
    ]


def _layer_to_table(frame: gpd.GeoDataFrame, shown: str) -> RawTable:
    has_points = isinstance(frame, gpd.GeoDataFrame) and frame.active_geometry_name is not None
    attributes = [str(name) for name in frame.columns if not has_points or name != frame.active_geometry_name]
    epsg = frame.crs.to_epsg() if has_points and frame.crs is not None else None
    is_metres = has_points and epsg in {system.epsg for system in SYSTEMS.values()}
    if has_points and not is_metres and frame.crs is not None:
        frame = frame.to_crs(4326)
    headers = (*attributes, *((_METRES if is_metres else _DEGREES) if has_points else ()))
    rows = list(_feature_rows(frame, attributes, has_points, is_metres))
    lost = [
        Problem(
            number,
            "geometry",
            kind,
            "not a point",
            NOT_A_RECORD,
            f"The feature is no point but {kind}.",
            "Send points, or a column of grid references.",
        )
        for number, _, kind in rows
        if kind
    ]

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        return [
            *load_rows(connection, name, wanted, ((n, cells) for n, cells, kind in rows if not kind), headers),
            *lost,
        ]

    sample = tuple(tuple(cells) for _, cells, kind in rows[:200] if not kind)
    return RawTable(shown, headers, sample, load, crs=f"EPSG:{epsg}" if is_metres else "")


def _feature_rows(
    frame: gpd.GeoDataFrame, attributes: Sequence[str], has_points: bool, is_metres: bool
) -> Iterator[tuple[int, list[str], str]]:
    """Row number (the header is row 1), cells, and what the feature is when it is no point."""
    columns = [["" if value is None or value != value else str(value) for value in frame[name]] for name in attributes]
    for position in range(len(frame)):
        cells = [column[position] for column in columns]
        kind = ""
        if has_points:
            point = frame.geometry.iloc[position]
            if point is None or point.is_empty:
                cells += ["", ""]
            elif point.geom_type != "Point":
                kind = f"a {point.geom_type.lower()}"
            else:
                cells += [repr(point.x), repr(point.y)] if is_metres else [repr(point.y), repr(point.x)]
        yield position + 2, cells, kind
