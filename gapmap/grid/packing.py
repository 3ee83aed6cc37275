"""A square as one integer.

A square is ``((key * 16 + side_code) << 48) | ((northing + 4_000_000) << 24) | (easting + 4_000_000)``, with
the south-west corner in metres of the system's own plane; ``columns.NO_SQUARE`` (-1) is no square.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from gapmap.columns import NO_SQUARE
from gapmap.errors import GridError

Whole = npt.NDArray[np.int64]

#: Sides of squares in metres; the place in this tuple is the code inside a packed square.
SIDES = (1, 10, 100, 1_000, 2_000, 5_000, 10_000, 100_000, 20_000, 50_000)

#: Added to eastings and northings so that they are never negative; a multiple of every side.
SHIFT = 4_000_000
#: Bits for each of easting and northing.
BITS = 24

_MASK = (1 << BITS) - 1
_SIDE_OF_CODE = np.array([*SIDES, *[0] * (16 - len(SIDES))], dtype=np.int64)
_CODE_OF_SIDE = {side: code for code, side in enumerate(SIDES)}


def pack(
    system_key: npt.ArrayLike, side: npt.ArrayLike, easting: npt.ArrayLike, northing: npt.ArrayLike
) -> Whole:
    """Pack south-west corners into squares.

    Parameters
    ----------
    system_key, side, easting, northing
        Whole numbers or arrays of them that broadcast together; metres.

    Returns
    -------
    int64 array; NO_SQUARE where the corner is beyond any plane.

    Raises
    ------
    GridError
        A side is none of ``SIDES``.

    Examples
    --------
    >>> squares = pack(1, 2_000, [344_000, 600_000], [672_000, 200_000])
    >>> [part.tolist() for part in unpack(squares)]
    [[1, 1], [2000, 2000], [344000, 600000], [672000, 200000]]
    >>> pack(1, 1000, [], [])
    array([], dtype=int64)
    """
    key = np.asarray(system_key, dtype=np.int64)
    east = np.asarray(easting, dtype=np.int64) + SHIFT
    north = np.asarray(northing, dtype=np.int64) + SHIFT
    packed = ((key * 16 + codes_of_sides(side)) << (2 * BITS)) | (north << BITS) | east
    fits = (east >= 0) & (east <= _MASK) & (north >= 0) & (north <= _MASK) & (key > 0)
    result: Whole = np.where(fits, packed, NO_SQUARE)
    return result


def unpack(squares: npt.ArrayLike) -> tuple[Whole, Whole, Whole, Whole]:
    """System key, side, easting and northing of each square.

    Returns
    -------
    Four int64 arrays; all 0 where there is no square.

    Examples
    --------
    >>> [part.tolist() for part in unpack([NO_SQUARE])]
    [[0], [0], [0], [0]]
    """
    packed = np.asarray(squares, dtype=np.int64)
    is_square = packed >= 0
    head = packed >> (2 * BITS)
    east, north = packed & _MASK, (packed >> BITS) & _MASK
    parts = (head >> 4, _SIDE_OF_CODE[head & 15], east - SHIFT, north - SHIFT)
    key, side, easting, northing = (np.where(is_square, part, 0) for part in parts)
    return key, side, easting, northing


def codes_of_sides(side: npt.ArrayLike) -> Whole:
    """Codes of sides inside a packed square.

    Raises
    ------
    GridError
        A side is none of ``SIDES``.

    Examples
    --------
    >>> codes_of_sides([1, 2_000, 50_000]).tolist()
    [0, 4, 9]
    """
    sides = np.asarray(side, dtype=np.int64)
    if sides.ndim == 0:
        known = sides.item() in _CODE_OF_SIDE
        codes = np.array(_CODE_OF_SIDE.get(sides.item(), 0), dtype=np.int64)
    else:
        order = np.argsort(SIDES)
        place = np.minimum(np.searchsorted(np.asarray(SIDES)[order], sides), len(SIDES) - 1)
        codes = order[place].astype(np.int64)
        known = bool((_SIDE_OF_CODE[codes] == sides).all())
    if not known:
        raise GridError(
            "Squares cannot have this side", found=" ".join(str(s) for s in np.unique(sides)),
            do=f"use one of {', '.join(str(s) for s in sorted(SIDES))} m",
        )
    return codes
