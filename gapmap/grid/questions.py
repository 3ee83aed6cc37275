"""Questions about the parts of a lettered reference: zone, letters, digits, suffix.

Each takes one value that could not be read and answers what is wrong with that part, or None.
"""

from __future__ import annotations

import re

from gapmap.grid.lettering import QUADRANTS, TETRADS, lookup_of_zone, lookups_of, number_of_letters
from gapmap.grid.troubles import Case, Trouble
from gapmap.grid.utm import BANDS, zone_limits

_FORM = re.compile(r"(?P<zone>[0-9]{0,2})(?P<letters>[A-Z]+)(?P<digits>[0-9]*)(?P<suffix>[A-Z]*)")
_DIGITS_MEANT = str.maketrans("OIL", "011")


def has_mixed_up_zero(case: Case) -> Trouble | None:
    """A letter among the digits, or a 0 among the letters, where the other way round would read.

    Examples
    --------
    >>> has_mixed_up_zero(Case("OR4O", "OR4O", "", ())).suggestion
    'perhaps OR40 is meant'
    """
    match = re.fullmatch(r"([0-9]{1,2}[A-Z]{3}|[A-Z]{1,2})([0-9OIL]*[OIL][0-9OIL]*)", case.tidied)
    if match and case.reads(repaired := match[1] + match[2].translate(_DIGITS_MEANT)):
        letter = next(c for c in match[2] if c in "OIL")
        sentence = f"{case.shown} has the letter {letter} among its digits."
        return Trouble("letter-for-digit", sentence, f"perhaps {repaired} is meant")
    first, rest = case.tidied[:2], case.tidied[2:]
    repaired = first.replace("0", "O") + rest
    if "0" in first and first != "00" and repaired[:2].isalpha() and case.reads(repaired):
        sentence = f"{case.shown} has the digit 0 among its letters."
        return Trouble("digit-for-letter", sentence, f"perhaps {repaired} is meant")
    return None


def has_wrong_letters(case: Case) -> Trouble | None:
    """Letters that mean no 100 km square, or lack their zone.

    Examples
    --------
    >>> has_wrong_letters(Case("IH47", "IH47", "", ())).suggestion
    'if it is Irish, write H47'
    """
    match = _FORM.fullmatch(case.tidied)
    if match is None or len(match["letters"]) > 3:
        return None
    if not (match["digits"] or match["zone"] or len(match["letters"]) <= 2):
        return None
    if match["zone"]:
        return _has_wrong_zone(case, match)
    letters = match["letters"]
    lookup = lookups_of(case.system, case.zones).get(len(letters))
    if lookup is not None and lookup.key[number_of_letters(letters)] > 0:
        return None
    if case.system == "utm" or (case.zones and len(letters) == 2):
        return _lacks_its_zone(case, letters)
    if case.system == "" and len(letters) == 3 and letters[0] in BANDS:
        return _lacks_its_zone(case, letters)
    if "I" in letters and len(letters) < 3:
        rest = case.tidied[1:]
        irish = len(letters) == 2 and letters[0] == "I" and case.system in ("", "irish") and case.reads(rest)
        return Trouble(
            "letter-i", f"{case.shown} has the letter I, which no 100 km square has.",
            f"if it is Irish, write {rest}" if irish else "look at it again: I is easily misread for J or L",
        )
    return Trouble(
        "unknown-letters", f"{case.shown} begins with {letters}, which names no 100 km square of the grid.",
    )


def has_wrong_digits(case: Case) -> Trouble | None:
    """Digits that cannot be halved, or too many of them.

    Examples
    --------
    >>> has_wrong_digits(Case("NT 2 577", "NT2577", "", ())).suggestion
    'perhaps NT002577 is meant, if leading zeros were lost'
    """
    match = _FORM.fullmatch(case.tidied)
    if match is None or not match["digits"] or len(match["letters"]) > 3 or match["suffix"] in ("KM", "M"):
        return None
    digits, before = match["digits"], match["zone"] + match["letters"]
    groups = re.findall("[0-9]+", case.found[_end_of(case.found, before) :])
    if len(groups) == 2 and len(groups[0]) != len(groups[1]):
        width = max(len(group) for group in groups)
        repaired = before + "".join(group.zfill(width) for group in groups) + match["suffix"]
        return Trouble(
            "uneven-digits",
            f"{case.shown} has a gap that does not halve its digits ({groups[0]} and {groups[1]}).",
            f"perhaps {repaired} is meant, if leading zeros were lost" if case.reads(repaired) else "",
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
    if len(groups) > 2 and case.reads(case.tidied):
        return Trouble(
            "uneven-digits", f"{case.shown} has several gaps between its digits.",
            f"perhaps {case.tidied} is meant",
        )
    return None


def has_wrong_suffix(case: Case) -> Trouble | None:
    """A tetrad letter, quadrant or size that cannot stand where it stands.

    Examples
    --------
    >>> has_wrong_suffix(Case("OR47O", "OR47O", "", ())).code
    'tetrad-letter'
    """
    match = _FORM.fullmatch(case.tidied)
    if match is None or not match["digits"] or not 1 <= len(match["suffix"]) <= 2:
        return None
    digits, suffix, before = match["digits"], match["suffix"], match["zone"] + match["letters"]
    if suffix == "KM":
        return Trouble(
            "size", f"{case.shown} is no square of that size.",
            "squares of 20 and 50 km are written as their south-western hectad, such as OR46-20km",
        )
    kind = "tetrad" if len(suffix) == 1 else "quadrant"
    if len(digits) != 2:
        hectad = before + digits[0] + digits[len(digits) // 2]
        known = suffix in QUADRANTS or (kind == "tetrad" and suffix in TETRADS)
        return Trouble(
            "suffix-length", f"{case.shown} has {suffix} after {len(digits)} digits; a {kind} has just two.",
            f"write {hectad}{suffix} for the {kind} or {before}{digits} without it, whichever is meant"
            if known else "",
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


def is_outside_its_zone(case: Case) -> Trouble | None:
    """A UTM square with nothing inside its zone.

    Examples
    --------
    >>> is_outside_its_zone(Case("31UGS9999", "31UGS9999", "", ())).sentence
    '31UGS9999 lies outside zone 31.'
    """
    match = _FORM.fullmatch(case.tidied)
    if match is None or not match["digits"] or case.system not in ("", "utm"):
        return None
    if not (match["zone"] or case.zones) or len(match["letters"]) != (3 if match["zone"] else 2):
        return None
    zone = f"zone {match['zone']}" if match["zone"] else "the UTM zone its letters belong to"
    return Trouble("outside-zone", f"{case.shown} lies outside {zone}.", "give it in the zone it lies in")


def _has_wrong_zone(case: Case, match: re.Match[str]) -> Trouble | None:
    letters, zone = match["letters"], int(match["zone"])
    if case.system not in ("", "utm"):
        return None
    if len(letters) == 2:
        bands = {band for number, band in case.zones if number == zone}
        repaired = f"{zone}{''.join(bands)}{case.tidied[len(match['zone']) :]}"
        return Trouble(
            "zone", f"{case.shown} has a UTM zone number but no letter for its latitude band.",
            f"perhaps {repaired} is meant" if case.reads(repaired) else "write the zone as in 31U",
        )
    if len(letters) != 3:
        return None
    band, square = letters[0], letters[1:]
    if not 1 <= zone <= 60 or band not in BANDS or zone_limits(zone, band) is None:
        return Trouble(
            "zone", f"{case.shown} names the UTM zone {zone}{band}, which does not exist.",
            "zones run from 1 to 60 and bands from C to X without I and O",
        )
    if _has_hundred(zone, band, square):
        return None
    return Trouble(
        "unknown-letters", f"{case.shown} names the 100 km square {square}, which UTM zone {zone}{band} has not."
    )


def _lacks_its_zone(case: Case, letters: str) -> Trouble:
    given = ", ".join(f"{zone}{band}" for zone, band in case.zones)
    fitting = [f"{zone}{band}" for zone, band in case.zones if _has_hundred(zone, band, letters)]
    if not given:
        return Trouble(
            "no-zone", f"{case.shown} does not say which UTM zone it lies in.",
            "write the zone before it, as in 31UDS6858, or name the zones of the area",
        )
    if len(fitting) > 1:
        return Trouble(
            "two-zones", f"{case.shown} could lie in any of the UTM zones {', '.join(fitting)}.",
            "write the zone before it: " + " or ".join(f"{zone}{case.tidied}" for zone in fitting),
        )
    return Trouble(
        "no-zone",
        f"{case.shown} has no UTM zone, and none of the zones given ({given}) has a 100 km square {letters}.",
        "write the zone before it, as in 31UDS6858",
    )


def _has_hundred(zone: int, band: str, letters: str) -> bool:
    lookup = lookup_of_zone(zone, band)
    return lookup is not None and len(letters) == 2 and bool(lookup.key[number_of_letters(letters)] > 0)


def _end_of(found: str, before: str) -> int:
    """Where the digits begin in a value as found, past its zone and letters."""
    wanted = len(before)
    for place, character in enumerate(found):
        if not wanted:
            return place
        wanted -= character.isalnum()
    return len(found)
