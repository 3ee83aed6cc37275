"""Which 100 km square two letters mean: lookups by the letters' number, and back.

The letters of a square are read as a number in base 26 (A is 0), so a whole column is looked up at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from gapmap.grid.systems import SYSTEMS, system_named, utm
from gapmap.grid.utm import BANDS, hundreds_of_band

Whole = npt.NDArray[np.int64]

#: Letters of 2 km squares within 10 km, column by column from the south-west (DINTY order; there is no O).
TETRADS = "ABCDEFGHIJKLMNPQRSTUVWXYZ"
#: Corner of each quadrant within its square, in halves: east, north.
QUADRANTS = {"SW": (0, 0), "SE": (1, 0), "NW": (0, 1), "NE": (1, 1)}


@dataclass(frozen=True)
class Lookup:
    """The 100 km square each combination of letters means.

    Parameters
    ----------
    key
        Key of the system; 0 where the letters mean nothing.
    easting, northing
        Metres: south-west corner.
    """

    key: Whole
    easting: Whole
    northing: Whole


def number_of_letters(letters: str) -> int:
    """Letters as a number in base 26.

    Examples
    --------
    >>> number_of_letters("A"), number_of_letters("BA")
    (0, 26)
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 65
    return number


def lookup_of(entries: Iterable[tuple[str, int, tuple[int, int]]], letters: int) -> Lookup:
    """A lookup from letters, system key and corner; letters that mean two different squares mean none.

    Examples
    --------
    >>> lookup = lookup_of([("B", 2, (100_000, 400_000))], letters=1)
    >>> lookup.key[:3].tolist(), lookup.easting[1].item()
    ([0, 2, 0], 100000)
    """
    meaning: dict[int, tuple[int, int, int]] = {}
    for name, key, corner in entries:
        number, place = number_of_letters(name), (key, *corner)
        meaning[number] = place if meaning.get(number, place) == place else (0, 0, 0)
    table = np.zeros((3, 26**letters), dtype=np.int64)
    for number, place in meaning.items():
        table[:, number] = place
    return Lookup(*table)


@cache
def lookups_of(system: str, zones: tuple[tuple[int, str], ...]) -> Mapping[int, Lookup]:
    """Lookups for references that begin with letters, by how many letters they begin with.

    Parameters
    ----------
    system
        Name of the grid, or nothing when each value is recognised by itself. WA and WV are then the Channel
        Islands', and two letters are a UTM code without its zone when zones are given.
    zones
        UTM zones that codes without a zone may lie in.

    Examples
    --------
    >>> lookups_of("irish", ()).keys()
    dict_keys([1])
    """
    if system == "utm" or (zones and not system):
        codes = [
            (letters, zone + (100 if BANDS.index(band) >= 10 else 180), corner)
            for zone, band in zones
            for letters, corner in hundreds_of_band(zone, band).items()
        ]
        both = {2: lookup_of(codes, 2)} if zones else {}
        return both if system else {1: _lookup_of_system("irish"), **both}
    if system == "europe":
        return {}
    if system:
        return {system_named(system).letters: _lookup_of_system(system)}
    british, channel = SYSTEMS[1], SYSTEMS[3]
    pairs = [
        (name, british.key, corner)
        for name, corner in british.hundreds.items()
        if name not in channel.hundreds
    ]
    pairs += [(name, channel.key, corner) for name, corner in channel.hundreds.items()]
    return {1: _lookup_of_system("irish"), 2: lookup_of(pairs, 2)}


@cache
def lookup_of_zone(zone: int, band: str) -> Lookup | None:
    """Lookup of the 100 km squares of a UTM zone and band; None when there is no such zone.

    Examples
    --------
    >>> lookup_of_zone(31, "U").northing[number_of_letters("DS")].item()
    5600000
    """
    if not 1 <= zone <= 60 or band not in BANDS:
        return None
    key = utm(zone, BANDS.index(band) >= 10).key
    return lookup_of([(name, key, corner) for name, corner in hundreds_of_band(zone, band).items()], 2)


@cache
def _lookup_of_system(name: str) -> Lookup:
    system = system_named(name)
    entries = [(letters, system.key, corner) for letters, corner in system.hundreds.items()]
    return lookup_of(entries, system.letters)
