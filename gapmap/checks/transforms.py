"""The slips of the pen that move a place: each turns a position into the one that was, or may have been, meant.

Every slip is its own mirror image (two digits exchanged are put right by exchanging them again), so the same
functions damage records to learn what slips look like and mend them to find out which one explains a record.
All work on the hundred-kilometre square and the metres inside it, whole columns at a time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from gapmap.grid.projections import grid_to_lonlat, lonlat_to_grid
from gapmap.grid.systems import system_of

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

HUNDRED_KM = 100_000
#: Kinds of slip: the share of each among slips of place (our judgement; evidence outweighs it), and a question.
KINDS: dict[str, tuple[float, str]] = {
    "letters": (0.20, "Could the letters be {meant} rather than {written}?"),
    "exchanged": (0.12, "Could easting and northing have changed places ({meant} rather than {written})?"),
    "digit": (0.24, "Could one digit be meant otherwise ({meant} rather than {written})?"),
    "digits exchanged": (0.12, "Could two digits have changed places ({meant} rather than {written})?"),
    "digit dropped": (0.06, "Could a digit have been left out ({meant} rather than {written})?"),
    "digit doubled": (0.05, "Could a digit have been written twice ({meant} rather than {written})?"),
    "tetrad and quadrant": (
        0.04,
        "Could the letters after the figures be meant otherwise ({meant} rather than {written})?",
    ),
    "other grid": (
        0.05,
        "Could the reference belong to the neighbouring country's grid ({meant} rather than {written})?",
    ),
    "longitude sign": (0.05, "Could the sign of the longitude be the other one ({meant} rather than {written})?"),
    "latitude and longitude": (
        0.03,
        "Could latitude and longitude have changed places ({meant} rather than {written})?",
    ),
    "minutes as decimals": (
        0.04,
        "Could minutes have been written as decimals of a degree ({meant} rather than {written})?",
    ),
}
#: Slips of figures: they make no sense in metres that nobody typed.
OF_FIGURES = ("exchanged", "digit", "digits exchanged", "digit dropped", "digit doubled", "other grid")
#: Slips of degrees: they make no sense in typed metres.
OF_DEGREES = ("longitude sign", "latitude and longitude", "minutes as decimals")
_TETRADS = "ABCDEFGHIJKLMNPQRSTUVWXYZ"  # DINTY order: up each column from the south-west; common practice, no source
_QUADRANTS = {"SW": (0, 0), "NW": (0, 1), "SE": (1, 0), "NE": (1, 1)}


@dataclass(frozen=True)
class Places:
    """References or points of several records, columns of shape (n,); ``row`` says whose."""

    row: Whole
    system: Whole
    easting: Whole
    northing: Whole
    precision_m: Whole
    is_point: npt.NDArray[np.bool_]

    def at(self, chosen: npt.NDArray[np.generic]) -> Places:
        """The chosen rows (an index or a yes/no column)."""
        return Places(**{f.name: getattr(self, f.name)[chosen] for f in fields(self)})

    def moved(self, easting: Whole, northing: Whole, **others: Whole) -> Places:
        """The same records elsewhere."""
        return Places(
            **{f.name: getattr(self, f.name) for f in fields(self)}
            | {"easting": easting, "northing": northing}
            | others
        )

    def inside(self) -> tuple[Whole, Whole, Whole, Whole]:
        """South-west corner of the hundred-kilometre square, and metres east and north of it."""
        (east, x), (north, y) = _split(self.easting), _split(self.northing)
        return east, north, x, y


def repairs(places: Places, squares: npt.NDArray[np.int64]) -> Iterator[tuple[str, Places]]:
    """Every position one slip away from the given ones, kind by kind.

    Parameters
    ----------
    places
        Positions as written.
    squares
        Shape (m, 3): system, easting and northing of the hundred-kilometre squares that letters may be meant for.

    Yields
    ------
    tuple of str and Places
        The kind (a key of KINDS) and the positions of those records it applies to.
    """
    yield from _other_letters(places, squares)
    yield "exchanged", _exchanged(places)
    yield from _digits(places)
    yield from _digits_exchanged(places)
    yield from _digit_dropped(places, squares)
    yield from _digit_doubled(places)
    yield from _metres_dropped_or_doubled(places)
    yield from _tetrad_or_quadrant(places)
    yield from _other_grid(places)
    yield from _coordinates(places)


def _split(metres: Whole) -> tuple[Whole, Whole]:
    corner = np.floor_divide(metres, HUNDRED_KM) * HUNDRED_KM
    return corner, metres - corner


def _other_letters(places: Places, squares: npt.NDArray[np.int64]) -> Iterator[tuple[str, Places]]:
    east, north, x, y = places.inside()
    for system, corner_east, corner_north in squares:
        other = (places.system != system) | (east != corner_east) | (north != corner_north)
        moved = places.moved(corner_east + x, corner_north + y, system=np.full(len(x), system))
        yield "letters", moved.at(other & (places.precision_m < HUNDRED_KM) & ~places.is_point)


def _exchanged(places: Places) -> Places:
    """The two halves of the figures: those behind the letters of a reference, or the whole of plain metres."""
    east, north, x, y = places.inside()
    written = places.is_point | np.isin(places.precision_m, (1, 10, 100, 1000, 10_000))
    swapped = [np.where(places.is_point, metres, figures) for metres, figures in (
        (places.northing, east + y), (places.easting, north + x))]  # fmt: skip
    return places.moved(*swapped).at(written & ((swapped[0] != places.easting) | (swapped[1] != places.northing)))


def _digits(places: Places) -> Iterator[tuple[str, Places]]:
    for power in (10_000, 1_000):
        has_it = places.at((places.precision_m <= power) | places.is_point)
        east, north, x, y = has_it.inside()
        for step in range(1, 10):
            for axis in (0, 1):
                metres = (x, y)[axis]
                digit = metres // power % 10
                change = ((digit + step) % 10 - digit) * power
                yield (
                    "digit",
                    has_it.moved(east + x + (change if axis == 0 else 0), north + y + (change if axis == 1 else 0)),
                )


def _digits_exchanged(places: Places) -> Iterator[tuple[str, Places]]:
    for power in (1_000, 100):
        has_it = places.at((places.precision_m <= power) | places.is_point)
        east, north, x, y = has_it.inside()
        for axis in (0, 1):
            metres = (x, y)[axis]
            high, low = metres // (power * 10) % 10, metres // power % 10
            change = (low - high) * power * 10 + (high - low) * power
            moved = has_it.moved(east + x + (change if axis == 0 else 0), north + y + (change if axis == 1 else 0))
            yield "digits exchanged", moved.at(high != low)


def _digit_dropped(places: Places, squares: npt.NDArray[np.int64]) -> Iterator[tuple[str, Places]]:
    """The first digit of each half left out: what is left slid one place to the left."""
    short = places.at(np.isin(places.precision_m, (10, 100, 1000, 10_000)) & ~places.is_point)
    east, north, x, y = short.inside()
    for first_x in range(10):
        for first_y in range(10):
            moved = short.moved(
                east + first_x * 10_000 + x // 10,
                north + first_y * 10_000 + y // 10,
                precision_m=short.precision_m // 10,
            )
            yield "digit dropped", moved


def _digit_doubled(places: Places) -> Iterator[tuple[str, Places]]:
    """One digit of each half written twice: take the second away and slide the rest one place to the right."""
    long = places.at(np.isin(places.precision_m, (1, 10, 100, 1000)) & ~places.is_point)
    east, north, x, y = long.inside()
    for power in (10_000, 1_000):
        twice_x, twice_y = x // power % 10 == x // (power // 10) % 10, y // power % 10 == y // (power // 10) % 10
        closed = [metres // power * power + metres % (power // 10) * 10 for metres in (x, y)]
        moved = long.moved(east + closed[0], north + closed[1], precision_m=long.precision_m * 10)
        written = long.precision_m <= power // 10  # figures that nobody wrote are no doubled ones
        yield "digit doubled", moved.at(twice_x & twice_y & written)


def _metres_dropped_or_doubled(places: Places) -> Iterator[tuple[str, Places]]:
    """The same in plain metres, which have six figures (seven in the far north): one of the first three is too few or
    stands twice."""
    points = places.at(places.is_point)
    for axis in (0, 1):
        metres = (points.easting, points.northing)[axis]
        short, long = (metres >= 10_000) & (metres < 100_000), metres >= 100_000
        for place in (100_000, 10_000, 1_000):
            for figure in range(10):
                longer = metres // place * place * 10 + figure * place + metres % place
                yield "digit dropped", _along(points, axis, longer).at(short & (longer >= 100_000))
            before, after = metres // (place * 10), metres % place
            twice = long & (before % 10 == metres // place % 10)
            yield "digit doubled", _along(points, axis, before * place + after).at(twice)


def _along(places: Places, axis: int, metres: Whole) -> Places:
    return places.moved(metres, places.northing) if axis == 0 else places.moved(places.easting, metres)


def _tetrad_or_quadrant(places: Places) -> Iterator[tuple[str, Places]]:
    tetrads = places.at((places.precision_m == 2_000) & ~places.is_point)
    east, north, x, y = tetrads.inside()
    hectad_x, hectad_y = east + x // 10_000 * 10_000, north + y // 10_000 * 10_000
    place = x % 10_000 // 2_000 * 5 + y % 10_000 // 2_000
    for name, (right, up) in _QUADRANTS.items():
        could = (place == _TETRADS.index(name[0])) | (place == _TETRADS.index(name[1]))
        quadrant = tetrads.moved(hectad_x + right * 5_000, hectad_y + up * 5_000, precision_m=np.full(len(x), 5_000))
        yield "tetrad and quadrant", quadrant.at(could)
    across = tetrads.moved(hectad_x + place % 5 * 2_000, hectad_y + place // 5 * 2_000)
    yield "tetrad and quadrant", across.at(place % 5 != place // 5)
    quadrants = places.at((places.precision_m == 5_000) & ~places.is_point)
    east, north, x, y = quadrants.inside()
    hectad_x, hectad_y = east + x // 10_000 * 10_000, north + y // 10_000 * 10_000
    for name, (right, up) in _QUADRANTS.items():
        here = (x % 10_000 // 5_000 == right) & (y % 10_000 // 5_000 == up)
        for letter in name:
            index = _TETRADS.index(letter)
            tetrad = quadrants.moved(
                hectad_x + index // 5 * 2_000, hectad_y + index % 5 * 2_000, precision_m=np.full(len(x), 2_000)
            )
            yield "tetrad and quadrant", tetrad.at(here)


def _other_grid(places: Places) -> Iterator[tuple[str, Places]]:
    """The British grid's figures read on the Irish grid, which is 500 km wide and high, and the reverse."""
    british, irish = places.at(places.system == 1), places.at(places.system == 2)
    yield (
        "other grid",
        british.moved(british.easting % 500_000, british.northing % 500_000, system=np.full(len(british.row), 2)),
    )
    for east in (0, 500_000):
        for north in (0, 500_000, 1_000_000):
            yield (
                "other grid",
                irish.moved(irish.easting + east, irish.northing + north, system=np.full(len(irish.row), 1)),
            )


def _coordinates(places: Places) -> Iterator[tuple[str, Places]]:
    points = places.at(places.is_point)
    if not len(points.row):
        return
    longitude, latitude = _lonlat(points)
    yield "longitude sign", _from_lonlat(points, -longitude, latitude, np.abs(longitude) > 0.01)
    yield "latitude and longitude", _from_lonlat(points, latitude, longitude, np.abs(longitude) < 90)
    minutes = [np.trunc(degrees) + (degrees - np.trunc(degrees)) / 0.6 for degrees in (longitude, latitude)]
    possible = (np.abs(longitude) % 1 < 0.6) & (np.abs(latitude) % 1 < 0.6)
    yield "minutes as decimals", _from_lonlat(points, minutes[0], minutes[1], possible)


def _lonlat(points: Places) -> tuple[Number, Number]:
    longitude, latitude = np.full(len(points.row), np.nan), np.full(len(points.row), np.nan)
    for key in np.unique(points.system):
        here = points.system == key
        longitude[here], latitude[here] = grid_to_lonlat(
            system_of(int(key)), points.easting[here].astype(float), points.northing[here].astype(float)
        )
    return longitude, latitude


def _from_lonlat(points: Places, longitude: Number, latitude: Number, possible: npt.NDArray[np.bool_]) -> Places:
    easting, northing = np.full(len(points.row), np.nan), np.full(len(points.row), np.nan)
    for key in np.unique(points.system):
        here = (points.system == key) & possible
        if here.any():
            easting[here], northing[here] = lonlat_to_grid(system_of(int(key)), longitude[here], latitude[here])
    sound = np.isfinite(easting) & np.isfinite(northing)
    sound &= (np.abs(np.nan_to_num(easting)) < 9e6) & (np.abs(np.nan_to_num(northing)) < 9e6)
    moved = points.moved(
        np.nan_to_num(easting, posinf=0, neginf=0).round().astype(np.int64),
        np.nan_to_num(northing, posinf=0, neginf=0).round().astype(np.int64),
    )
    return moved.at(sound)
