"""In which grid eastings and northings are, by the words and codes of a file, a header or a cell."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from gapmap.errors import GridError
from gapmap.grid.systems import SYSTEMS, system_named, utm

#: EPSG codes of the Irish Grid on its older datums, metres apart from each other (EPSG registry: TM65 / Irish
#: National Grid, OSNI 1952 / Irish National Grid, TM65 / Irish Grid).
_OLDER_IRISH = (29900, 29901, 29902)

#: Words that name a grid, the first that stands in the text first (common practice).
_WORDS: Mapping[str, str] = MappingProxyType({
    "irish": "irish", "ireland": "irish", "ie": "irish", "osni": "irish",
    "osgb": "british", "british": "british", "britain": "british", "gb": "british", "bng": "british",
    "ordnance survey": "british", "os": "british",
    "laea": "europe", "europe": "europe", "channel": "channel", "channel islands": "channel",
})  # fmt: skip

#: A zone of UTM by its name in the EPSG registry, "WGS 84 / UTM zone 30N", on the datum of the map or one like it.
_ZONE = r"(?:(?:wgs|etrs)\W*(?:19)?8[49]\W*)?utm\W*(?:zone\W*)?(\d{1,2})\W*(n|s|north|south)"

#: Words for a text that says nothing: none at all, or only the datum, which is no grid.
_SILENT = (
    r"(?:epsg\W*4326|(?:wgs|world geodetic system)\W*(?:19)?84|etrs\W*(?:19)?89|(?:not|un)\s*(?:specified|known|given|"
    r"recorded|stated)|none|n\W?a|null|)"
)


def crs_to_system(text: str) -> int:
    """Key of the grid system that a text names by EPSG code or word; 0 when it names none.

    Examples
    --------
    >>> crs_to_system("EPSG:27700"), crs_to_system("irish"), crs_to_system("WGS84"), crs_to_system("not specified")
    (1, 2, 0, 0)
    >>> crs_to_system("OSGB 1936 / British National Grid"), crs_to_system("WGS 84 / UTM zone 30N")
    (1, 130)
    """
    lowered = " ".join(text.lower().split())
    codes = (_epsg_to_system(int(code)) for code in re.findall(r"(?<!\d)\d{4,5}(?!\d)", lowered))
    if found := next((key for key in codes if key), 0):
        return found
    if zone := re.fullmatch(_ZONE, lowered):
        return _utm(int(zone[1]), is_north=zone[2].startswith("n"))
    if re.search(r"transverse|(?<![a-z])itm(?![a-z])", lowered):  # Irish Transverse Mercator is another grid
        return 0
    return next((system_named(name).key for word, name in _WORDS.items() if _stands_in(word, lowered)), 0)


def zone_to_system(text: str, *, needs_letter: bool = False) -> int:
    """Key of the zone of UTM that a cell names; 0 when it names none.

    The letter is the band of latitude, C to M south of the equator and N to X north of it (NGA.SIG.0012, MGRS).

    Examples
    --------
    >>> zone_to_system("31U"), zone_to_system("UTM zone 33 H"), zone_to_system("30"), zone_to_system("61N")
    (131, 213, 130, 0)
    """
    said = re.fullmatch(r"(?:utm)?\W*(?:zone)?\W*(\d{1,2})\s*([c-hj-np-x]?)", text.strip().lower())
    if not said or (needs_letter and not said[2]):
        return 0
    return _utm(int(said[1]), is_north=not said[2] or said[2] >= "n")


def says_nothing(text: str) -> bool:
    """Whether a cell for the grid is empty, says that it is not known, or names only the datum.

    Examples
    --------
    >>> [says_nothing(text) for text in ("", "-", "not specified", "WGS 84", "EPSG:23030")]
    [True, True, True, True, False]
    """
    return re.fullmatch(rf"\W*{_SILENT}\W*", text.strip().lower()) is not None


def _epsg_to_system(code: int) -> int:
    if 32600 < code <= 32660 or 32700 < code <= 32760:
        return _utm(code % 100, is_north=code < 32700)
    if code in _OLDER_IRISH:
        return system_named("irish").key
    return next((system.key for system in SYSTEMS.values() if system.epsg == code), 0)


def _utm(zone: int, *, is_north: bool) -> int:
    try:
        return utm(zone, is_north).key
    except GridError:
        return 0


def _stands_in(word: str, text: str) -> bool:
    return re.search(rf"(?<![a-z]){word}(?![a-z])", text) is not None
