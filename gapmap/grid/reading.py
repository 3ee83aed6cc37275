"""Read a whole column of tidied references into squares.

Values are sorted by their shape (which places hold digits and which letters); each shape that occurs is
understood once and all its values are read together. What is not read here is explained in explaining.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from gapmap.columns import NO_SQUARE
from gapmap.grid.lettering import QUADRANTS, TETRADS, Lookup, lookup_of_zone, lookups_of
from gapmap.grid.squares import SIDES, pack, unpack
from gapmap.grid.systems import SYSTEMS, UTM_NORTH
from gapmap.grid.tidying import NO_GAP, Bytes, Tidied
from gapmap.grid.utm import is_in_zone

Whole = npt.NDArray[np.int64]

#: Longest reference there is, in letters and digits.
LONGEST = 40

_EUROPE = SYSTEMS[4]
_LETTERED = re.compile(r"(?P<zone>9{0,2})(?P<letters>A{1,3})(?P<digits>(?:99){0,5})(?P<suffix>A{0,2})")
_SHORT_METRES = re.compile(r"(?P<size>9{1,3})(?P<unit>A{1,2})(?P<one>A9{1,7})(?P<two>A9{1,7})")
_LONG_METRES = re.compile(
    r"(?P<crs>A{3}9{4}A{3})(?P<size>9{1,6})(?P<unit>A)(?P<one>A9{1,7})(?P<two>A9{1,7})"
)


@dataclass(frozen=True)
class _Layout:
    """Where the parts of a lettered reference stand: the letters after the zone, the digits, the suffix."""

    zone: int
    letters: int
    digits: int
    suffix: int

    @property
    def middle(self) -> int:
        """Where the digits of the northing begin."""
        return self.zone + self.letters + self.digits // 2


def read(tidied: Tidied, system: str = "", zones: tuple[tuple[int, str], ...] = ()) -> Whole:
    """Squares of tidied references.

    Parameters
    ----------
    tidied
        The column.
    system
        british, irish, channel, europe, utm, or nothing to recognise each value by itself.
    zones
        UTM zones that codes without a zone may lie in.

    Returns
    -------
    int64 array; NO_SQUARE where a value is no reference.

    Examples
    --------
    >>> from gapmap.grid.tidying import tidy
    >>> [part.tolist() for part in unpack(read(tidy(["NT27", "H47P", "31UDS6858", "NT 25 773"])))]
    [[1, 2, 131, 0], [10000, 2000, 1000, 0], [320000, 244000, 468000, 0], [670000, 378000, 5658000, 0]]
    """
    squares = np.full(len(tidied.lengths), NO_SQUARE, dtype=np.int64)
    lookups = lookups_of(system, zones)
    for rows, shape, values in _by_shape(tidied):
        squares[rows] = _read_shape(shape, values, tidied.gaps[rows], system, lookups)
    far = np.flatnonzero(squares >= (UTM_NORTH * 16) << 48)
    if len(far):
        key, side, easting, northing = unpack(squares[far])
        squares[far[~is_in_zone(key, side, easting, northing)]] = NO_SQUARE
    return squares


def _by_shape(tidied: Tidied) -> Iterator[tuple[Whole | slice, str, Bytes]]:
    """Rows of each shape, the shape (9 a digit, A a letter), and their characters, one row a value."""
    counts = np.bincount(np.clip(tidied.lengths, 0, LONGEST + 1), minlength=LONGEST + 2)
    for length in np.flatnonzero(counts[1 : LONGEST + 1]) + 1:
        rows: Whole | slice = slice(None)
        if counts[length] < len(tidied.lengths):
            rows = np.flatnonzero(tidied.lengths == length)
        windows = np.lib.stride_tricks.sliding_window_view(tidied.letters, int(length))
        values = windows[tidied.starts[rows]]
        shapes, which = _shapes_of(values)
        if len(shapes) == 1:
            yield rows, shapes[0], values
            continue
        for place, shape in enumerate(shapes):
            chosen = np.flatnonzero(which == place)
            yield chosen if isinstance(rows, slice) else rows[chosen], shape, values[chosen]


def _shapes_of(values: Bytes) -> tuple[list[str], Whole]:
    """The shapes that occur, and which of them each value has (left out when there is only one)."""
    length = values.shape[1]
    masks = np.zeros(len(values), dtype=np.int64)
    for place in range(length):
        masks |= (values[:, place] < 58).astype(np.int64) << place
    if (masks == masks[0]).all():
        return [_shape_of(int(masks[0]), length)], np.zeros(0, dtype=np.int64)
    distinct, which = np.unique(masks, return_inverse=True)
    return [_shape_of(mask, length) for mask in distinct.tolist()], which


def _shape_of(mask: int, length: int) -> str:
    return "".join("9" if mask >> place & 1 else "A" for place in range(length))


def _read_shape(shape: str, values: Bytes, gaps: Whole, system: str, lookups: Mapping[int, Lookup]) -> Whole:
    metres = _SHORT_METRES.fullmatch(shape) or _LONG_METRES.fullmatch(shape)
    if metres and system in ("", "europe"):
        return np.where(gaps == NO_GAP, _read_metres(metres, values), NO_SQUARE)
    layout = _layout_of(shape)
    if layout is None:
        return np.full(len(values), NO_SQUARE, dtype=np.int64)
    if layout.zone:
        squares = _read_zoned(layout, values) if system in ("", "utm") else None
    else:
        squares = _read_lettered(layout, values, lookups.get(layout.letters))
    if squares is None:
        return np.full(len(values), NO_SQUARE, dtype=np.int64)
    return np.where((gaps == NO_GAP) | (gaps == layout.middle), squares, NO_SQUARE)


@cache
def _layout_of(shape: str) -> _Layout | None:
    match = _LETTERED.fullmatch(shape)
    if match is None:
        return None
    zone, letters, digits, suffix = (len(match[part]) for part in ("zone", "letters", "digits", "suffix"))
    if (letters == 3) != (zone > 0) or (suffix and digits not in (2, 4)) or (suffix == 1 and digits == 4):
        return None
    return _Layout(zone, letters, digits, suffix)


def _read_zoned(layout: _Layout, values: Bytes) -> Whole:
    squares = np.full(len(values), NO_SQUARE, dtype=np.int64)
    prefix = _whole(values[:, : layout.zone]) * 26 + (values[:, layout.zone] - 65)
    within = _Layout(0, layout.letters - 1, layout.digits, layout.suffix)
    for code in np.unique(prefix):
        lookup = lookup_of_zone(int(code // 26), chr(int(code % 26) + 65))
        rows = np.flatnonzero(prefix == code)
        squares[rows] = _read_lettered(within, values[rows, layout.zone + 1 :], lookup)
    return squares


def _read_lettered(layout: _Layout, values: Bytes, lookup: Lookup | None) -> Whole:
    if lookup is None:
        return np.full(len(values), NO_SQUARE, dtype=np.int64)
    number = _number(values[:, : layout.letters])
    key, easting, northing = lookup.key[number], lookup.easting[number], lookup.northing[number]
    if layout.suffix == 2 and layout.digits == 4:
        return _named_sizes(values[:, layout.letters :], key, easting, northing)
    half = layout.digits // 2
    side = 10 ** (5 - half)
    if half:
        easting = easting + _whole(values[:, layout.letters : layout.middle]) * side
        northing = northing + _whole(values[:, layout.middle : layout.letters + layout.digits]) * side
    if layout.suffix == 1:
        return _tetrads(values[:, -1], key, easting, northing)
    if layout.suffix == 2:
        return _quadrants(values[:, -2:], key, easting, northing)
    return pack(key, side, easting, northing)


def _tetrads(letter: Bytes, key: Whole, easting: Whole, northing: Whole) -> Whole:
    place = _PLACE_OF_TETRAD[letter]
    squares = pack(key, 2_000, easting + place // 5 * 2_000, northing + place % 5 * 2_000)
    return np.where(place >= 0, squares, NO_SQUARE)


def _quadrants(letters: Bytes, key: Whole, easting: Whole, northing: Whole) -> Whole:
    squares = np.full(len(letters), NO_SQUARE, dtype=np.int64)
    number = _number(letters)
    for name, (east, north) in QUADRANTS.items():
        rows = number == _number(np.frombuffer(name.encode(), dtype=np.uint8).reshape(1, 2))
        squares[rows] = pack(key[rows], 5_000, easting[rows] + east * 5_000, northing[rows] + north * 5_000)
    return squares


def _named_sizes(text: Bytes, key: Whole, easting: Whole, northing: Whole) -> Whole:
    """Squares of 20 and 50 km, written as their south-western hectad and the size: ``OR46-20km``."""
    squares = np.full(len(text), NO_SQUARE, dtype=np.int64)
    east, north = easting + _whole(text[:, :1]) * 10_000, northing + _whole(text[:, 1:2]) * 10_000
    for side in (20_000, 50_000):
        named = (text[:, 2:] == np.frombuffer(f"{side // 1000}KM".encode(), dtype=np.uint8)).all(axis=1)
        rows = named & (east % side == 0) & (north % side == 0)
        squares[rows] = pack(key[rows], side, east[rows], north[rows])
    return squares


def _read_metres(match: re.Match[str], values: Bytes) -> Whole:
    """European squares, in the short or the long form, with E or N first."""
    size = _whole(values[:, slice(*match.span("size"))])
    unit = values[:, slice(*match.span("unit"))]
    in_km = match.end("unit") - match.start("unit") == 2
    good = (unit == np.frombuffer(b"KM" if in_km else b"M", dtype=np.uint8)).all(axis=1)
    is_long = "crs" in match.groupdict()
    if is_long:
        good &= (values[:, :10] == np.frombuffer(b"CRS3035RES", dtype=np.uint8)).all(axis=1)
    side = np.minimum(size, 1_000) * 1_000 if in_km else size
    good &= np.isin(side, SIDES)
    step = np.ones_like(side) if is_long else _power_of_ten(side)
    axes = [values[:, match.start(part)] for part in ("one", "two")]
    one, two = (_whole(values[:, match.start(part) + 1 : match.end(part)]) * step for part in ("one", "two"))
    east_first = (axes[0] == ord("E")) & (axes[1] == ord("N"))
    good &= east_first | ((axes[0] == ord("N")) & (axes[1] == ord("E")))
    easting, northing = np.where(east_first, one, two), np.where(east_first, two, one)
    good &= (easting < _EUROPE.east) & (northing < _EUROPE.north)
    side = np.where(good, side, 1)
    good &= (easting % side == 0) & (northing % side == 0)
    squares = pack(_EUROPE.key, side, np.where(good, easting, 0), np.where(good, northing, 0))
    return np.where(good, squares, NO_SQUARE)


def _power_of_ten(side: Whole) -> Whole:
    """The largest power of ten that divides each side: the zeros left out of a short European code."""
    power = np.ones_like(side)
    for _ in range(5):
        power = np.where((side > 0) & (side % (power * 10) == 0), power * 10, power)
    return power


def _whole(digits: Bytes) -> Whole:
    value = np.zeros(len(digits), dtype=np.int64)
    for place in range(digits.shape[1]):
        value *= 10
        value += digits[:, place]
    value -= 48 * ((10 ** digits.shape[1] - 1) // 9)
    return value


def _number(letters: Bytes) -> Whole:
    value = np.zeros(len(letters), dtype=np.int64)
    for place in range(letters.shape[1]):
        value *= 26
        value += letters[:, place]
    value -= 65 * ((26 ** letters.shape[1] - 1) // 25)
    return value


_PLACE_OF_TETRAD = np.full(256, -1, dtype=np.int64)
_PLACE_OF_TETRAD[np.frombuffer(TETRADS.encode(), dtype=np.uint8)] = np.arange(25)
