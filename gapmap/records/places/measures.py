"""Places as shapes on a grid: squares, distances between them, and distances as people say them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from gapmap.grid.systems import SYSTEMS, System, system_of

_Numbers = npt.NDArray[np.float64]


def texts(places: pd.DataFrame, name: str) -> pd.Series:
    """A column of texts with single spaces; empty where there is none."""
    return places[name].fillna("").astype(str).str.split().str.join(" ")


def by_system(places: pd.DataFrame) -> Iterable[tuple[System, npt.NDArray[np.int64]]]:
    """The grid systems of places, and the rows in each."""
    keys = places["system"].to_numpy(dtype=np.int64)
    for key in np.unique(keys):
        if int(key) in SYSTEMS or int(key) > 100:
            yield system_of(int(key)), np.flatnonzero(keys == key)


def boxes(places: pd.DataFrame, rows: npt.NDArray[np.int64]) -> tuple[_Numbers, _Numbers, _Numbers]:
    """West, south and side in metres of the squares; a point is taken as the square around it."""
    part = places.iloc[rows]
    side = part["precision_m"].to_numpy(dtype=np.float64)
    half = np.where(part["is_point"].to_numpy(dtype=bool), side / 2, 0.0)
    return part["easting"].to_numpy(dtype=np.float64) - half, part["northing"].to_numpy(dtype=np.float64) - half, side


def distance_to_box(x: _Numbers, y: _Numbers, west: _Numbers, south: _Numbers, side: _Numbers) -> _Numbers:
    """Metres from each point to its square; 0 inside it."""
    across = np.maximum(np.maximum(west - x, x - west - side), 0)
    along = np.maximum(np.maximum(south - y, y - south - side), 0)
    return np.hypot(across, along)


def distance_in_words(metres: float) -> str:
    """A distance as people say it.

    Examples
    --------
    >>> distance_in_words(640), distance_in_words(1250), distance_in_words(64_300)
    ('640 m', '1.2 km', '64 km')
    """
    if metres < 1000:
        return f"{max(1, round(metres))} m"
    return f"{metres / 1000:.1f} km" if metres < 20_000 else f"{round(metres / 1000)} km"


def metres_outside(shapes: npt.NDArray[np.object_], area: shapely.Geometry) -> _Numbers:
    """Metres from each shape to an area; 0 where they touch."""
    shapely.prepare(area)
    away = np.zeros(len(shapes))
    apart = ~shapely.intersects(shapes, area)
    away[apart] = shapely.distance(shapes[apart], area)
    return away
