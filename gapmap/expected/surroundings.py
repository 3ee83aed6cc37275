"""What lies around a square: sums over its neighbours at several distances, and squares of like habitat."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from gapmap.grid.projections import grid_to_grid
from gapmap.grid.squares import centre, unpack
from gapmap.grid.systems import system_of

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Cells × species held at once while summing (about 160 MB).
_BLOCK = 20_000_000
#: Weights below this are nought: they change no sum, and numbers that small slow a processor tenfold.
_NOUGHT = 1e-16


def places_of(squares: Whole) -> Numbers:
    """Where squares lie, in whole squares east and north, all in the plane of the commonest system.

    Parameters
    ----------
    squares
        S packed squares of one side; they may lie in several systems (such as two UTM zones).

    Returns
    -------
    S × 2 whole numbers.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> places_of(pack(1, 2_000, [324_000, 328_000], [672_000, 672_000])).tolist()
    [[162.0, 336.0], [164.0, 336.0]]
    >>> places_of(np.array([], dtype="int64")).shape
    (0, 2)
    """
    if len(squares) == 0:
        return np.zeros((0, 2))
    keys, side, _, _ = unpack(squares)
    return np.floor(in_plane(main_plane(squares), keys, *centre(squares)) / side[:, None])


def main_plane(squares: Whole) -> int:
    """Key of the commonest system of some squares, in whose plane all are placed; 0 when there are none."""
    named, counts = np.unique(unpack(squares)[0], return_counts=True)
    return int(named[np.argmax(counts)]) if len(named) else 0


def in_plane(plane: int, systems: Whole, easting: Numbers, northing: Numbers) -> Numbers:
    """Positions of several systems in the plane of one: n × 2 metres east and north."""
    at = np.column_stack([easting, northing]).astype(np.float64)
    for key in np.unique(systems[systems != plane]).tolist():
        rows = systems == key
        at[rows] = np.column_stack(grid_to_grid(system_of(key), system_of(plane), at[rows, 0], at[rows, 1]))
    return at


def sum_around(places: Numbers, values: Numbers, reach: float) -> Numbers:
    """Sum values over all other squares, weighted exp(−d²/(2·reach²)), the square itself left out.

    Rows and columns are weighted one after the other, which is exact for this weight and grows with
    squares × species, not with pairs of squares.

    Parameters
    ----------
    places
        S × 2 whole squares.
    values
        S × K.
    reach
        In squares.

    Returns
    -------
    S × K.

    Examples
    --------
    >>> sum_around(np.array([[0.0, 0], [1, 0], [9, 9]]), np.array([[1.0], [2.0], [4.0]]), 1.0).round(3).tolist()
    [[1.213], [0.607], [0.0]]
    """
    if len(places) == 0:
        return np.zeros_like(values)
    xs, x = np.unique(places[:, 0], return_inverse=True)
    ys, y = np.unique(places[:, 1], return_inverse=True)
    weight_x, weight_y = _weights(xs, reach), _weights(ys, reach)
    around = np.empty_like(values)
    step = max(1, _BLOCK // (len(xs) * len(ys)))
    cell = y.reshape(-1) * len(xs) + x.reshape(-1)
    shared = len(np.unique(cell)) < len(cell)
    for start in range(0, values.shape[1], step):
        part = values[:, start : start + step]
        plane = np.zeros((len(ys) * len(xs), part.shape[1]))
        if shared:
            np.add.at(plane, cell, part)
        else:
            plane[cell] = part
        by_row = (weight_y @ plane.reshape(len(ys), -1)).reshape(len(ys), len(xs), -1)
        by_both = np.empty_like(by_row)
        for row in range(len(ys)):
            np.matmul(weight_x, by_row[row], out=by_both[row])
        around[:, start : start + step] = by_both.reshape(-1, part.shape[1])[cell] - part
    return np.maximum(around, 0.0)


def _weights(along: Numbers, reach: float) -> Numbers:
    weight = np.exp(-((along[:, None] - along) ** 2) / (2 * reach**2))
    return np.where(weight < _NOUGHT, 0.0, weight)


def more_than_likely(found: Numbers, likely: Numbers, caution: float) -> Numbers:
    """Natural log of found over likely, both drawn together by ``caution`` finds (a gamma prior).

    Examples
    --------
    >>> more_than_likely(np.array([0.0, 6.0]), np.array([0.0, 2.0]), 2.0).round(3).tolist()
    [0.0, 0.693]
    """
    ratio: Numbers = np.log((found + caution) / (likely + caution))
    return ratio


def of_like_ground(shares: Numbers, found: Numbers, likely: Numbers, caution: float = 3.0) -> Numbers:
    """How much oftener than likely a species was found on ground like this square's.

    Parameters
    ----------
    shares
        S × H: share of each habitat or height band in the square; rows of nought where unknown.
    found, likely
        S × K.
    caution
        Finds that a habitat must outweigh.

    Returns
    -------
    S × K natural logs; the square itself is left out of what its habitats say.
    """
    total_found, total_likely = shares.T @ found, shares.T @ likely
    answer = np.zeros_like(found)
    for band in range(shares.shape[1]):
        share = shares[:, [band]]
        others_found = total_found[band] - share * found
        others_likely = total_likely[band] - share * likely
        answer += share * np.log((others_found + caution) / (others_likely + caution))
    return answer
