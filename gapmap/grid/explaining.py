"""Why a value is not a reference, in a sentence fit to paste into a reply.

Each kind of trouble has a short fixed code. A suggestion is made only where one repair is obvious; nothing is
ever repaired in silence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from gapmap.columns import NO_SQUARE
from gapmap.grid.lettering import QUADRANTS, lookup_of_zone, lookups_of, number_of_letters
from gapmap.grid.reading import read
from gapmap.grid.squares import SIDES, parent, unpack
from gapmap.grid.systems import SYSTEMS, system_of
from gapmap.grid.tidying import is_two_things, plain_text, tidy
from gapmap.grid.utm import BANDS, zone_limits
from gapmap.grid.writing import write

Zones = tuple[tuple[int, str], ...]

#: Every code, and what it stands for.
CODES = {
    "empty": "the cell is empty",
    "coordinates": "latitude and longitude, or easting and northing, stand where a reference should",
    "two-references": "two references in one cell, or a range",
    "other-alphabet": "a letter that only looks like one of A to Z",
    "no-letters": "digits without the letters of a 100 km square",
    "not-a-reference": "words, or nothing that has the form of a reference",
    "letter-i": "the letter I, which no 100 km square has",
    "unknown-letters": "letters that no square of this grid has",
    "odd-digits": "an odd number of digits",
    "uneven-digits": "a gap that does not halve the digits",
    "too-many-digits": "more digits than a 1 m square has",
    "letter-for-digit": "a letter O, I or L among the digits",
    "digit-for-letter": "a digit 0 in place of the letter O",
    "tetrad-letter": "O as a tetrad letter",
    "suffix-letters": "letters after the digits that name no part of a hectad",
    "suffix-length": "a tetrad letter or quadrant after anything but a hectad",
    "no-zone": "a UTM code without its zone, and no zone given that it fits",
    "two-zones": "a UTM code without its zone that fits several of the zones given",
    "zone": "a UTM zone or band that does not exist",
    "outside-zone": "a UTM square that lies outside its zone",
    "outside-grid": "coordinates beyond the limits of the grid",
    "size": "a square size that squares cannot have",
    "not-a-corner": "coordinates that are no corner of a square of that size",
    "other-grid": "a good reference of another grid than the one the area is held to",
}


@dataclass(frozen=True)
class Trouble:
    """What is wrong with one value."""

    code: str
    sentence: str
    suggestion: str = ""


@dataclass(frozen=True)
class _Case:
    """One value on its way through the questions: as found, tidied, and what it is held to."""

    found: str
    tidied: str
    system: str
    zones: Zones
    elsewhere: int = NO_SQUARE

    @property
    def shown(self) -> str:
        """The value as found, shortened."""
        one_line = " ".join(self.found.split())
        return one_line if len(one_line) <= 60 else one_line[:59] + "…"


def explain(texts: Sequence[str], system: str = "", zones: Zones = ()) -> list[Trouble]:
    """Say why each value could not be read.

    Parameters
    ----------
    texts
        Values that reading.read gave no square for.
    system, zones
        What they were held to.

    Examples
    --------
    >>> [trouble] = explain(["OR4768P"])
    >>> trouble.code, trouble.suggestion
    ('suffix-length', 'write OR46P for the tetrad or OR4768 without it, whichever is meant')
    """
    anywhere = read(tidy(texts), "", zones) if system else np.full(len(texts), NO_SQUARE)
    seen: dict[str, Trouble] = {}
    for text, square in zip(texts, anywhere.tolist(), strict=True):
        if text not in seen:
            seen[text] = _trouble(text, system, zones, square)
    return [seen[text] for text in texts]


def _trouble(text: str, system: str, zones: Zones, elsewhere: int) -> Trouble:
    tidied = re.sub(r"[^A-Z0-9]", "", (plain_text(text) or "").upper())
    case = _Case(text, tidied, system, zones, elsewhere)
    for question in _QUESTIONS:
        trouble = question(case)
        if trouble is not None:
            return trouble
    return Trouble("not-a-reference", f"{case.shown} does not have the form of a grid reference.")


def _is_empty(case: _Case) -> Trouble | None:
    return None if case.found.strip() else Trouble("empty", "The grid reference is missing.")


def _is_of_other_alphabet(case: _Case) -> Trouble | None:
    if plain_text(case.found) is not None:
        return None
    strange = next(c for c in case.found if c.isalnum() and plain_text(c) is None)
    alike = case.found.upper().translate(_LOOKALIKES)
    return Trouble(
        "other-alphabet", f"{case.shown} holds the character {strange}, which is none of A to Z or 0 to 9.",
        f"type it again as {alike}" if _reads(alike, case) else "",
    )


def _is_of_other_grid(case: _Case) -> Trouble | None:
    if case.elsewhere == NO_SQUARE or (case.system == "utm" and re.match("[A-Z]{2}[0-9]", case.tidied)):
        return None
    title = system_of(int(unpack(case.elsewhere)[0])).title
    return Trouble(
        "other-grid", f"{case.shown} is a reference of another grid ({title}); here references are {_GRID[case.system]}.",
        "leave the setting for the grid empty if both are in use",
    )


def _is_two_references(case: _Case) -> Trouble | None:
    parts = [part for part in _BETWEEN.split(case.found) if part]
    if len(parts) < 2 and (glued := _GLUED.fullmatch(case.tidied)):
        parts = list(glued.groups())
    squares = read(tidy(parts), case.system, case.zones) if len(parts) > 1 else np.zeros(0, dtype=np.int64)
    if (squares != NO_SQUARE).sum() < 2 and not is_two_things(case.found):
        return None
    holder = _common_parent(squares[squares != NO_SQUARE])
    return Trouble(
        "two-references", f"{case.shown} holds more than one reference, or a range.",
        "give each its own row" + (f", or write {holder}, which holds them all" if holder else ""),
    )


def _is_coordinates(case: _Case) -> Trouble | None:
    if _DEGREES.search(case.found):
        return Trouble(
            "coordinates", f"{case.shown} looks like latitude and longitude, not a grid reference.",
            "put them into columns headed latitude and longitude",
        )
    if re.fullmatch(r"\W*\d{5,7}(\.\d+)?\W+\d{5,7}(\.\d+)?\W*", case.found):
        return Trouble(
            "coordinates", f"{case.shown} looks like an easting and a northing, not a grid reference.",
            "put them into columns headed easting and northing",
        )
    return None


def _is_without_letters(case: _Case) -> Trouble | None:
    if not case.tidied.isdigit():
        return None
    return Trouble(
        "no-letters", f"{case.shown} has digits but not the letters of its 100 km square.",
        "write the letters of the 100 km square before the digits",
    )


def _is_european(case: _Case) -> Trouble | None:
    match = _EUROPEAN.fullmatch(case.tidied)
    if match is None:
        return None
    side = int(match["size"]) * (1000 if match["unit"] == "KM" else 1)
    if side not in SIDES:
        sizes = ", ".join(f"{s // 1000}km" if s >= 1000 else f"{s}m" for s in sorted(SIDES))
        return Trouble("size", f"{case.shown} has a square size that squares cannot have.", f"use one of {sizes}")
    zeros = "" if match["long"] else "0" * (len(str(side)) - len(str(side).rstrip("0")))
    metres = {match["axis"]: int(match["one"] + zeros), match["other"]: int(match["two"] + zeros)}
    europe = SYSTEMS[4]
    if set(metres) == {"E", "N"} and (metres["E"] >= europe.east or metres["N"] >= europe.north):
        return Trouble("outside-grid", f"{case.shown} lies beyond the European grid.", "count its digits")
    if set(metres) == {"E", "N"} and any(value % side for value in metres.values()):
        return Trouble("not-a-corner", f"{case.shown} is no corner of a square of that size.")
    return None


def _has_mixed_up_o(case: _Case) -> Trouble | None:
    match = re.fullmatch(r"([0-9]{1,2}[A-Z]{3}|[A-Z]{1,2})([0-9OIL]*[OIL][0-9OIL]*)", case.tidied)
    if match and _reads(repaired := match[1] + match[2].translate(_DIGITS_MEANT), case):
        letter = next(c for c in match[2] if c in "OIL")
        sentence = f"{case.shown} has the letter {letter} among its digits."
        return Trouble("letter-for-digit", sentence, f"perhaps {repaired} is meant")
    repaired = case.tidied[:2].replace("0", "O") + case.tidied[2:]
    if "0" in case.tidied[:2] and case.tidied[:2] != "00" and repaired[:2].isalpha() and _reads(repaired, case):
        sentence = f"{case.shown} has the digit 0 among its letters."
        return Trouble("digit-for-letter", sentence, f"perhaps {repaired} is meant")
    return None


def _has_wrong_letters(case: _Case) -> Trouble | None:
    match = _FORM.fullmatch(case.tidied)
    if match is None or (not match["digits"] and len(match["letters"]) > 2 and not match["zone"]):
        return None
    if match["zone"]:
        return _has_wrong_zone(case, match)
    letters = match["letters"]
    lookup = lookups_of(case.system, case.zones).get(len(letters))
    if lookup is not None and lookup.key[number_of_letters(letters)] > 0:
        return None
    if case.system == "utm" or (case.zones and len(letters) != 1):
        return _lacks_its_zone(case, letters)
    if "I" in letters and len(letters) < 3:
        rest = case.tidied[1:]
        irish = letters[0] == "I" and len(letters) == 2 and case.system in ("", "irish") and _reads(rest, case)
        return Trouble(
            "letter-i", f"{case.shown} has the letter I, which no 100 km square has.",
            f"if it is Irish, write {rest}" if irish else "look at it again: I is easily misread for J or L",
        )
    squares = f"no 100 km square {letters}" if len(letters) < 3 else f"no 100 km square with the letters {letters}"
    return Trouble("unknown-letters", f"{case.shown}: {_GRID[case.system]} squares have {squares}.".replace(
        "squares have no", "references know no"))


def _has_wrong_zone(case: _Case, match: re.Match[str]) -> Trouble | None:
    letters, zone = match["letters"], int(match["zone"])
    if case.system not in ("", "utm"):
        return None
    if len(letters) == 2:
        bands = [band for number, band in case.zones if number == zone]
        repaired = f"{zone}{bands[0]}{case.tidied[len(match['zone']):]}" if len(bands) == 1 else ""
        return Trouble(
            "zone", f"{case.shown} has a UTM zone number but no letter for its latitude band.",
            f"perhaps {repaired} is meant" if repaired and _reads(repaired, case) else "write the zone as in 31U",
        )
    if len(letters) != 3:
        return None
    band, square = letters[0], letters[1:]
    if not 1 <= zone <= 60 or band not in BANDS or zone_limits(zone, band) is None:
        return Trouble(
            "zone", f"{case.shown} names the UTM zone {zone}{band}, which does not exist.",
            "zones run from 1 to 60 and bands from C to X without I and O",
        )
    lookup = lookup_of_zone(zone, band)
    if lookup is not None and lookup.key[number_of_letters(square)] > 0:
        return None
    return Trouble("unknown-letters", f"{case.shown}: the UTM zone {zone}{band} has no 100 km square {square}.")


def _lacks_its_zone(case: _Case, letters: str) -> Trouble | None:
    given = ", ".join(f"{zone}{band}" for zone, band in case.zones)
    if not given:
        return Trouble(
            "no-zone", f"{case.shown} does not say which UTM zone it lies in.",
            "write the zone before it, as in 31UDS6858, or name the zones of the area",
        )
    fitting = [
        f"{zone}{band}" for zone, band in case.zones
        if len(letters) == 2 and (lookup := lookup_of_zone(zone, band)) is not None
        and lookup.key[number_of_letters(letters)] > 0
    ]
    if len(fitting) > 1:
        return Trouble(
            "two-zones", f"{case.shown} could lie in any of the UTM zones {', '.join(fitting)}.",
            "write the zone before it: " + " or ".join(f"{zone}{case.tidied}" for zone in fitting),
        )
    return Trouble(
        "no-zone", f"{case.shown} has no UTM zone, and none of the zones given ({given}) has a 100 km square {letters}.",
        "write the zone before it, as in 31UDS6858",
    )


def _has_wrong_digits(case: _Case) -> Trouble | None:
    match = _FORM.fullmatch(case.tidied)
    if match is None or len(match["letters"]) > 3 or match["suffix"] in ("KM", "M"):
        return None
    digits, before = match["digits"], match["zone"] + match["letters"]
    groups = re.findall("[0-9]+", case.found[_end_of_letters(case.found, before):])
    if len(groups) == 2 and len(groups[0]) != len(groups[1]):
        width = max(len(group) for group in groups)
        repaired = before + "".join(group.zfill(width) for group in groups) + match["suffix"]
        return Trouble(
            "uneven-digits", f"{case.shown} has a gap that does not halve its digits ({groups[0]} and {groups[1]}).",
            f"perhaps {repaired} is meant, if leading zeros were lost" if _reads(repaired, case) else "",
        )
    if len(digits) % 2:
        return Trouble(
            "odd-digits",
            f"{case.shown} has an odd number of digits ({len(digits)}), so its two halves cannot be told apart.",
            "a digit is missing or one is too many: ask for the reference again",
        )
    if len(digits) > 10:
        return Trouble(
            "too-many-digits", f"{case.shown} has {len(digits)} digits; a 1 m square has 10, and nothing is finer.",
            "leave off the last digits of both halves",
        )
    if len(groups) > 2 and _reads(case.tidied, case):
        return Trouble(
            "uneven-digits", f"{case.shown} has several gaps between its digits.", f"perhaps {case.tidied} is meant",
        )
    return None


def _has_wrong_suffix(case: _Case) -> Trouble | None:
    match = _FORM.fullmatch(case.tidied)
    if match is None or not match["suffix"] or not match["digits"] or len(match["suffix"]) > 2:
        return None
    digits, suffix, before = match["digits"], match["suffix"], match["zone"] + match["letters"]
    if suffix == "KM":
        return Trouble(
            "size", f"{case.shown} is no square of that size.",
            "squares of 20 and 50 km are written as their south-western hectad, such as OR46-20km",
        )
    kind = "tetrad" if len(suffix) == 1 else "quadrant"
    if len(digits) != 2:
        half = len(digits) // 2
        hectad = before + digits[0] + digits[half]
        return Trouble(
            "suffix-length", f"{case.shown} has {suffix} after {len(digits)} digits; a {kind} needs just two.",
            f"write {hectad}{suffix} for the {kind} or {before}{digits} without it, whichever is meant",
        )
    if suffix == "O":
        return Trouble(
            "tetrad-letter", f"{case.shown} ends in O, which no tetrad has (they run from A to Z without O).",
            "ask which tetrad is meant",
        )
    if len(suffix) == 2 and suffix not in QUADRANTS:
        return Trouble(
            "suffix-letters", f"{case.shown} ends in {suffix}, which names no part of a hectad.",
            "quadrants are NW, NE, SW and SE; tetrads have one letter",
        )
    return None


def _is_outside_its_zone(case: _Case) -> Trouble | None:
    match = _FORM.fullmatch(case.tidied)
    if match is None or case.system not in ("", "utm") or not (match["zone"] or case.zones):
        return None
    zone = f"zone {match['zone']}" if match["zone"] else "the zone its letters belong to"
    return Trouble("outside-zone", f"{case.shown} lies outside {zone}.", "give it in the zone it lies in")


_QUESTIONS: tuple[Callable[[_Case], Trouble | None], ...] = (
    _is_empty, _is_of_other_alphabet, _is_of_other_grid, _is_coordinates, _is_two_references, _is_without_letters,
    _is_european, _has_mixed_up_o, _has_wrong_letters, _has_wrong_digits, _has_wrong_suffix, _is_outside_its_zone,
)

_GRID = {
    "": "British, Irish", "british": "British", "irish": "Irish", "channel": "Channel Islands",
    "europe": "European", "utm": "UTM",
}
_FORM = re.compile(r"(?P<zone>[0-9]{0,2})(?P<letters>[A-Z]{1,})(?P<digits>[0-9]*)(?P<suffix>[A-Z]*)")
_EUROPEAN = re.compile(
    r"(?P<long>CRS3035RES)?(?P<size>[0-9]{1,6})(?P<unit>K?M)(?P<axis>[EN])(?P<one>[0-9]{1,7})(?P<other>[EN])(?P<two>[0-9]{1,7})"
)
_GLUED = re.compile(r"([A-Z]{1,2}[0-9]{2,10}[A-Z]{0,2}?)([A-Z]{1,2}[0-9]{2,10}[A-Z]{0,2})")
_BETWEEN = re.compile(r"[,;&+|/\s]+(?:(?:and|to|or)\s+)?|\s*[–—-]\s*(?=[A-Za-z])")
_DEGREES = re.compile(
    r"°|º|[0-9]+[.,][0-9]{2,}\s*[NSEW]\b|^\s*[-+]?[0-9]{1,3}[.,][0-9]{2,}[,;\s]+[-+]?[0-9]{1,3}[.,][0-9]{2,}\s*$"
)
_LOOKALIKES = str.maketrans("АВЕКМНОРСТХУІЈЅΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTXYIJSABEZHIKMNOPTYX")
_DIGITS_MEANT = str.maketrans("OIL", "011")


@cache
def _reads_as(text: str, system: str, zones: Zones) -> bool:
    return bool(read(tidy([text]), system, zones)[0] != NO_SQUARE)


def _reads(text: str, case: _Case) -> bool:
    return _reads_as(text, case.system, case.zones)


def _common_parent(squares: np.ndarray) -> str:
    """Reference of the smallest square that holds them all; empty when there is none."""
    for side in (1_000, 10_000, 100_000) if len(squares) else ():
        holders = np.unique(parent(squares, side))
        if len(holders) == 1 and holders[0] != NO_SQUARE:
            return str(write(holders)[0])
    return ""


def _end_of_letters(found: str, before: str) -> int:
    """Where the digits begin in a value as found, past its zone and letters."""
    wanted, place = len(before), 0
    for place, character in enumerate(found):
        if not wanted:
            return place
        wanted -= character.isalnum()
    return place + 1
