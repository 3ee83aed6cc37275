"""Which squares a shape covers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from gapmap.grid.squares import polygons, square_at
from gapmap.grid.systems import System


def squares_touching(
    shape: BaseGeometry, system: System, side: int, least_share: float = 0.1
) -> npt.NDArray[np.int64]:
    """Squares that hold at least a share of land inside a shape.

    Parameters
    ----------
    shape
        Polygon or multipolygon in the plane of ``system``, metres.
    system
        Grid system.
    side
        Side of the squares, metres.
    least_share
        0 to 1: a square counts when at least this share of it lies inside, so that slivers of shore do not.

    Returns
    -------
    array of int64
        Packed squares in ascending order; empty for an empty shape.

    Examples
    --------
    >>> from gapmap.grid.references import squares_to_references
    >>> from gapmap.grid.systems import system_named
    >>> island = shapely.box(442_500, 671_000, 446_000, 673_000)
    >>> found = squares_touching(island, system_named("british"), 2000)
    >>> len(found)
    4
    """
    if shape.is_empty:
        return np.empty(0, dtype=np.int64)
    west, south, east, north = (np.floor(np.array(shape.bounds) / side) * side).astype(np.int64)
    eastings, northings = np.meshgrid(np.arange(west, east + 1, side), np.arange(south, north + 1, side))
    squares = np.asarray(square_at(system.key, eastings.ravel(), northings.ravel(), side), dtype=np.int64)
    shares = shares_inside(shape, squares, system)
    return np.sort(squares[(shares > 0) & (shares >= least_share)])


def shares_inside(shape: BaseGeometry, squares: npt.NDArray[np.int64], system: System) -> npt.NDArray[np.float64]:
    """How much of each square lies inside a shape.

    Parameters
    ----------
    shape
        Polygon or multipolygon in the plane of ``system``, metres.
    squares
        Packed squares.
    system
        Grid system of the shape.

    Returns
    -------
    array of float
        0 to 1 for each square.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> from gapmap.grid.systems import system_named
    >>> pair = pack(1, 2_000, [442_000, 446_000], [670_000, 670_000])
    >>> shares_inside(shapely.box(442_500, 671_000, 446_000, 673_000), pair, system_named("british")).tolist()
    [0.375, 0.0]
    """
    outlines = polygons(squares, system)
    shapely.prepare(shape)
    near = shapely.intersects(outlines, shape)
    shares = np.zeros(len(squares))
    shares[near] = shapely.area(shapely.intersection(outlines[near], shape)) / shapely.area(outlines[near])
    return shares
