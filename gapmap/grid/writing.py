"""Write squares as references, whole columns at a time.

Sizes that lettered grids have no word of their own for are written as the south-western hectad and the size:
``OR46-20km``, ``OR05-50km``.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

from gapmap.grid.lettering import QUADRANTS, TETRADS
from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.squares import is_inside, unpack
from gapmap.grid.systems import System, system_of
from gapmap.grid.utm import BANDS, names_of_hundreds

Whole = npt.NDArray[np.int64]
Texts = npt.NDArray[np.str_]

_HUNDRED_KM = 100_000
_DIGITS = {100_000: 0, 10_000: 1, 1_000: 2, 100: 3, 10: 4, 1: 5, 2_000: 1, 5_000: 1, 20_000: 1, 50_000: 1}
_TETRADS = np.array(list(TETRADS))
_QUADRANTS = np.array([name for name, _ in sorted(QUADRANTS.items(), key=lambda item: item[1])])


def write(squares: npt.ArrayLike) -> npt.NDArray[np.object_]:
    """References of squares.

    Returns
    -------
    Object array of str; empty text for no square and for squares beyond the limits of their system. A UTM
    square just beyond the edge of its zone still gets a name, for people to see; it is not read back.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> write([pack(1, 2_000, 648_000, 678_000), pack(4, 10_000, 4_320_000, 3_210_000), -1]).tolist()
    ['OR47Z', '10kmE432N321', '']
    """
    packed = np.asarray(squares, dtype=np.int64)
    references = np.full(packed.shape, "", dtype=object)
    kinds = packed >> 48
    for kind in np.unique(kinds[packed >= 0]):
        rows = np.flatnonzero(kinds == kind)
        key, side, easting, northing = unpack(packed[rows])
        inside = is_inside(key, easting, northing)
        rows, easting, northing = rows[inside], easting[inside], northing[inside]
        if len(rows):
            system = system_of(key[0])
            references[rows] = _FORMS[system.form](system, int(side[0]), easting, northing).astype(object)
    return references


def european_code(squares: npt.ArrayLike) -> npt.NDArray[np.object_]:
    """Long INSPIRE codes of European squares; empty text for other squares.

    Source
    ------
    INSPIRE Data Specification on Geographical Grid Systems, version 3.1, section 4.2.1 (from memory).

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> european_code([pack(4, 10_000, 4_320_000, 3_210_000)]).tolist()
    ['CRS3035RES10000mN3210000E4320000']
    """
    key, side, easting, northing = unpack(squares)
    codes = [
        f"CRS3035RES{width}mN{north}E{east}" if system == 4 else ""
        for system, width, east, north in zip(
            key.tolist(), side.tolist(), easting.tolist(), northing.tolist(), strict=True
        )
    ]
    return np.array(codes, dtype=object)


def _by_letters(system: System, side: int, easting: Whole, northing: Whole) -> Texts:
    names, west, south = _names(system.key)
    hundreds = names[northing // _HUNDRED_KM - south, easting // _HUNDRED_KM - west]
    return _with_digits(hundreds, side, easting, northing)


def _by_zone(system: System, side: int, easting: Whole, northing: Whole) -> Texts:
    """The band is that of the square's centre where its 100 km square lies in two."""
    names = names_of_hundreds(system.key)
    corners = easting // _HUNDRED_KM * 1000 + northing // _HUNDRED_KM
    hundreds = np.full(len(corners), "", dtype="<U5")
    for corner in np.unique(corners):
        rows = np.flatnonzero(corners == corner)
        by_band = names.get((int(corner) // 1000 * _HUNDRED_KM, int(corner) % 1000 * _HUNDRED_KM), {})
        if len(by_band) == 1:
            hundreds[rows] = next(iter(by_band.values()))
        elif by_band:
            _, lat = grid_to_lonlat(system, easting[rows] + side / 2, northing[rows] + side / 2)
            place = np.clip((lat + 80) // 8, 0, len(BANDS) - 1).astype(np.int64)
            fallback = next(iter(by_band.values()))
            hundreds[rows] = [by_band.get(BANDS[band], fallback) for band in place.tolist()]
    return np.where(hundreds == "", "", _with_digits(hundreds, side, easting, northing))


def _by_metres(system: System, side: int, easting: Whole, northing: Whole) -> Texts:
    step = max(power for power in (1, 10, 100, 1_000, 10_000, 100_000) if side % power == 0)
    size = f"{side // 1000}km" if side >= 1000 else f"{side}m"
    east, north = ((metres // step).astype("<U7") for metres in (easting, northing))
    return _joined(np.array(size), np.array("E"), east, np.array("N"), north)


_FORMS: dict[str, Callable[[System, int, Whole, Whole], Texts]] = {
    "letters": _by_letters, "utm": _by_zone, "metres": _by_metres,
}


def _with_digits(hundreds: Texts, side: int, easting: Whole, northing: Whole) -> Texts:
    half = _DIGITS[side]
    step = 10 ** (5 - half)
    parts: list[Texts] = [hundreds]
    parts += [_padded(metres % _HUNDRED_KM // step, half) for metres in (easting, northing) if half]
    east, north = easting % 10_000, northing % 10_000
    if side == 2_000:
        parts.append(_TETRADS[east // side * 5 + north // side])
    elif side == 5_000:
        parts.append(_QUADRANTS[east // side * 2 + north // side])
    elif side in (20_000, 50_000):
        parts.append(np.array(f"-{side // 1000}km"))
    return _joined(*parts)


def _padded(numbers: Whole, width: int) -> Texts:
    """Numbers with leading zeros, made as characters at once."""
    characters = np.empty((len(numbers), width), dtype=np.uint32)
    rest = numbers
    for place in range(width - 1, -1, -1):
        rest, digit = np.divmod(rest, 10)
        characters[:, place] = digit + 48
    return characters.view(f"<U{width}").ravel()


def _joined(*parts: Texts) -> Texts:
    whole = parts[0]
    for part in parts[1:]:
        whole = np.char.add(whole, part)
    return np.asarray(whole)


@cache
def _names(key: int) -> tuple[Texts, int, int]:
    """Letters of each 100 km square by row and column, and the first column and row."""
    system = system_of(key)
    west, south = system.west // _HUNDRED_KM, system.south // _HUNDRED_KM
    names = np.full((system.north // _HUNDRED_KM - south, system.east // _HUNDRED_KM - west), "", dtype="<U2")
    for letters, (easting, northing) in system.hundreds.items():
        names[northing // _HUNDRED_KM - south, easting // _HUNDRED_KM - west] = letters
    return names, west, south
