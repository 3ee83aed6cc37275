"""The grid systems: one small frozen description each.

To add a grid whose 100 km squares have letters, add one entry to ``SYSTEMS``; reading, writing, parents and
polygons follow from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Literal

from gapmap.errors import GridError

#: The 25 letters of British and Irish 100 km squares, row by row from the north-west. There is no I.
GRID_LETTERS = "ABCDEFGHJKLMNOPQRSTUVWXYZ"

#: Keys of UTM zones: north 100 + zone, south 180 + zone.
UTM_NORTH, UTM_SOUTH = 100, 180

_HUNDRED_KM = 100_000


@dataclass(frozen=True)
class System:
    """A plane in metres, and how its squares are named.

    Parameters
    ----------
    key
        The number that stands for the system in a packed square.
    name
        Short name used in settings and code.
    title
        Name as people read it.
    epsg
        EPSG code of the plane.
    form
        How squares are named: ``letters`` for the 100 km square and then digits, ``utm`` for the same after a
        zone, ``metres`` for the size and the coordinates themselves.
    west, south, east, north
        Metres: limits of the squares that can be named.
    hundreds
        Letters of each 100 km square and its south-west corner, easting and northing (form ``letters``).
    zone
        UTM zone, 0 elsewhere.
    plane
        The plane in PROJ's words with its shift to WGS 84, where the EPSG register leaves a choice of shifts.

    Examples
    --------
    >>> british = system_named("british")
    >>> british.epsg, british.hundreds["TQ"]
    (27700, (500000, 100000))
    """

    key: int
    name: str
    title: str
    epsg: int
    form: Literal["letters", "utm", "metres"]
    west: int
    south: int
    east: int
    north: int
    hundreds: Mapping[str, tuple[int, int]] = field(
        default_factory=lambda: MappingProxyType({}), compare=False, repr=False
    )
    zone: int = 0
    plane: str = field(default="", repr=False)

    @property
    def letters(self) -> int:
        """How many letters name a 100 km square; 0 when none do."""
        return len(next(iter(self.hundreds), "")) if self.form == "letters" else 0

    @property
    def is_north(self) -> bool:
        """False for the UTM zones south of the equator."""
        return self.key < UTM_SOUTH


def _one_letter(west: int, south: int, step: int = _HUNDRED_KM) -> dict[str, tuple[int, int]]:
    return {
        letter: (west + (place % 5) * step, south + (4 - place // 5) * step)
        for place, letter in enumerate(GRID_LETTERS)
    }


def _two_letters(west: int, south: int) -> dict[str, tuple[int, int]]:
    return {
        first + second: corner
        for first, (easting, northing) in _one_letter(west, south, 5 * _HUNDRED_KM).items()
        for second, corner in _one_letter(easting, northing).items()
    }


# Ordnance Survey, "A guide to coordinate systems in Great Britain", section 6: the seven-parameter shift,
# about 5 m; used only where the OSTN15 grid does not reach.
_BRITISH_PLANE = (
    "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy "
    "+towgs84=446.448,-125.157,542.06,0.15,0.247,0.842,-20.489 +units=m +type=crs"
)
# EPSG operation 1954, "TM75 to WGS 84 (2)", accuracy 1 m, by the Irish mapping agencies.
_IRISH_PLANE = (
    "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=1.000035 +x_0=200000 +y_0=250000 +ellps=mod_airy "
    "+towgs84=482.5,-130.6,564.6,-1.042,-0.214,-0.631,8.15 +units=m +type=crs"
)

#: The systems that are not UTM zones, by key.
SYSTEMS: Mapping[int, System] = MappingProxyType({
    system.key: system
    for system in (
        System(
            1, "british", "British National Grid", 27700, "letters",
            -1_000_000, -500_000, 1_500_000, 2_000_000,
            MappingProxyType(_two_letters(-1_000_000, -500_000)), plane=_BRITISH_PLANE,
        ),
        System(
            2, "irish", "Irish Grid", 29903, "letters", 0, 0, 500_000, 500_000,
            MappingProxyType(_one_letter(0, 0)), plane=_IRISH_PLANE,
        ),
        System(
            3, "channel", "Channel Islands (UTM zone 30 north)", 32630, "letters",
            500_000, 5_400_000, 600_000, 5_600_000,
            MappingProxyType({"WA": (500_000, 5_500_000), "WV": (500_000, 5_400_000)}),
        ),
        System(4, "europe", "European grid (ETRS89-LAEA)", 3035, "metres", 0, 0, 8_000_000, 6_000_000),
    )
})


@cache
def utm(zone: int, north: bool = True) -> System:
    """The system of a UTM zone (WGS 84).

    Raises
    ------
    GridError
        There is no such zone.

    Examples
    --------
    >>> utm(31).key, utm(31).name, utm(31).epsg
    (131, 'utm31n', 32631)
    >>> utm(1, north=False).key, utm(1, north=False).epsg
    (181, 32701)
    """
    if not 1 <= zone <= 60:
        raise GridError("UTM zones are numbered 1 to 60", found=zone, do="give a zone such as 31U")
    key = zone + (UTM_NORTH if north else UTM_SOUTH)
    title = f"UTM zone {zone} {'north' if north else 'south'}"
    south, top = (0, 9_400_000) if north else (1_000_000, 10_000_000)
    return System(
        key, f"utm{zone}{'n' if north else 's'}", title, zone + (32600 if north else 32700), "utm",
        0, south, 1_000_000, top, zone=zone,
    )


def system_of(key: int) -> System:
    """The system with this key.

    Raises
    ------
    GridError
        No system has the key.

    Examples
    --------
    >>> system_of(2).title
    'Irish Grid'
    >>> system_of(132).name
    'utm32n'
    """
    key = int(key)
    if key in SYSTEMS:
        return SYSTEMS[key]
    if UTM_NORTH < key <= UTM_NORTH + 60:
        return utm(key - UTM_NORTH)
    if UTM_SOUTH < key <= UTM_SOUTH + 60:
        return utm(key - UTM_SOUTH, north=False)
    raise GridError("This is not the number of a grid system", found=key)


def system_named(name: str) -> System:
    """The system with this name: british, irish, channel, europe, or a zone such as utm31n.

    Raises
    ------
    GridError
        No system has the name.

    Examples
    --------
    >>> system_named("irish").key, system_named("utm31n").key
    (2, 131)
    """
    wanted = name.strip().lower()
    for system in SYSTEMS.values():
        if system.name == wanted:
            return system
    zone, side = wanted[3:-1], wanted[-1:]
    if wanted.startswith("utm") and zone.isascii() and zone.isdigit() and side in ("n", "s"):
        return utm(int(zone), side == "n")
    raise GridError(
        "This is not a grid system gapmap knows", found=name or "nothing",
        do=f"use one of {', '.join(s.name for s in SYSTEMS.values())}, or a UTM zone such as utm31n",
    )
