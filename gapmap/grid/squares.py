"""Squares: where a record belongs; parents, children, neighbours, centres and outlines.

A square is one integer (see packing.py) with its south-west corner in metres of its system's own plane.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import shapely

from gapmap.columns import NO_SQUARE
from gapmap.errors import GridError
from gapmap.grid.packing import BITS, SHIFT, SIDES, codes_of_sides, pack, unpack
from gapmap.grid.projections import grid_to_grid, grid_to_lonlat
from gapmap.grid.systems import System, system_of
from gapmap.grid.utm import is_in_zone, is_wholly_in_zone, region

__all__ = [
    "SIDES", "centre", "children", "is_cut", "is_inside", "neighbours", "pack", "parent", "place_in", "place_sql",
    "polygons", "polygons_lonlat", "square_at", "unpack",
]

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]
Shapes = npt.NDArray[np.object_]
Move = Callable[[System, Number, Number], tuple[Number, Number]]

#: A point's precision is rounded; a hair over the side is not too coarse.
_SLACK = 1.01
#: Metres between the corners put into an edge before it is bent into another plane.
_EDGE_STEP = 5_000

def square_at(
    system_key: npt.ArrayLike, easting: npt.ArrayLike, northing: npt.ArrayLike, side: npt.ArrayLike
) -> Whole:
    """The square of a given side that holds each point.

    Parameters
    ----------
    system_key
        Key of each point's system.
    easting, northing
        Metres, whole or not.
    side
        Metres.

    Returns
    -------
    int64 array; NO_SQUARE where the point is not a number or lies outside its system's limits.

    Examples
    --------
    >>> [part.tolist() for part in unpack(square_at(1, [325_500.9, -0.1], [673_000, 12], 2_000))]
    [[1, 1], [2000, 2000], [324000, -2000], [672000, 0]]
    >>> square_at(2, [999_999], [0], 1_000).tolist()
    [-1]
    """
    key, east, north, width = np.broadcast_arrays(
        np.asarray(system_key, dtype=np.int64), np.asarray(easting, dtype=np.float64),
        np.asarray(northing, dtype=np.float64), np.asarray(side, dtype=np.int64),
    )
    inside = is_inside(key, east, north)
    corner_east = np.where(inside, np.floor(np.where(inside, east, 0) / width), 0).astype(np.int64) * width
    corner_north = np.where(inside, np.floor(np.where(inside, north, 0) / width), 0).astype(np.int64) * width
    return np.where(inside, pack(key, width, corner_east, corner_north), NO_SQUARE)


def is_inside(
    system_key: npt.ArrayLike, easting: npt.ArrayLike, northing: npt.ArrayLike
) -> npt.NDArray[np.bool_]:
    """Whether each point lies within the limits of its system, where squares have names.

    Examples
    --------
    >>> is_inside(2, [100_000, -1, float("nan")], [100_000, 0, 0]).tolist()
    [True, False, False]
    """
    key, east, north = np.broadcast_arrays(
        np.asarray(system_key, dtype=np.int64), np.asarray(easting, dtype=np.float64),
        np.asarray(northing, dtype=np.float64),
    )
    inside = np.zeros(key.shape, dtype=np.bool_)
    for number in np.unique(key[key > 0]):
        system = system_of(number)
        across = (east >= system.west) & (east < system.east)
        up = (north >= system.south) & (north < system.north)
        inside |= across & up & (key == number)
    return inside


def place_in(
    system_key: npt.ArrayLike, easting: npt.ArrayLike, northing: npt.ArrayLike, precision_m: npt.ArrayLike,
    is_point: npt.ArrayLike, side: int,
) -> Whole:
    """The square of the map that each record belongs to.

    A reference is a square, not a point: it belongs to the map's square that holds the whole of it, and to
    none when it is wider than the map's square or lies across two (a tetrad across two quadrants).

    Parameters
    ----------
    system_key, easting, northing, precision_m, is_point
        As in columns.RECORDS; positions lie inside their system.
    side
        Side of the map's squares in metres.

    Returns
    -------
    int64 array; NO_SQUARE where the record is too coarse.

    Examples
    --------
    >>> place_in(1, [320_000, 324_000], [670_000, 672_000], [10_000, 2_000], False, 2_000).tolist()[0]
    -1
    >>> place_in(1, [324_000], [670_000], [2_000], False, 5_000).tolist()
    [-1]
    """
    east = np.asarray(easting, dtype=np.int64)
    north = np.asarray(northing, dtype=np.int64)
    width = np.asarray(precision_m, dtype=np.int64)
    reach = np.where(np.asarray(is_point, dtype=np.bool_), 1, np.maximum(width, 1))
    east_within, north_within = east % side, north % side
    fits = (width <= side * _SLACK) & (east_within + reach <= side) & (north_within + reach <= side)
    return np.where(fits, pack(system_key, side, east - east_within, north - north_within), NO_SQUARE)


def place_sql(side: int) -> str:
    """The rule of `place_in` as a DuckDB expression over the columns of columns.RECORDS.

    Parameters
    ----------
    side
        Side of the map's squares in metres.

    Returns
    -------
    An SQL expression of type BIGINT.

    Examples
    --------
    >>> import duckdb
    >>> point = "1 as system, 324500 as easting, 673999 as northing, 100 as precision_m, true as is_point"
    >>> [(placed,)] = duckdb.sql(f"select {place_sql(2_000)} from (select {point})").fetchall()
    >>> placed == square_at(1, 324_500, 673_999, 2_000).item()
    True
    """
    code = codes_of_sides(side).item()
    east, north = (f"({name}::BIGINT + {SHIFT})" for name in ("easting", "northing"))
    reach = "(CASE WHEN is_point THEN 1 ELSE greatest(precision_m, 1) END)"
    fits = (
        f"precision_m <= {int(side * _SLACK)} AND {east} % {side} + {reach} <= {side} "
        f"AND {north} % {side} + {reach} <= {side}"
    )
    head = f"(system::BIGINT * 16 + {code}) * {1 << (2 * BITS)}"
    corner = f"({north} - {north} % {side}) * {1 << BITS} + ({east} - {east} % {side})"
    return f"(CASE WHEN {fits} THEN {head} + {corner} ELSE {NO_SQUARE} END)"


def parent(squares: npt.ArrayLike, side: int) -> Whole:
    """The square of the given side that holds each square whole.

    Returns
    -------
    int64 array; NO_SQUARE where the square is wider than that or lies across two of them.

    Examples
    --------
    >>> tetrad = pack(1, 2_000, 324_000, 672_000)
    >>> unpack(parent(tetrad, 10_000))[2:]
    (array(320000), array(670000))
    >>> parent(tetrad, 1_000).item(), parent(tetrad, 5_000).item()
    (-1, -1)
    """
    packed = np.asarray(squares, dtype=np.int64)
    key, width, easting, northing = unpack(packed)
    return np.where(packed >= 0, place_in(key, easting, northing, width, False, side), NO_SQUARE)


def children(square: int, side: int) -> Whole:
    """All squares of the given side within one square, row by row from the south-west.

    Squares beyond the edge of a UTM zone are left out.

    Raises
    ------
    GridError
        Squares of that side do not fill it.

    Examples
    --------
    >>> hectad = pack(1, 10_000, 320_000, 670_000)
    >>> len(children(hectad, 2_000)), len(children(hectad, 10_000))
    (25, 1)
    """
    key, width, easting, northing = (int(part) for part in unpack(square))
    codes_of_sides(side)
    if width < side or width % side:
        raise GridError(f"A square of {width} m cannot be filled with squares of {side} m")
    steps = np.arange(0, width, side, dtype=np.int64)
    north, east = np.meshgrid(steps, steps, indexing="ij")
    return _within_zone(pack(key, side, easting + east.ravel(), northing + north.ravel()))


def neighbours(square: int, rings: int = 1) -> Whole:
    """The squares of the same size around one, row by row from the south-west, without itself.

    Squares beyond the limits of the system or the edge of its UTM zone are left out.

    Examples
    --------
    >>> tetrad = pack(1, 2_000, 324_000, 672_000)
    >>> len(neighbours(tetrad)), len(neighbours(tetrad, 2))
    (8, 24)
    >>> len(neighbours(pack(2, 10_000, 0, 0)))
    3
    """
    key, side, easting, northing = (int(part) for part in unpack(square))
    steps = np.arange(-rings, rings + 1, dtype=np.int64) * side
    north, east = (grid.ravel() for grid in np.meshgrid(steps, steps, indexing="ij"))
    around = (north != 0) | (east != 0)
    found = square_at(key, easting + east[around], northing + north[around], side)
    return _within_zone(found[found != NO_SQUARE])


def centre(squares: npt.ArrayLike) -> tuple[Number, Number]:
    """Easting and northing of each square's centre, in metres of its own plane; not a number for no square.

    Examples
    --------
    >>> easting, northing = centre([pack(1, 2_000, 324_000, 672_000)])
    >>> easting.tolist(), northing.tolist()
    ([325000.0], [673000.0])
    """
    packed = np.asarray(squares, dtype=np.int64)
    _, side, easting, northing = unpack(packed)
    half = np.where(packed >= 0, side / 2, np.nan)
    return easting.astype(np.float64) + half, northing.astype(np.float64) + half


def polygons(squares: npt.ArrayLike, system: System | None = None) -> Shapes:
    """Outlines of squares, easting before northing.

    Parameters
    ----------
    squares
        Packed squares.
    system
        The plane to draw them in; each square's own when left out.

    Returns
    -------
    Object array of shapely polygons, empty where there is no square. UTM squares are cut off at the edge of
    their zone (ask `is_cut`), so that the squares of two zones meet without overlapping; a square wholly
    beyond its zone, where a point was brought from elsewhere, is drawn whole.

    Examples
    --------
    >>> [tetrad] = polygons([pack(1, 2_000, 648_000, 678_000)])
    >>> tetrad.bounds, tetrad.area
    ((648000.0, 678000.0, 650000.0, 680000.0), 4000000.0)
    >>> len(polygons([]))
    0
    """
    if system is None:
        return _outlines(squares)
    goal = system
    return _moved(squares, lambda own, east, north: grid_to_grid(own, goal, east, north), goal.key)


def polygons_lonlat(squares: npt.ArrayLike) -> Shapes:
    """Outlines of squares in degrees, longitude before latitude; otherwise like `polygons`.

    Examples
    --------
    >>> [monad] = polygons_lonlat([pack(131, 1_000, 468_000, 5_658_000)])
    >>> [round(edge, 3) for edge in monad.bounds]
    [2.543, 51.073, 2.558, 51.082]
    """
    return _moved(squares, grid_to_lonlat)


def is_cut(squares: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Whether each square sticks out of its UTM zone and is therefore smaller than its side says.

    Examples
    --------
    >>> is_cut([pack(131, 10_000, 710_000, 5_600_000), pack(131, 10_000, 500_000, 5_600_000)]).tolist()
    [True, False]
    """
    packed = np.asarray(squares, dtype=np.int64)
    key, side, easting, northing = unpack(packed)
    return (packed >= 0) & ~is_wholly_in_zone(key, side, easting, northing)


def _outlines(squares: npt.ArrayLike) -> Shapes:
    packed = np.asarray(squares, dtype=np.int64)
    key, side, easting, northing = unpack(packed)
    shapes: Shapes = shapely.box(easting, northing, easting + side, northing + side)
    shapes[packed < 0] = shapely.Polygon()
    cut = is_cut(packed)
    for number in np.unique(key[cut]):
        rows = np.flatnonzero(cut & (key == number))
        parts = shapely.intersection(shapes[rows], region(system_of(number)))
        shapes[rows] = np.where(shapely.area(parts) > 0, parts, shapes[rows])
    return shapes


def _within_zone(squares: Whole) -> Whole:
    key, side, easting, northing = unpack(squares)
    kept: Whole = squares[is_in_zone(key, side, easting, northing)]
    return kept


def _moved(squares: npt.ArrayLike, move: Move, goal: int = 0) -> Shapes:
    shapes = _outlines(squares)
    key = unpack(squares)[0]
    for number in np.unique(key[(key > 0) & (key != goal)]):
        rows = key == number
        bent = shapely.segmentize(shapes[rows], _EDGE_STEP)
        corners = shapely.get_coordinates(bent)
        moved = move(system_of(number), corners[:, 0], corners[:, 1])
        shapes[rows] = shapely.set_coordinates(bent, np.column_stack(moved))
    return shapes
