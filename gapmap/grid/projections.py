"""Between grids and longitude/latitude; the only module that touches pyproj and convertbng.

Longitude and latitude are WGS 84 and taken as ETRS89 (they differ by less than a metre in Europe). Longitude
comes before latitude and easting before northing, always.

The British grid is reached through OSTN15 (to a centimetre) in Great Britain, the Isle of Man and the sea
about them. OSTN15 has no meaning in Ireland or France, where ``convertbng`` still answers: there, and beyond
the rectangle of OSTN15, the published seven-parameter shift is used instead, good to about 5 m in Britain and
not promised beyond it. From longitude and latitude ``convertbng`` also gives no number south of 49.922° N or
west of 8.579° W, in the south of Scilly and the west of St Kilda; these go through the plane of ETRS89 first.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from convertbng.cutil import convert_bng, convert_etrs89_to_osgb36, convert_lonlat
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from gapmap.errors import GridError
from gapmap.grid.systems import SYSTEMS, System

Number = npt.NDArray[np.float64]

_BRITISH = SYSTEMS[1]
#: Rectangle of OSTN15 in metres of the British grid.
_OSTN_EAST, _OSTN_NORTH = 700_000, 1_250_000

# Mid-sea lines, drawn by hand: Ireland lies west of the first (longitude at each latitude), France and the
# Channel Islands south of the second (latitude at each longitude).
_IRISH_SEA_LAT = np.array([51.2, 52.0, 52.5, 53.5, 54.1, 54.5, 54.75, 55.25, 55.5])
_IRISH_SEA_LON = np.array([-6.0, -5.9, -5.5, -5.4, -5.15, -5.17, -5.35, -5.93, -6.5])
_CHANNEL_LON = np.array([-7.0, -4.0, -2.0, 0.0, 0.9, 1.45, 2.0])
_CHANNEL_LAT = np.array([49.3, 49.5, 50.0, 50.3, 50.6, 51.0, 51.4])


def lonlat_to_grid(system: System, lon: npt.ArrayLike, lat: npt.ArrayLike) -> tuple[Number, Number]:
    """Easting and northing of points given by longitude and latitude.

    Parameters
    ----------
    system
        The grid system to reach.
    lon, lat
        Degrees, WGS 84.

    Returns
    -------
    Two float64 arrays in metres; not a number where the plane cannot hold the point. Points may lie outside
    the limits of the system: ask `squares.is_inside`.

    Source
    ------
    OSTN15 by Ordnance Survey through ``convertbng``; PROJ for every other plane.

    Examples
    --------
    >>> from gapmap.grid.systems import system_named
    >>> british = system_named("british")
    >>> east, north = lonlat_to_grid(british, [-3.29479219], [55.92478266])  # OSTN15 point TP27
    >>> east.round(1).tolist(), north.round(1).tolist()
    ([319188.4], [670947.5])
    """
    longitude, latitude = _pair(lon, lat)
    if system != _BRITISH:
        return _finite(*_transformer(system).transform(longitude, latitude))
    covered = _is_covered(longitude, latitude)
    if covered.all():
        easting, northing = convert_bng(longitude, latitude)
    else:
        easting, northing = np.full((2, len(longitude)), np.nan)
        easting[covered], northing[covered] = convert_bng(longitude[covered], latitude[covered])
    refused = np.flatnonzero(np.isnan(easting) & covered)
    if len(refused):
        easting[refused], northing[refused] = _british_by_plane(longitude[refused], latitude[refused])
    beyond = np.flatnonzero(np.isnan(easting))
    if len(beyond):
        easting[beyond], northing[beyond] = _finite(
            *_transformer(system).transform(longitude[beyond], latitude[beyond])
        )
    return easting, northing


def grid_to_lonlat(system: System, easting: npt.ArrayLike, northing: npt.ArrayLike) -> tuple[Number, Number]:
    """Longitude and latitude of points given in a grid's plane.

    Parameters
    ----------
    system
        The grid system of the points.
    easting, northing
        Metres.

    Returns
    -------
    Two float64 arrays in degrees, WGS 84; not a number where there is no such place.

    Examples
    --------
    >>> from gapmap.grid.systems import system_named
    >>> lon, lat = grid_to_lonlat(system_named("british"), [319188.434], [670947.534])  # OSTN15 point TP27
    >>> lon.round(6).tolist(), lat.round(6).tolist()
    ([-3.294792], [55.924783])
    """
    east, north = _pair(easting, northing)
    if system != _BRITISH:
        return _finite(*_transformer(system).transform(east, north, direction="INVERSE"))
    lon, lat = np.full((2, len(east)), np.nan)
    within = (east >= 0) & (east <= _OSTN_EAST) & (north >= 0) & (north <= _OSTN_NORTH)
    lon[within], lat[within] = convert_lonlat(east[within], north[within])
    other = ~_is_covered(lon, lat)
    if other.any():
        lon[other], lat[other] = _finite(
            *_transformer(system).transform(east[other], north[other], direction="INVERSE")
        )
    return lon, lat


def grid_to_grid(
    origin: System, goal: System, easting: npt.ArrayLike, northing: npt.ArrayLike
) -> tuple[Number, Number]:
    """Bring points from the plane of one grid into the plane of another.

    Examples
    --------
    >>> from gapmap.grid.systems import system_named
    >>> east, north = grid_to_grid(system_named("irish"), system_named("europe"), [315_904], [234_671])
    >>> east.round(-1).tolist(), north.round(-1).tolist()
    ([3248580.0], [3481180.0])
    """
    east, north = _pair(easting, northing)
    if origin == goal:
        return east.copy(), north.copy()
    return lonlat_to_grid(goal, *grid_to_lonlat(origin, east, north))


def crs_to_lonlat(crs: str, first: npt.ArrayLike, second: npt.ArrayLike) -> tuple[Number, Number]:
    """Longitude and latitude of points in any coordinate reference system that has a name or number.

    Parameters
    ----------
    crs
        Such as ``EPSG:2157``, ``2157`` or ``WGS84``.
    first, second
        Easting and northing in metres, or longitude and latitude in degrees: always across, then up.

    Raises
    ------
    GridError
        There is no such coordinate reference system.

    Examples
    --------
    >>> lon, lat = crs_to_lonlat("EPSG:2157", [709_885.081], [736_167.699])
    >>> lon.round(6).tolist(), lat.round(6).tolist()
    ([-6.348987], [53.364273])
    """
    across, up = _pair(first, second)
    code = _epsg_of(crs)
    for system in SYSTEMS.values():
        if code == system.epsg:
            return grid_to_lonlat(system, across, up)
    return _finite(*_transformer_of_crs(crs.strip()).transform(across, up))


def home_of(lon: npt.ArrayLike, lat: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Key of the grid that people at each point write their references in.

    British in Great Britain, the Isle of Man and the sea around; Irish in Ireland; channel in the Channel
    Islands; a UTM zone elsewhere; 0 where there is none. The lines between run through the middle of the sea.

    Examples
    --------
    >>> home_of([-3.2, -6.26, -2.1, 4.35, 5.3], [55.9, 53.35, 49.2, 50.85, 60.4]).tolist()
    [1, 2, 3, 131, 132]
    """
    longitude, latitude = _pair(lon, lat)
    keys = utm_zone_of(longitude, latitude)
    keys = keys + np.where(keys == 0, 0, np.where(latitude >= 0, 100, 180))
    near = (longitude > -13) & (longitude < 2.5) & (latitude > 49) & (latitude < 61.5)
    keys[near & ~_is_in_france(longitude, latitude)] = 1
    keys[(longitude > -11.5) & _is_in_ireland(longitude, latitude)] = 2
    keys[(longitude > -3) & (longitude < -1.8) & (latitude > 48.8) & (latitude < 49.9)] = 3
    return keys


def utm_zone_of(lon: npt.ArrayLike, lat: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """UTM zone of each point, with the exceptions in Norway and Svalbard; 0 beyond 80° S and 84° N.

    Source
    ------
    NGA.STND.0037, Universal Grids and Grid Reference Systems, chapter 2 (from memory).

    Examples
    --------
    >>> utm_zone_of([2.5, 5.3, 10, 180, 0], [51, 60.4, 78, 10, 89]).tolist()
    [31, 32, 33, 1, 0]
    """
    longitude, latitude = _pair(lon, lat)
    known = np.isfinite(longitude) & (latitude >= -80) & (latitude <= 84)
    turned = np.where(known, (longitude + 180) % 360, 0)
    zone = np.minimum(turned // 6, 59).astype(np.int64) + 1
    east = turned - 180
    zone[(latitude >= 56) & (latitude < 64) & (east >= 3) & (east < 6)] = 32
    svalbard = (latitude >= 72) & (east >= 0) & (east < 42)
    zone[svalbard] = np.array([31, 33, 35, 37])[np.searchsorted([9, 21, 33], east[svalbard], side="right")]
    return np.where(known, zone, 0)


def _british_by_plane(lon: Number, lat: Number) -> tuple[Number, Number]:
    """Through the plane of ETRS89, where OSTN15 is at home; not a number beyond its rectangle."""
    east, north = _finite(*_etrs89_plane().transform(lon, lat))
    within = (east > 0) & (east < _OSTN_EAST) & (north > 0) & (north < _OSTN_NORTH)
    easting, northing = np.full((2, len(east)), np.nan)
    easting[within], northing[within] = convert_etrs89_to_osgb36(east[within], north[within])
    return easting, northing


def _is_covered(lon: Number, lat: Number) -> npt.NDArray[np.bool_]:
    return ~(_is_in_ireland(lon, lat) | _is_in_france(lon, lat) | np.isnan(lon + lat))


def _is_in_ireland(lon: Number, lat: Number) -> npt.NDArray[np.bool_]:
    between: npt.NDArray[np.bool_] = lat > _IRISH_SEA_LAT[0]
    between &= (lat < _IRISH_SEA_LAT[-1]) & (lon < _IRISH_SEA_LON.max())
    if not between.any():
        return between
    between[between] = lon[between] < np.interp(lat[between], _IRISH_SEA_LAT, _IRISH_SEA_LON)
    return between


def _is_in_france(lon: Number, lat: Number) -> npt.NDArray[np.bool_]:
    south: npt.NDArray[np.bool_] = lat < _CHANNEL_LAT.max()
    if not south.any():
        return south
    south[south] = lat[south] < np.interp(lon[south], _CHANNEL_LON, _CHANNEL_LAT)
    return south


def _pair(first: npt.ArrayLike, second: npt.ArrayLike) -> tuple[Number, Number]:
    one, two = np.broadcast_arrays(
        np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    )
    return np.ascontiguousarray(one), np.ascontiguousarray(two)


def _finite(first: Number, second: Number) -> tuple[Number, Number]:
    known = np.isfinite(first) & np.isfinite(second)
    return np.where(known, first, np.nan), np.where(known, second, np.nan)


@cache
def _etrs89_plane() -> Transformer:
    """The British projection on ETRS89, before OSTN15 bends it (the developer pack's intermediate plane)."""
    plane = (
        "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=GRS80 +units=m +type=crs"
    )
    return Transformer.from_crs("EPSG:4258", plane, always_xy=True)


@cache
def _transformer(system: System) -> Transformer:
    return Transformer.from_crs("EPSG:4326", system.plane or f"EPSG:{system.epsg}", always_xy=True)


@cache
def _transformer_of_crs(crs: str) -> Transformer:
    return Transformer.from_crs(_crs(crs), "EPSG:4326", always_xy=True)


@cache
def _epsg_of(crs: str) -> int | None:
    return _crs(crs.strip()).to_epsg()


def _crs(crs: str) -> CRS:
    try:
        return CRS.from_user_input(int(crs) if crs.isdecimal() else crs)
    except CRSError as error:
        raise GridError(
            "This is not a coordinate reference system anyone has registered", found=crs or "nothing",
            do="give its EPSG number, such as EPSG:27700",
        ) from error
