"""UTM zones as people write them: bands, letters of 100 km squares, and where a zone ends.

A code is the zone, its latitude band, two letters for the 100 km square and digits: ``31UDS6858``. Squares
that stick out of their zone belong to it as long as some part of them lies inside; the rest is cut off when
drawn.

Source
------
NGA.STND.0037, Universal Grids and Grid Reference Systems, chapters 2 and 3 (from memory); the ``mgrs``
library agrees in the tests.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
import shapely

from gapmap.errors import GridError
from gapmap.grid.projections import lonlat_to_grid
from gapmap.grid.systems import UTM_NORTH, System, system_of, utm

Whole = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

#: Latitude bands from 80° S, eight degrees each, the last one twelve.
BANDS = "CDEFGHJKLMNPQRSTUVWX"

_COLUMNS = {1: "ABCDEFGH", 2: "JKLMNPQR", 0: "STUVWXYZ"}
_ROWS = "ABCDEFGHJKLMNPQRSTUV"
_HUNDRED_KM = 100_000
_NORWAY = {31: (0, 3), 32: (3, 12)}
_SVALBARD: dict[int, tuple[int, int] | None] = {
    31: (0, 9), 32: None, 33: (9, 21), 34: None, 35: (21, 33), 36: None, 37: (33, 42),
}


def read_zones(zones: Sequence[str]) -> tuple[tuple[int, str], ...]:
    """Zone numbers and bands of zones as people type them.

    Raises
    ------
    GridError
        A zone lacks its band letter or does not exist.

    Examples
    --------
    >>> read_zones(["31U", " 32u "])
    ((31, 'U'), (32, 'U'))
    """
    found = []
    for text in zones:
        match = re.fullmatch(r"([0-9]{1,2})([C-HJ-NP-X])", text.strip().upper())
        if match is None:
            raise GridError(
                "A UTM zone is a number from 1 to 60 and the letter of its latitude band",
                found=text or "nothing", do="write it as 31U",
            )
        zone = utm(int(match[1])).zone
        if zone_limits(zone, match[2]) is None:
            raise GridError(
                "This UTM zone does not exist so far north", found=text, do="use 31X, 33X, 35X or 37X"
            )
        found.append((zone, match[2]))
    return tuple(found)


def band_limits(band: str) -> tuple[int, int]:
    """Southern and northern latitude of a band, in degrees.

    Examples
    --------
    >>> band_limits("U"), band_limits("X")
    ((48, 56), (72, 84))
    """
    south = -80 + 8 * BANDS.index(band)
    return south, 84 if band == "X" else south + 8


def zone_limits(zone: int, band: str) -> tuple[int, int] | None:
    """Western and eastern longitude of a zone within a band, in degrees; None where the zone is not used.

    Examples
    --------
    >>> zone_limits(31, "U"), zone_limits(32, "V"), zone_limits(32, "X")
    ((0, 6), (3, 12), None)
    """
    if band == "V" and zone in _NORWAY:
        return _NORWAY[zone]
    if band == "X" and zone in _SVALBARD:
        return _SVALBARD[zone]
    west = -180 + 6 * (zone - 1)
    return west, west + 6


@cache
def region(system: System) -> shapely.Geometry:
    """The ground a zone covers, in metres of its own plane (edges true to a decimetre)."""
    bands = BANDS[10:] if system.is_north else BANDS[:10]
    parts = [_band_region(system.zone, band) for band in bands if zone_limits(system.zone, band)]
    whole = shapely.union_all(parts)
    shapely.prepare(whole)
    return whole


@cache
def hundreds_of_band(zone: int, band: str) -> dict[str, tuple[int, int]]:
    """Letters and south-west corner of every 100 km square that touches a zone within a band.

    Examples
    --------
    >>> hundreds_of_band(31, "U")["DS"]
    (400000, 5600000)
    """
    if zone_limits(zone, band) is None:
        return {}
    ground = _band_region(zone, band)
    first, last = (int(edge // _HUNDRED_KM) for edge in shapely.bounds(ground)[1::2])
    columns, rows = (grid.ravel() for grid in np.meshgrid(np.arange(1, 9), np.arange(first, last + 1)))
    east, north = columns * _HUNDRED_KM, rows * _HUNDRED_KM
    wide = shapely.box(east, north, east + _HUNDRED_KM, north + _HUNDRED_KM)
    touching = shapely.intersects(ground, wide) & ~shapely.touches(ground, wide)
    return {
        _COLUMNS[zone % 3][column - 1] + _row_letter(zone, row): (column * _HUNDRED_KM, row * _HUNDRED_KM)
        for column, row in zip(columns[touching].tolist(), rows[touching].tolist(), strict=True)
    }


@cache
def names_of_hundreds(key: int) -> dict[tuple[int, int], dict[str, str]]:
    """For each 100 km square of a zone, its full name in each band it touches, by band.

    Examples
    --------
    >>> names_of_hundreds(131)[400_000, 5_600_000]
    {'U': '31UDS'}
    """
    system = system_of(key)
    names: dict[tuple[int, int], dict[str, str]] = {}
    for band in BANDS[10:] if system.is_north else BANDS[:10]:
        for letters, corner in hundreds_of_band(system.zone, band).items():
            names.setdefault(corner, {})[band] = f"{system.zone}{band}{letters}"
    return names


def is_in_zone(key: Whole, side: Whole, easting: Whole, northing: Whole) -> npt.NDArray[np.bool_]:
    """Whether some part of each square lies inside its UTM zone; true for squares of other systems.

    Examples
    --------
    >>> north = np.array([5_600_000, 5_600_000])
    >>> is_in_zone(np.array([131, 131]), np.array([1000, 1000]), np.array([500_000, 790_000]), north).tolist()
    [True, False]
    """
    def has_part_in(ground: shapely.Geometry, boxes: Shapes) -> npt.NDArray[np.bool_]:
        reached: npt.NDArray[np.bool_] = shapely.intersects(ground, boxes) & ~shapely.touches(ground, boxes)
        return reached

    return _ask_zone(has_part_in, key, side, easting, northing)


def is_wholly_in_zone(key: Whole, side: Whole, easting: Whole, northing: Whole) -> npt.NDArray[np.bool_]:
    """Whether each square lies in its UTM zone to the last corner; true for squares of other systems.

    Examples
    --------
    >>> corner = np.array([710_000]), np.array([5_600_000])
    >>> is_wholly_in_zone(np.array([131]), np.array([10_000]), *corner).tolist()
    [False]
    """
    return _ask_zone(shapely.covers, key, side, easting, northing)


def _ask_zone(
    question: Callable[[shapely.Geometry, Shapes], npt.NDArray[np.bool_]],
    key: Whole, side: Whole, easting: Whole, northing: Whole,
) -> npt.NDArray[np.bool_]:
    """Ask a question about each square and its zone; squares deep inside (most) are not asked one by one."""
    answer = np.ones(np.shape(key), dtype=np.bool_)
    for number in np.unique(key[key > UTM_NORTH]):
        rows = np.flatnonzero(key == number)
        corners = (easting[rows] // _HUNDRED_KM) << 32 | (northing[rows] // _HUNDRED_KM)
        distinct, which = np.unique(corners, return_inverse=True)
        west, south = (distinct >> 32) * _HUNDRED_KM, (distinct & 0xFFFFFFFF) * _HUNDRED_KM
        ground = region(system_of(number))
        wide = shapely.box(west, south, west + _HUNDRED_KM, south + _HUNDRED_KM)
        rest = rows[~shapely.covers(ground, wide)[which]]
        east, north = easting[rest], northing[rest]
        boxes = shapely.box(east, north, east + side[rest], north + side[rest])
        answer[rest] = question(ground, boxes)
    return answer


def _row_letter(zone: int, row: int) -> str:
    return _ROWS[(row + (5 if zone % 2 == 0 else 0)) % 20]


@cache
def _band_region(zone: int, band: str) -> shapely.Geometry:
    limits = zone_limits(zone, band)
    if limits is None:
        return shapely.Polygon()
    (west, east), (south, north) = limits, band_limits(band)
    lon, lat = np.linspace(west, east, 121), np.linspace(south, north, 241)
    ring_lon = np.concatenate([lon, np.full(241, east), lon[::-1], np.full(241, west)])
    ring_lat = np.concatenate([np.full(121, south), lat, np.full(121, north), lat[::-1]])
    plane = utm(zone, BANDS.index(band) >= 10)
    ground = shapely.make_valid(shapely.Polygon(np.column_stack(lonlat_to_grid(plane, ring_lon, ring_lat))))
    shapely.prepare(ground)
    return ground
